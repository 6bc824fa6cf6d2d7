"""An instruction into whose readback a mistake is planted."""

import random
from collections.abc import Sequence
from dataclasses import dataclass

from readback.judging.model import Severity, Status
from readback.judging.replies import Kept, faithful_reply, judged_as
from readback.judging.rules import CallRule, RuleBook
from readback.judging.scenarios import Part
from readback.phraseology.grammar import Grammar


@dataclass(frozen=True)
class Fault:
    """Where an error is to be found, and as what."""

    call: str
    element: str | None
    status: Status


@dataclass(frozen=True)
class Planted:
    """A readback as it is to be said."""

    reply: tuple[Part, ...]
    callsign: str | None
    """None where no callsign is said."""
    fault: Fault | None = None


@dataclass(frozen=True)
class Draft:
    """What a mistake is planted into."""

    issued: tuple[Part, ...]
    callsign: str | None
    grammar: Grammar
    rules: RuleBook
    rng: random.Random

    def reply(self, keep: Kept = None) -> list[Part]:
        """Draw a faithful reply."""
        return list(faithful_reply(self.issued, self.grammar, self.rules, self.rng, keep))

    def planted(self, reply: Sequence[Part], fault: Fault | None = None) -> Planted:
        """Finish a readback; one without words says ROGER."""
        said = tuple(reply) or (() if self.callsign else (Part("roger"),))
        return Planted(said, self.callsign, fault=fault)

    def judged(self) -> list[tuple[int, Part, str, CallRule]]:
        """List the parts that count, in an order drawn by chance: index, part, call, rule."""
        found = []
        for index, part in enumerate(self.issued):
            call, rule = judged_as(part, self.rules)
            if rule is not None and rule.severity is not Severity.ADVISORY:
                found.append((index, part, call, rule))
        self.rng.shuffle(found)
        return found
