"""Callsigns: read from words, shortened as the rules allow, compared.

Sources: ICAO Annex 10 Volume II, 5.2.1.7.2 (full and abbreviated callsigns; from memory); FAA AIM
4-2-4 (group form of flight numbers).
"""

from collections.abc import Sequence
from functools import lru_cache

from readback.phraseology.values import DIGITS, LETTERS, read_number
from readback.phraseology.words import spell

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
    name = []
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
        name, _, number = addressed.rpartition(" ")
        return "number only" if heard.replace("-", "") == number else "other"
    full, short = addressed.replace("-", ""), heard.replace("-", "")
    if len(short) == 3 and len(full) > 3 and (short == full[0] + full[-2:] or short == full[-3:]):
        return "short"
    if len(short) == 2 and len(full) > 3 and short == full[-2:]:
        return "short"
    return "same" if full == short else "other"
