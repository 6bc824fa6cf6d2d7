"""Typed or heard words turned into the words that the grammar is written in."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path

from readback.data import data_directory
from readback.errors import GrammarError
from readback.phraseology.spelling import DIGITS, LETTERS
from readback.transmission import Word

DIGIT_WORD = {digit: word for word, digit in DIGITS.items()}
LETTER_WORD = {letter.lower(): word for word, letter in LETTERS.items()}
_SIDE_WORD = {"l": "left", "r": "right", "c": "centre"}
_RUN = re.compile(r"\d+|[^\W\d_]+|[.,:/]")
_LONGEST_REGISTRATION = 5
"""Letters; more in capitals are a name: LARKSPUR421 (ICAO Annex 7, from memory)."""
_EDGE = " \t\n\r.,;:!?\"'()[]…“”‘’-–—/"


@lru_cache(maxsize=1)
def _spellings_file() -> Mapping[str, Mapping[str, str]]:
    path: Path = data_directory("grammars") / "spellings.toml"
    try:
        with path.open("rb") as file:
            return tomllib.load(file)
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise GrammarError(f"{path}: cannot be read ({error}).", "Mend or restore it.") from error


@lru_cache(maxsize=1)
def spellings() -> dict[str, tuple[str, ...]]:
    """Other spelling -> the grammar's words for it (``grammars/spellings.toml``)."""
    return {
        written: tuple(words.split()) for written, words in _spellings_file()["spellings"].items()
    }


@lru_cache(maxsize=1)
def homophones() -> dict[str, str]:
    """Word -> the grammar's word that sounds like it (``grammars/spellings.toml``)."""
    return dict(_spellings_file()["homophones"])


@lru_cache(maxsize=1)
def doubtful_sounds() -> dict[str, str]:
    """Word -> the value that it may stand for, never with certainty (``spellings.toml``)."""
    return dict(_spellings_file()["doubtful"])


@lru_cache(maxsize=1)
def hesitations() -> frozenset[str]:
    """Sounds made while thinking, passed over wherever they stand (``spellings.toml``)."""
    return frozenset(_spellings_file()["hesitations"]["words"].split())


@lru_cache(maxsize=1)
def ordinary_words() -> frozenset[str]:
    """Ordinary English words: never repaired, never an operator's name (``spellings.toml``)."""
    return frozenset(_spellings_file()["ordinary"]["words"].split())


def spell(text: str) -> tuple[str, ...]:
    """Spell letters and digits one by one: ``"C5"`` -> ``("charlie", "five")``."""
    return tuple(
        DIGIT_WORD.get(sign) or LETTER_WORD.get(sign) or sign
        for sign in text.lower()
        if sign.isalnum()
    )


@lru_cache(maxsize=65536)
def canonical_words(raw: str) -> tuple[str, ...]:
    """Turn one run of characters without blanks into the grammar's words.

    Args:
        raw: As typed or heard: ``"27L,"``, ``"Push-back"``, ``"118.7"``, ``"niner"``, ``"G-CD"``.

    Returns:
        Lower-case words, digits and letters spelled: ``("two", "seven", "left")``. Empty for
        punctuation alone.
    """
    stripped = raw.strip(_EDGE)
    if not stripped:
        return ()
    lower = stripped.lower().replace("’", "'")
    known = spellings().get(lower)
    if known is not None:
        return known
    if lower.endswith("'s") and len(lower) > 3:
        return (*canonical_words(stripped[:-2]), "is")
    if len(stripped) == 1:
        return _single(stripped)
    if "-" in stripped:
        return tuple(
            word for part in stripped.split("-") for word in _hyphenated_part(part, stripped)
        )
    if any(sign.isdigit() for sign in stripped):
        return _written_value(stripped)
    return (lower,)


def canonical_tokens(words: Iterable[Word]) -> tuple[str, ...]:
    """Give the grammar's words of what was said, in order; see `canonical_words`."""
    return tuple(token for word in words for token in canonical_words(word.word))


def _single(sign: str) -> tuple[str, ...]:
    if sign.isdigit():
        return (DIGIT_WORD.get(sign, sign),)
    # "I" is a pronoun and "a" an article; a taxiway or a letter of a callsign is typed upper-case.
    if sign.isupper() and sign != "I" and sign.lower() in LETTER_WORD:
        return (LETTER_WORD[sign.lower()],)
    if sign in LETTER_WORD and sign not in "ai":
        return (LETTER_WORD[sign],)
    return (sign.lower(),)


def _hyphenated_part(part: str, whole: str) -> tuple[str, ...]:
    # G-CD, D-ABCD: a registration; Two-Seven and tow-bar: words.
    if part.isupper() and part.isalpha() and whole[1:2] == "-":
        return spell(part)
    return canonical_words(part)


def _written_value(text: str) -> tuple[str, ...]:
    runs = _RUN.findall(text)
    words: list[str] = []
    for index, run in enumerate(runs):
        lower = run.lower()
        if run[0].isdigit():
            words += spell(run)
        elif run == ".":
            words.append("decimal")
        elif run in ",:/":
            continue
        elif index and lower in _SIDE_WORD and index == len(runs) - 1 and len(runs[index - 1]) <= 2:
            words.append(_SIDE_WORD[lower])
        elif lower in spellings():
            words += spellings()[lower]
        elif len(run) <= 3 or (run.isupper() and len(run) <= _LONGEST_REGISTRATION):
            words += spell(run)
        else:
            words.append(lower)
    return tuple(words)
