"""Calls that stand in words which turn them round: denied, asked for, begun twice.

The parser passes over words that it does not know. Before a call some of them matter: NOT crossing
runway two seven is no crossing, CAN WE cross it no readback.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from readback.judging.findings import make_remark
from readback.judging.messages import name_of
from readback.judging.model import Finding, Severity
from readback.judging.rules import RuleBook
from readback.phraseology.model import Call, Element, Reading
from readback.phraseology.spelling import DIGITS, LETTERS
from readback.phraseology.words import canonical_tokens, canonical_words

Frame = Literal["denied", "asked", "wanted"]

DENYING = frozenset(
    "not never cannot won't wouldn't shouldn't couldn't didn't isn't aren't".split()
)
_ASKING: tuple[tuple[str, ...], ...] = tuple(
    tuple(words.split())
    for words in (
        "confirm",
        "verify",
        "can we",
        "may we",
        "could we",
        "should we",
        "shall we",
        "are we",
        "do we",
        "did you say",
        "do you want",
        "you want us to",
        "was that",
        "is that",
        "is it",
    )
)
_WANTING: tuple[tuple[str, ...], ...] = tuple(
    tuple(words.split())
    for words in (
        "ready to",
        "ready for",
        "waiting to",
        "waiting for",
        "request",
        "request to",
        "requesting",
        "requesting to",
        "expecting",
        "expecting to",
        "until",
        "until cleared to",
        "before",
        "unless",
        "if able",
        "past",
        "past the",
    )
)
_BARE_FRAMES = frozenset({"confirm", "ready", "report", "request", "filler", "okay"})
"""Calls that may stand inside such words, where they carry nothing themselves."""
_MOST_WORDS = 4
_ENTERING = frozenset({"cross", "enter_runway", "line_up"})
_STATES_OF_READINESS = frozenset(
    {"ready", "ready_for_push", "ready_for_push_statement", "ready_to_start", "vacated"}
)
_SIDES = frozenset({"left", "right", "centre"})
_SIGNS = _SIDES | frozenset(DIGITS) | frozenset(LETTERS)


@dataclass(frozen=True)
class Framed:
    """What of a transmission counts as said."""

    calls: tuple[Call, ...]
    """As they are to be judged, in the order spoken."""
    denied: tuple[Call, ...] = ()
    """Said not to be done, where nothing else says what is to be done instead."""
    asked: tuple[Call, ...] = ()
    """Asked about or for, or to come only later: not said."""


def framed(reading: Reading, *, answer: bool) -> Framed:
    """Tell which calls of a transmission were said as such.

    DO NOT CROSS, DO NOT ENTER and DO NOT LINE UP are a hold short; NOT READY is NEGATIVE.

    Args:
        reading: The transmission, parsed.
        answer: Whether it is a readback: a question is none. An instruction may ask and mean it,
            CONFIRM BRAKES SET, but REPORT READY TO CROSS and BEFORE CROSSING order no crossing.
    """
    kept: list[Call] = []
    denied: list[Call] = []
    asked: list[Call] = []
    for index, call in enumerate(reading.calls):
        frame = frame_of(reading, index)
        if frame == "denied":
            meant = _meant(call)
            if meant is None:
                denied.append(call)
            else:
                kept.append(meant)
        elif frame == "wanted" or (frame == "asked" and answer):
            asked.append(call)
        else:
            kept.append(call)
    calls = [_with_doubt(reading, call) for call in _completed(kept)]
    return Framed(tuple(calls), tuple(denied), tuple(asked))


def framing_findings(ordered: Framed, answered: Framed, rules: RuleBook) -> list[Finding]:
    """Say what of a readback was denied or asked; what is forbidden and not known is not judged.

    Args:
        ordered: Of the instruction.
        answered: Of the readback.
        rules: Tell whether an answer is due to what is forbidden.
    """
    turned = [(call, "was asked, not read back") for call in answered.asked]
    turned += [(call, "was denied, not read back") for call in answered.denied]
    found = [
        make_remark(call.name, f"{name_of(call.name, None)} {what}", call.span)
        for call, what in turned
    ]
    for call in ordered.denied:
        rule = rules.rule(call.name)
        if rule is not None and rule.answer != "none":
            what = f"not to {name_of(call.name, None)}: no answer to that is known here"
            weight = {"severity": Severity.REQUIRED, "instruction_span": call.span}
            found.append(make_remark(call.name, what).model_copy(update=weight))
    return found


def with_push_back(reading: Reading, calls: Sequence[Call]) -> Sequence[Call]:
    """Take PUSH BACK NOSE SOUTH, which the grammar has as a direction, for a push-back as well.

    Args:
        reading: The readback.
        calls: Its calls.
    """
    if any(call.name == "push_back" for call in calls):
        return calls
    return [
        said
        for call in calls
        for said in (
            (call.model_copy(update={"name": "push_back", "elements": ()}), call)
            if call.name == "push_direction" and _says_push(reading, call)
            else (call,)
        )
    ]


def _says_push(reading: Reading, call: Call) -> bool:
    return canonical_words(reading.words[call.span[0]].word)[:1] == ("push",)


def frame_of(reading: Reading, index: int) -> Frame | None:
    """Tell what the words before a call make of it; None where it is simply said."""
    call = reading.calls[index]
    # "I did not catch that, say again": standard words are not what is denied.
    if call.name in ("callsign", *_BARE_FRAMES) or call.family == "standard_words":
        return None
    words = _words_before(reading, index)
    if not DENYING.isdisjoint(words):
        return "denied"
    if any(words[-len(ending) :] == ending for ending in _WANTING):
        return "wanted"
    # "Are we cleared to cross": CLEARED TO is in the call or left over.
    if any(
        words[at : at + len(asking)] == asking for asking in _ASKING for at in range(len(words))
    ):
        return "asked"
    return None


def _words_before(reading: Reading, index: int) -> tuple[str, ...]:
    """Give the words before a call that belong to no other, the nearest last."""
    inside: dict[int, Call] = {place: call for call in reading.calls for place in range(*call.span)}
    slips = {place for slip in reading.slips for place in range(*slip.span)}
    words: list[str] = []
    for place in range(reading.calls[index].span[0] - 1, -1, -1):
        other = inside.get(place)
        bare = other is None or (other.name in _BARE_FRAMES and not other.elements)
        if not bare or place in slips or len(words) >= _MOST_WORDS:
            break
        if other is None or other.name not in ("filler", "okay"):
            words = [*canonical_words(reading.words[place].word), *words]
    return tuple(words)


def _meant(call: Call) -> Call | None:
    """Give the call that a denied one amounts to, None where there is none."""
    if call.name in _ENTERING:
        runways = tuple(element for element in call.elements if element.name == "runway")
        return call.model_copy(update={"name": "hold_short", "elements": runways})
    if call.name in _STATES_OF_READINESS:
        return call.model_copy(update={"name": "negative", "elements": ()})
    return None


def _completed(calls: Sequence[Call]) -> list[Call]:
    """Join a runway begun twice to the call that it was begun in: "runway 27, 27 left"."""
    joined: list[Call] = []
    for call in calls:
        before = joined[-1] if joined else None
        if before is not None and call.name == "runway" and before.span[1] == call.span[0]:
            begun, whole = before.element("runway"), call.element("runway")
            if begun is not None and whole is not None and _begins(begun, whole):
                span = (before.span[0], call.span[1])
                elements = tuple(whole if item is begun else item for item in before.elements)
                joined[-1] = before.model_copy(update={"span": span, "elements": elements})
                continue
        joined.append(call)
    return joined


def _begins(begun: Element, whole: Element) -> bool:
    return whole.value[:-1] == begun.value and whole.value[-1:].isalpha()


def _with_doubt(reading: Reading, call: Call) -> Call:
    """Doubt a value where another of its kind follows it: "27 left right", "27 left or right"."""
    last = call.elements[-1] if call.elements else None
    if last is None or call.name == "callsign" or last.span[1] != call.span[1]:
        return call
    if not any(span[0] == call.span[1] for span in reading.unparsed):
        return call
    following = canonical_tokens(reading.words[call.span[1] : call.span[1] + 2])
    alternative = following[:1] == ("or",) and following[1:2] and following[1] in _SIGNS
    other_side = last.kind == "runway" and following[:1] and following[0] in _SIDES
    if not (alternative or other_side):
        return call
    elements = (*call.elements[:-1], last.model_copy(update={"doubtful": True}))
    return call.model_copy(update={"elements": elements})
