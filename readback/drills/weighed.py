"""What was heard in a drill, weighed over all readings of its sound as `check` weighs them."""

from collections.abc import Callable

from readback.drills.matching import Heard, Matcher
from readback.judging.findings import outcome_of
from readback.judging.judge import judge
from readback.judging.model import Finding, Outcome, Said, Verdict
from readback.judging.weighing import Meaning, Weighing, least_accusing, least_heard, weigh
from readback.phraseology.model import Call, Reading

LeastCertainty = Callable[..., float]
"""Transmissions that are judged together -> how certain a verdict on them must be."""
Find = Callable[[Heard, float], tuple[Finding, ...]]
"""What was said, and the certainty of a value under which it is not judged -> what is wrong."""


class Scales:
    """Keeps what is certain enough.

    Args:
        matcher: Joins the calls of a reading.
        least_certainty: As `readback.drills.engine.DrillRun` takes it.
    """

    def __init__(self, matcher: Matcher, least_certainty: float | LeastCertainty) -> None:
        self._matcher = matcher
        self._least_certainty = least_certainty

    def least(self, *heard: Heard) -> float:
        """Tell how certain a verdict on these must be."""
        if callable(self._least_certainty):
            return self._least_certainty(*(one.transmission for one in heard))
        return self._least_certainty

    def answer(self, asked: Heard, heard: Heard, callsign: str | None) -> Verdict:
        """Judge a readback, as `readback.judging.check.check` does."""
        least, rules = self.least(asked, heard), self._matcher.rules
        if not asked.meanings and not heard.meanings:
            return judge(
                asked.reading, heard.reading, rules, callsign=callsign, least_certainty=least
            )
        return weigh(_all(asked), _all(heard), rules, callsign=callsign).verdict(least)

    def weigh(self, heard: Heard, find: Find, *, critical: bool = False) -> Verdict:
        """Judge what is no readback by what is found wrong with it.

        Args:
            heard: What was said.
            find: What is wrong with one reading of it.
            critical: Whether it may be passed with half the doubt only.

        Returns:
            `correct` where nothing counts against it, and what was found.
        """
        least = self.least(heard)
        if not heard.meanings:
            return self._found(heard.reading, find(heard, least))
        verdicts = [(one.probability, self._best_of(one, heard, find)) for one in heard.meanings]
        complete = not heard.meanings[0].unheard
        return Weighing(verdicts, complete=complete, critical=critical).verdict(least)

    def doubt(self, heard: Heard, call: Call) -> bool:
        """Tell whether it is too uncertain that a call of the best reading was said."""
        least, certainty = self.least(heard), call.certainty
        if not heard.meanings:
            return certainty is not None and certainty < least
        faint = certainty is not None and certainty < least_heard(least)
        return faint or not self.agree(heard, lambda one: _has(one.reading, call))

    def agree(self, heard: Heard, holds: Callable[[Heard], bool]) -> bool:
        """Tell whether something holds for so many readings that it may be held against anyone."""
        least = self.least(heard)
        if not heard.meanings or not least:
            return True
        share = sum(
            one.probability
            for one in heard.meanings
            if any(holds(self._take(heard, reading)) for reading in one.readings)
        )
        return share >= least_accusing(least)

    def _best_of(self, meaning: Meaning, heard: Heard, find: Find) -> Verdict:
        """Judge as a controller would: what sounds like the right words is taken for them."""
        verdicts = [
            self._found(reading, find(self._take(heard, reading), 0.0))
            for reading in meaning.readings
        ]
        right = (verdict for verdict in verdicts if verdict.verdict is Outcome.CORRECT)
        return next(right, verdicts[0])

    def _take(self, heard: Heard, reading: Reading) -> Heard:
        return self._matcher.hear(heard.station, reading, None)

    def _found(self, reading: Reading, findings: tuple[Finding, ...]) -> Verdict:
        return Verdict(
            verdict=outcome_of(findings),
            findings=findings,
            authority=self._matcher.rules.authority,
            instruction=Said(text=""),
            readback=Said.of(reading),
        )


def _all(heard: Heard) -> tuple[Meaning, ...]:
    return heard.meanings or (Meaning((heard.reading,), 1.0),)


def _has(reading: Reading, call: Call) -> bool:
    return any(_values(one) == _values(call) for one in reading.calls)


def _values(call: Call) -> tuple[str, frozenset[tuple[str, str]]]:
    return call.name, frozenset((element.name, element.value) for element in call.elements)
