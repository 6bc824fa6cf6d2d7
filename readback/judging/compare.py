"""Two elements compared as a controller would compare them."""

from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.model import Element
from readback.phraseology.values import KINDS, read_number, same_value

_MAKERS = frozenset({"boeing", "airbus"})
_TELLING_NOTHING = _MAKERS | {"the", "traffic", "aircraft"}
_LETTERS_OF_TYPES = frozenset({"bravo", "alfa"})


def same_element(a: Element, b: Element) -> bool:
    """Tell whether two elements say the same.

    Args:
        a: One side's.
        b: The other side's.

    Returns:
        True where a controller would take them for the same value.
    """
    if a.value == b.value:
        return True
    if a.kind == "callsign":
        return compare_callsigns(a.value, b.value) in ("same", "short")
    if a.kind == "traffic":
        return _same_traffic(a.value, b.value)
    return a.kind == b.kind and a.kind in KINDS and same_value(a.kind, a.value, b.value)


def _same_traffic(a: str, b: str) -> bool:
    """B747 and "Boeing 747" are one type; "the inbound traffic" and "inbound" are one aircraft."""
    (number, words), (other_number, other_words) = _type_of(a), _type_of(b)
    if number and other_number and number != other_number:
        return False
    makers, other_makers = _MAKERS & {*a.split()}, _MAKERS & {*b.split()}
    if makers and other_makers and makers != other_makers:
        return False
    first, second = (words | {number}) - {""}, (other_words | {other_number}) - {""}
    # Less is said, but nothing that differs: "the Larkspur Boeing", "the Boeing", "him".
    if not first or not second:
        return True
    return first <= second or second <= first


def _type_of(value: str) -> tuple[str, frozenset[str]]:
    """Give the number of a type, "" without one, and the words that tell it from another."""
    words = value.split()
    if len(words) > 3 and words[0] in _LETTERS_OF_TYPES:
        words = words[1:]
    figures = [word for word in words if read_number([word]) is not None]
    return read_number(figures) or "", frozenset(words) - _TELLING_NOTHING - frozenset(figures)
