"""What other traffic does, where a call names it: from the left, on a two mile final, landing."""

from collections.abc import Mapping, Sequence

from readback.judging.items import Item
from readback.phraseology.model import Call, Element, Reading
from readback.phraseology.spelling import DIGITS
from readback.phraseology.words import canonical_tokens

_SIDES = frozenset({"left", "right"})
_PHASES = {
    "landing": "landing",
    "arriving": "landing",
    "inbound": "landing",
    "departing": "departing",
    "outbound": "departing",
}
_MILES = frozenset({"mile", "miles"})


def with_movement(
    instruction: Reading, issued: Item, readback: Reading, answered: Item
) -> tuple[Element, Element] | None:
    """Find out whether two calls that name the same traffic have it move differently.

    A side, a distance or a phase of flight that only one of them says is no difference.

    Returns:
        The traffic of both with its movement in the value, None where nothing differs.
    """
    ours, theirs = _traffic(issued), _traffic(answered)
    if ours is None or theirs is None:
        return None
    asked, said = _movement(instruction, ours[0]), _movement(readback, theirs[0])
    if not differ(asked, said):
        return None
    return _in_full(instruction, *ours), _in_full(readback, *theirs)


def movement_of(words: Sequence[str]) -> Mapping[str, str]:
    """Read what traffic does from the words of a call: ``{"side": "left", "phase": "landing"}``."""
    found: dict[str, str] = {}
    for at, word in enumerate(words):
        if word in _SIDES:
            # "Left to right" comes from the left.
            found.setdefault("side", word)
        elif word in _PHASES:
            found.setdefault("phase", _PHASES[word])
        elif word in _MILES and at and words[at - 1] in DIGITS:
            found.setdefault("distance", words[at - 1])
    return found


def differ(a: Mapping[str, str], b: Mapping[str, str]) -> bool:
    """Tell whether two movements say of the same thing something else."""
    return any(b.get(what, value) != value for what, value in a.items())


def _traffic(item: Item) -> tuple[Call, Element] | None:
    for call in item.calls:
        element = call.element("traffic")
        if element is not None:
            return call, element
    return None


def _movement(reading: Reading, call: Call) -> Mapping[str, str]:
    return movement_of(canonical_tokens(reading.words[call.span[0] : _end(reading, call)]))


def _end(reading: Reading, call: Call) -> int:
    """Where the call ends, with a side that the parser takes for another call: "on my left"."""
    for other in reading.calls:
        near = call.span[1] <= other.span[0] <= call.span[1] + 1
        if near and other.name == "visual":
            return other.span[1]
    return call.span[1]


def _in_full(reading: Reading, call: Call, element: Element) -> Element:
    span = (element.span[0], _end(reading, call))
    rest = canonical_tokens(reading.words[element.span[1] : span[1]])
    value = " ".join([element.value, *rest])
    return element.model_copy(update={"value": value, "span": span})
