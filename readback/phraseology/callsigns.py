"""Callsigns: read from words, shortened as the rules allow, compared.

Sources: ICAO Annex 10 Volume II, 5.2.1.7.2 (full and abbreviated callsigns; from memory); FAA AIM
4-2-4 (group form of flight numbers).
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from readback.phraseology.values import DIGITS, LETTERS, read_number
from readback.phraseology.words import spell


class SimilarCallsigns(NamedTuple):
    """Two callsigns of one roster that are easily taken for each other."""

    one: str
    other: str
    why: str
    source: str


_HEAVY = ("heavy", "super")
_PLACEHOLDERS = ("callsign", "vehicle")
# Printed examples write these for a callsign of any kind.


@lru_cache(maxsize=8192)
def read_callsign(words: tuple[str, ...]) -> str:
    """Write a callsign as a strip writes it.

    Args:
        words: The grammar's words: ``("larkspur", "four", "two", "one")``,
            ``("golf", "alfa", "bravo", "charlie", "delta")``, ``("tug", "nine")``.

    Returns:
        ``"LARKSPUR 421"``, ``"G-ABCD"``, ``"N1234A"``, ``"TUG 9"``.
    """
    words = tuple(word for word in words if word not in _HEAVY)
    if all(word in LETTERS or word in DIGITS for word in words):
        signs = "".join(LETTERS.get(word) or DIGITS[word] for word in words).upper()
        return f"{signs[0]}-{signs[1:]}" if signs.isalpha() and len(signs) > 2 else signs
    name: list[str] = []
    for at, word in enumerate(words):
        number = _number(words[at:])
        if number is not None:
            return " ".join([*name, number])
        name.append(word.upper())
    return " ".join(name)


def _number(words: Sequence[str]) -> str | None:
    letters = ""
    end = len(words)
    while end and words[end - 1] in LETTERS:
        letters = LETTERS[words[end - 1]].upper() + letters
        end -= 1
    digits = read_number(words[:end]) if end else None
    return digits + letters if digits is not None else None


@lru_cache(maxsize=1024)
def spoken_forms(callsign: str) -> tuple[tuple[str, ...], ...]:
    """The word forms in which a known callsign is recognised anywhere, in full and short.

    Args:
        callsign: From `read_callsign`.

    Returns:
        Word sequences, the full one first.
    """
    if " " in callsign:
        name, _, number = callsign.rpartition(" ")
        full = (*name.lower().split(), *spell(number))
        return (full, spell(number)) if len(number) > 1 else (full,)
    if callsign.lower() in _PLACEHOLDERS:
        return ((callsign.lower(),),)
    signs = callsign.replace("-", "")
    if len(signs) < 4:
        return (spell(signs),)
    return (spell(signs), spell(signs[0] + signs[-2:]), spell(signs[-3:]), spell(signs[-2:]))


@lru_cache(maxsize=1024)
def permitted_forms(callsign: str) -> tuple[tuple[str, ...], ...]:
    """The forms of `spoken_forms` that a rule permits: a callsign wherever they stand.

    Source: ICAO Annex 10 Volume II, 5.2.1.7.2.2 (first and last two signs of a registration; none
    for a flight number; from memory); FAA AIM 4-2-4 a2 (the last three signs of an N-registration).
    """
    forms = spoken_forms(callsign)
    if " " in callsign or len(forms) == 1:
        return forms[:1]
    return forms[:3] if callsign.startswith("N") and "-" not in callsign else forms[:2]


def compare_callsigns(addressed: str, heard: str) -> str:
    """Compare the callsign that came back with the one addressed.

    Args:
        addressed: From `read_callsign`, as the instruction had it.
        heard: From `read_callsign`, as the readback had it.

    Returns:
        ``"same"``; ``"short"`` where it is a recognised short form that the instruction did not
        use (G-CD for G-ABCD; 421 for LARKSPUR 421); ``"other"``.
    """
    if addressed == heard:
        return "same"
    if " " in addressed:
        _, _, number = addressed.rpartition(" ")
        if heard.replace(" ", "") == addressed.replace(" ", ""):
            return "same"
        return "number only" if heard.replace("-", "") == number else "other"
    full, short = addressed.replace("-", ""), heard.replace("-", "")
    if len(short) == 3 and len(full) > 3 and (short == full[0] + full[-2:] or short == full[-3:]):
        return "short"
    if len(short) == 2 and len(full) > 3 and short == full[-2:]:
        return "short"
    return "same" if full == short else "other"


def similar_callsigns(roster: Sequence[str]) -> list[SimilarCallsigns]:
    """Find the callsigns of one roster that are easily taken for each other.

    Args:
        roster: Callsigns from `read_callsign`, in any order; repeated ones count once.

    Returns:
        Each similar pair once, in the order of the roster, with the first reason that applies.

    Source: of each reason its own, in ``SimilarCallsigns.source``; ICAO Doc 4444, 15.7.6 has an
    aircraft told to change a similar callsign (from memory).
    """
    found = []
    for one, other in combinations(dict.fromkeys(roster), 2):
        for reason, source in _LIKENESSES:
            why = reason(one, other)
            if why is not None:
                found.append(SimilarCallsigns(one, other, why, source))
                break
    return found


_PRACTICE = "common practice, no source"
_ORDER = "FAA JO 7110.65, 2-4-9 and 2-4-15 (from memory)"


def _parts(callsign: str) -> tuple[str, str]:
    """Split into the operator's name (empty for a registration) and the rest without hyphen."""
    name, _, number = callsign.rpartition(" ")
    return name, number.replace("-", "")


def _same_number(one: str, other: str) -> str | None:
    (name_a, number_a), (name_b, number_b) = _parts(one), _parts(other)
    if name_a and name_b and number_a == number_b:
        return f"same number {number_a}"
    return None


def _same_short_form(one: str, other: str) -> str | None:
    if _parts(one)[0] or _parts(other)[0]:
        return None
    shared = set(permitted_forms(one)[1:]) & set(permitted_forms(other)[1:])
    return f"same short form {' '.join(sorted(shared)[0])}" if shared else None


def _swapped(one: str, other: str) -> str | None:
    (name_a, number_a), (name_b, number_b) = _parts(one), _parts(other)
    if name_a == name_b and sorted(number_a) == sorted(number_b) and len(number_a) > 1:
        return f"same signs in another order: {number_a}, {number_b}"
    return None


def _one_sign_apart(one: str, other: str) -> str | None:
    (name_a, number_a), (name_b, number_b) = _parts(one), _parts(other)
    if name_a != name_b or len(number_a) != len(number_b) or len(number_a) < 2:
        return None
    apart = sum(a != b for a, b in zip(number_a, number_b, strict=True))
    return f"one sign apart: {number_a}, {number_b}" if apart == 1 else None


def _same_end(one: str, other: str) -> str | None:
    (name_a, number_a), (name_b, number_b) = _parts(one), _parts(other)
    if name_a != name_b or min(len(number_a), len(number_b)) < 2:
        return None
    return f"same last two signs {number_a[-2:]}" if number_a[-2:] == number_b[-2:] else None


def _contained(one: str, other: str) -> str | None:
    (name_a, number_a), (name_b, number_b) = _parts(one), _parts(other)
    short, full = sorted((number_a, number_b), key=len)
    if name_a == name_b and len(short) > 1 and short in full:
        return f"{short} is part of {full}"
    return None


_LIKENESSES: tuple[tuple[Callable[[str, str], str | None], str], ...] = (
    (_same_number, _ORDER),
    (_same_short_form, "ICAO Annex 10 Volume II, 5.2.1.7.2.2 (from memory)"),
    (_swapped, _ORDER),
    (_one_sign_apart, _PRACTICE),
    (_same_end, _PRACTICE),
    (_contained, _PRACTICE),
)
