"""Pairs of an instruction and its readback, faithful or with exactly one planted error."""

import random
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from pydantic import BaseModel, ConfigDict

from readback.judging.drafts import Draft, Planted
from readback.judging.mistakes import ErrorKind, may_hold, plant
from readback.judging.model import Outcome, Status
from readback.judging.movement import differ, movement_of
from readback.judging.replies import LEADING, can_be_answered
from readback.judging.rules import RuleBook, load_rules
from readback.judging.scenarios import Part, Wanted, draw_parts, list_scenarios
from readback.phraseology.forms import callsign_forms
from readback.phraseology.generator import say_call
from readback.phraseology.grammar import Grammar, load_grammar
from readback.phraseology.samples import random_callsign
from readback.phraseology.values import DIGITS, LETTERS

_STATION_CHANCE = 0.2
_CALLSIGN_FIRST_CHANCE = 0.3
_TRIES = 30
_VERDICTS = {
    Status.WRONG: Outcome.INCORRECT,
    Status.NOT_ISSUED: Outcome.INCORRECT,
    Status.MISSING: Outcome.INCOMPLETE,
}
_OPEN_WORDS = frozenset(DIGITS) | frozenset(LETTERS) | {"left", "right", "centre", "hundred"}
_MOVEMENTS = frozenset({"crossing", "departing", "landing", "passing", "pushing", "taxiing"})
"""What the other aircraft of a condition may be doing."""
_PARTICIPLES = frozenset(
    {"backtracking", "cancelling", "changing", "contacting", "continuing", "crossing", "entering"}
    | {"exiting", "expediting", "facing", "following", "giving", "lining", "listening"}
    | {"monitoring", "proceeding", "pushing", "slowing", "squawking", "stopping", "switching"}
    | {"taking", "taxiing", "towing", "turning", "vacating"}
)
_REPORTING = frozenset({"report", "contact", "monitor"})
_REPORTED = frozenset(
    {"airborne", "clear", "established", "hold", "holding", "in", "on", "passing", "push", "ready"}
    | {"vacated", "when"}
)
_CREW = ("ground cockpit", "headset cockpit", "cockpit ground", "flight deck ground crew")


class Pair(BaseModel):
    """An instruction, what came back, and what is to be found."""

    model_config = ConfigDict(frozen=True)

    instruction: str
    readback: str
    authority: str
    error: ErrorKind | None = None
    """What is wrong with the readback; None where it is faithful."""
    call: str | None = None
    """The call at which the error is to be found."""
    element: str | None = None
    """Its element; None where the whole call is meant."""
    status: Status | None = None
    """What is to be found there."""
    verdict: Outcome = Outcome.CORRECT
    """What is to be told."""


def make_pairs(count: int, seed: int, authority: str = "icao") -> Iterator[Pair]:
    """Make pairs, every other one with an error; every kind of error as often as the next.

    What counts as an error is read from the authority's rules: what may be left out is no error.

    Args:
        count: How many.
        seed: Equal seeds make equal pairs.
        authority: ``icao``, ``easa``, ``faa`` or ``uk``.

    Raises:
        InputError: No such authority.
    """
    maker = _Maker(load_grammar(), load_rules(authority), random.Random(f"{seed} {authority}"))
    for number in range(count):
        yield maker.erring(number // 2) if number % 2 else maker.faithful()


class _Maker:
    """Makes the pairs of one authority."""

    def __init__(self, grammar: Grammar, rules: RuleBook, rng: random.Random) -> None:
        self._grammar = grammar
        self._rules = rules
        self._rng = rng
        self._scenarios = _scenarios(grammar, rules)
        self._roomy = _by_kind(grammar, rules)
        self._moving: dict[str, Mapping[str, str]] = {}
        """What the other aircraft of the instruction does; the readback has it do nothing else."""

    def faithful(self) -> Pair:
        draft = self._draft(self._scenarios)
        return self._pair(draft, draft.planted(draft.reply()))

    def erring(self, number: int) -> Pair:
        """Make a pair with the next kind of error that the authority's rules know."""
        kinds = list(ErrorKind)
        for offset in range(len(kinds)):
            kind = kinds[(number + offset) % len(kinds)]
            for _ in range(_TRIES if self._roomy[kind] else 0):
                draft = self._draft(self._roomy[kind])
                planted = plant(kind, draft)
                if planted is not None:
                    return self._pair(draft, planted, kind)
        raise AssertionError("no kind of error can be planted")

    def _draft(self, scenarios: Sequence[Wanted]) -> Draft:
        parts = draw_parts(self._rng.choice(scenarios), self._grammar, self._rng)
        on_ramp = any(self._grammar.calls[part.call].family == "interphone" for part in parts)
        callsign = None if on_ramp else random_callsign(self._rng)
        return Draft(parts, callsign, self._grammar, self._rules, self._rng)

    def _pair(self, draft: Draft, planted: Planted, kind: ErrorKind | None = None) -> Pair:
        fault = planted.fault
        return Pair(
            instruction=self._instruction(draft),
            readback=self._readback(planted, draft.callsign),
            authority=self._rules.authority,
            error=kind,
            call=fault.call if fault else None,
            element=fault.element if fault else None,
            status=fault.status if fault else None,
            verdict=_VERDICTS[fault.status] if fault else Outcome.CORRECT,
        )

    def _instruction(self, draft: Draft) -> str:
        self._moving.clear()
        said = [self._call(draft.callsign)] if draft.callsign else []
        if self._rng.random() < _STATION_CHANCE:
            said.append("port ellery ground" if draft.callsign else self._rng.choice(_CREW))
        return self._text(said, draft.issued, ordering=True)

    def _readback(self, planted: Planted, addressed: str | None) -> str:
        if planted.callsign is None:
            return self._text([], _reports_last(planted.reply))
        callsign = self._call(planted.callsign)
        if not planted.reply:
            return callsign
        reply = _reports_last(planted.reply)
        text = self._text([], reply)
        # Letters after a route or a number would go on with it; "tug, tug nine" is a stumble.
        spelled = " " not in planted.callsign and planted.callsign != addressed
        joined = text.split()[-1] == callsign.split()[0]
        if spelled or joined or self._rng.random() < _CALLSIGN_FIRST_CHANCE:
            return self._text([callsign], reply)
        return f"{text}, {callsign}"

    def _call(self, callsign: str) -> str:
        return self._rng.choice(callsign_forms(self._grammar, callsign, self._rules.authority))

    def _text(self, said: list[str], parts: Sequence[Part], *, ordering: bool = False) -> str:
        texts = list(said)
        unfit: frozenset[str] = frozenset()
        for part in parts:
            if texts:
                # A number would go on with the one before, a word said twice is a stumble.
                unfit = unfit | _OPEN_WORDS | {texts[-1].split()[-1]}
            texts.append(self._say(part, unfit, ordering))
            unfit = _movements(part.call)
        return ", ".join(texts)

    def _say(self, part: Part, unfit: frozenset[str], ordering: bool) -> str:
        """Say a part in words of which the first does not go on with what was said before.

        Where it is ordered, not in the words of an answer, if the grammar has others.
        """
        for _ in range(_TRIES):
            words = say_call(
                self._grammar, part.call, part.values, self._rng, self._rules.authority
            )
            moving = movement_of(words) if part.call in LEADING else {}
            as_said = ordering or not differ(moving, self._moving.get(part.call, {}))
            if words[0] not in unfit and as_said and not (ordering and _is_answer(words)):
                break
        if ordering and part.call in LEADING:
            self._moving[part.call] = moving
        return " ".join(words)


def _is_answer(words: Sequence[str]) -> bool:
    """Tell the participle of an answer: CROSSING, HOLDING but not HOLDING POINT."""
    return any(
        word in _PARTICIPLES or (word == "holding" and after not in ("point", "position"))
        for word, after in zip(words, [*words[1:], ""], strict=True)
    )


def _reports_last(parts: Sequence[Part]) -> list[Part]:
    """Put a hold before what it could be a part of: "will report holding short"."""
    return sorted(parts, key=lambda part: part.call in _REPORTING)


def _movements(call: str) -> frozenset[str]:
    """Words with which a call goes on: what the other aircraft does, when to report."""
    if call in LEADING:
        return _MOVEMENTS
    if call == "expedite":
        return frozenset({"taxi"})
    return _REPORTED if call in _REPORTING else frozenset()


@lru_cache(maxsize=8)
def _scenarios(grammar: Grammar, rules: RuleBook) -> tuple[Wanted, ...]:
    """List the instructions to which an answer is known."""
    calls = [call for call in grammar.calls if can_be_answered(call, rules)]
    return tuple(
        wanted
        for wanted in list_scenarios(grammar, calls)
        if all(rules.rule(call) is None or can_be_answered(call, rules) for call, _ in wanted)
    )


@lru_cache(maxsize=8)
def _by_kind(grammar: Grammar, rules: RuleBook) -> Mapping[ErrorKind, Sequence[Wanted]]:
    scenarios = _scenarios(grammar, rules)
    return {kind: [one for one in scenarios if may_hold(kind, one)] for kind in ErrorKind}
