"""Words that the grammar does not know, taken for near words that it does.

A word of the grammar or of ordinary English is never changed, so no value is ever repaired into
another value and talk is not turned into calls.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from readback.phraseology.grammar import Grammar
from readback.phraseology.lexicon import load_lexicons
from readback.phraseology.sounds import guess_phones
from readback.phraseology.values import DIGITS, LETTERS
from readback.phraseology.words import ordinary_words

_VALUE_WORDS = frozenset(DIGITS) | frozenset(LETTERS) | {"left", "right", "centre"}
# State words whose opposites are as short: a slip between two of them is doubtful as a value is.
_STATES = frozenset(
    [
        "set",
        "released",
        "installed",
        "removed",
        "in",
        "out",
        "on",
        "off",
        "north",
        "south",
        "east",
        "west",
    ]
)
_SHORTEST = 4
_MOST = 3


class Taken(NamedTuple):
    """What a word is taken for."""

    word: str
    doubtful: bool
    """True for a value word with another value as near or nearly so."""
    repaired: bool = True
    """False where the word only sounds like the other: two and too."""
    distance: int = 0
    """How many letters or phones off."""


@lru_cache(maxsize=8192)
def near_misses(word: str, grammar: Grammar) -> tuple[Taken, ...]:
    """Find the grammar's words nearest to a word that it does not know.

    Args:
        word: Lower-case; at least four letters, no digits, no ordinary English word.
        grammar: Whose vocabulary counts.

    Returns:
        Words at most two letters off (one, for words of up to five letters) or one phone off,
        nearest first, at most three; empty where none is near.
    """
    if len(word) < _SHORTEST or not word.isalpha() or word in ordinary_words():
        return ()
    reach = 1 if len(word) <= 5 else 2
    distances = _by_letters(word, reach + 1, grammar)
    for name, distance in _by_sound(word, grammar).items():
        distances[name] = min(distance, distances.get(name, distance))
    taken = []
    for name, distance in sorted(distances.items(), key=lambda item: (item[1], item[0])):
        if distance <= reach:
            doubtful = _doubtful(name, distance, distances)
            taken.append(Taken(name, doubtful, distance=distance))
    return tuple(taken[:_MOST])


def _doubtful(name: str, distance: int, distances: Mapping[str, int]) -> bool:
    for kind in (_VALUE_WORDS, _STATES):
        if name in kind:
            return any(
                other in kind and other != name and far <= distance + 1
                for other, far in distances.items()
            )
    return False


def _by_letters(word: str, reach: int, grammar: Grammar) -> dict[str, int]:
    # Imported late: a transmission without unknown words never needs it.
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    found = process.extract(
        word, _targets(grammar), scorer=OSA.distance, score_cutoff=reach, limit=8
    )
    return {name: int(distance) for name, distance, _ in found}


def _by_sound(word: str, grammar: Grammar) -> dict[str, int]:
    """Compare a guess at the word's sound with the lexicon: same sound 1, one phone off 2."""
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    phones = guess_phones(word)
    if len(phones) < 3:
        return {}
    found = process.extract(
        phones, _sounds(grammar), scorer=OSA.distance, score_cutoff=int(len(phones) > 3), limit=8
    )
    near: dict[str, int] = {}
    for _, distance, name in found:
        near[name[0]] = min(int(distance) + 1, near.get(name[0], 9))
    return near


@lru_cache(maxsize=8)
def _targets(grammar: Grammar) -> tuple[str, ...]:
    return tuple(name for name in grammar.vocabulary if len(name) >= 3)


@lru_cache(maxsize=8)
def _sounds(grammar: Grammar) -> dict[tuple[str, int], tuple[str, ...]]:
    return {
        (name, number): tuple(pronunciation.split())
        for name, pronunciations in load_lexicons().items()
        if name in grammar.vocabulary and len(name) >= 3
        for number, pronunciation in enumerate(pronunciations)
    }
