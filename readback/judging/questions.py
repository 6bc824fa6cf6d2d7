"""Questions: CONFIRM, ARE THE BRAKES SET. Their answer may rightly differ, after NEGATIVE."""

from readback.judging.items import Item
from readback.judging.messages import name_of
from readback.phraseology.model import Call, Element, Reading
from readback.phraseology.words import canonical_words

_ASKING = frozenset({"confirm", "check", "verify", "are", "is"})


def is_question(reading: Reading, call: Call) -> bool:
    """Tell whether a call asks how things are rather than saying how they shall be."""
    if any(other.name == "confirm" and other.span[1] == call.span[0] for other in reading.calls):
        return True
    first = canonical_words(reading.words[call.span[0]].word)
    return bool(first) and first[0] in _ASKING


def asked_about(reading: Reading, confirm: Call) -> Call | None:
    """Give the call that a bare CONFIRM stands before, None where it stands alone."""
    for call in reading.calls:
        if call.span[0] == confirm.span[1]:
            return call
    return None


def answers_no(item: Item, instruction: Reading, readback: Reading, heard: Element) -> bool:
    """Tell whether another value rightly answers a question, NEGATIVE right before it.

    Source: ICAO Doc 9432, 4th edition 2007, 2.6: NEGATIVE is "no" or "that is not correct" (seen
    as quoted).
    """
    if not any(is_question(instruction, call) for call in item.calls):
        return False
    before = None
    for call in readback.calls:
        if call.span[0] <= heard.span[0] < call.span[1]:
            return before is not None and before.name == "negative"
        before = call
    return False


def say_no(item: Item, name: str, expected: Element, heard: Element) -> str:
    """Word the remark on such an answer."""
    return f"{name_of(item.name, name)} {expected.value} was asked: NEGATIVE, {heard.value}"
