"""What the program says for what is due: the published words where there are some."""

import random
from collections.abc import Iterator, Sequence
from itertools import islice, product

from readback.drills.matching import Matcher
from readback.drills.plan import Due, Expected, Plan
from readback.drills.signals import load_signals
from readback.drills.wording import ELEMENT, load_wording, plain_template
from readback.errors import GrammarError
from readback.judging.judge import judge
from readback.judging.model import Outcome
from readback.phraseology.forms import callsign_forms, value_forms
from readback.phraseology.generator import element_rules, say_call
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Reading
from readback.phraseology.parser import parse

_TRIES = 60
_STATION = "port ellery ground"


class Voice:
    """Says what is due.

    Args:
        plan: What is due.
        grammar: The calls.
        matcher: Makes sure that what is said is understood.
    """

    def __init__(self, plan: Plan, grammar: Grammar, matcher: Matcher) -> None:
        self._plan = plan
        self._grammar = grammar
        self._matcher = matcher
        self._authority = plan.setting.authority

    def say(
        self, due: Due, rng: random.Random | None = None, instruction: Reading | None = None
    ) -> str:
        """Say one thing that is due.

        Args:
            due: Of the plan.
            rng: Draws the wording; None takes the published words where there are some, and
                always the same.
            instruction: What it answers, as it was said; the answer is then a full readback.

        Raises:
            GrammarError: No wording of it is understood; names the step.
        """
        if due.signal is not None:
            return load_signals()[due.signal].name
        if due.words is not None:
            if not self._understood(due, due.words, None):
                raise GrammarError(
                    f"step {due.step}: its words do not say what is due.",
                    f"Mend {due.words!r}, or what it says.",
                )
            return due.words
        draw = rng or random.Random(f"{self._plan.seed} {due.number}")
        for text in self._drafts(due, draw, standard=rng is None):
            if self._understood(due, text, instruction):
                return text
        raise GrammarError(
            f"step {due.step}: the {due.part} cannot be said so that it is understood.",
            "Say it in fewer calls, or give words.",
        )

    def _drafts(self, due: Due, rng: random.Random, *, standard: bool) -> Iterator[str]:
        # What may be left out is said, or left out, as the instruction had it.
        usual = [self._usual(due, rng, optional=optional) for optional in (False, True)]
        if standard:
            yield from usual
        for _ in range(_TRIES):
            say = [one for one in due.say if not one.optional or rng.random() < 0.5]
            yield self._spoken(due, [self._drawn(one, rng) for one in say])
        yield from usual

    def _usual(self, due: Due, rng: random.Random, *, optional: bool) -> str:
        say = [one for one in due.say if optional or not one.optional]
        return self._spoken(due, [self._standard(one, due) or self._drawn(one, rng) for one in say])

    def _spoken(self, due: Due, parts: Sequence[str]) -> str:
        """Put the callsign where it belongs: first from the controller, last in an answer."""
        if due.callsign is None:
            return ", ".join(parts) if parts else "roger"
        callsign = callsign_forms(self._grammar, due.callsign, self._authority)[0]
        if due.station in ("controller", "instructor"):
            return ", ".join([callsign, *parts])
        if due.is_answer:
            return ", ".join([*parts, callsign])
        return ", ".join([_STATION, callsign, *parts])

    def _drawn(self, one: Expected, rng: random.Random) -> str:
        """Draw a wording, if need be until it has the word that it must have."""
        for _ in range(_TRIES):
            words = say_call(self._grammar, one.call, one.values, rng, self._authority)
            if one.is_said_by(words):
                return " ".join(words)
        return " ".join(words)

    def _standard(self, one: Expected, due: Due) -> str | None:
        """Say a call in usual words; None where none are known for just these values."""
        rule = self._matcher.rules.rule(one.call)
        published: tuple[str, ...] = ()
        if rule is not None:
            both = (rule.standard_answer if due.is_answer and rule.echo else None, rule.standard)
            published = tuple(plain_template(words) for words in both if words)
        for template in (*load_wording().get(one.call, ()), *published):
            text = self._filled(template, one)
            if text is not None:
                return text
        return None

    def _filled(self, template: str, one: Expected) -> str | None:
        """Fill in a template; None where it is not this call with just these values."""
        if {*ELEMENT.findall(template)} != {*one.values}:
            return None
        names = tuple(one.values)
        forms = [self._spoken_values(name, one.values[name]) for name in names]
        for spoken in islice(product(*forms), _TRIES):
            said = dict(zip(names, spoken, strict=True))
            text = template
            for name, words in said.items():
                text = text.replace(f"({name})", words)
            if self._is_just(text, one):
                return text
        return None

    def _is_just(self, text: str, one: Expected) -> bool:
        """Tell whether words say this call and nothing else."""
        if not one.is_said_by(text.split()):
            return False
        calls = parse(text, self._grammar).calls
        said = {element.name for call in calls for element in call.elements}
        return {call.name for call in calls} == {one.call} and said == {*one.values}

    def _spoken_values(self, element: str, value: str) -> list[str]:
        rules = element_rules(self._grammar, element)
        forms = [form for rule in rules for form in self._forms(rule, value)]
        return list(dict.fromkeys(forms)) or [value]

    def _forms(self, rule: str, value: str) -> tuple[str, ...]:
        return value_forms(self._grammar, rule, value, self._authority)

    def _understood(self, due: Due, text: str, instruction: Reading | None) -> bool:
        callsigns = (due.callsign,) if due.callsign else ()
        reading = parse(text, self._grammar, callsigns)
        heard = self._matcher.hear(due.station, reading, None)
        if due.say and self._matcher.findings(due, heard):
            return False
        if instruction is None or due.faulty:
            return True
        rules = self._matcher.rules
        verdict = judge(instruction, reading, rules, callsign=due.callsign)
        return verdict.verdict is Outcome.CORRECT
