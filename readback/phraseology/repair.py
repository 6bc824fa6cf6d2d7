"""Words that the grammar does not know, taken for near words that it does.

A word of the grammar is never changed, so no value is ever repaired into another value.
"""

from functools import lru_cache
from typing import NamedTuple

from readback.phraseology.grammar import Grammar
from readback.phraseology.values import DIGITS, LETTERS

_VALUE_WORDS = frozenset(DIGITS) | frozenset(LETTERS) | {"left", "right", "centre"}
_OPPOSITES = frozenset(
    "cross hold short set released installed removed in out on off north south east west".split()
)
_SHORTEST = 3


class Taken(NamedTuple):
    """What a word is taken for."""

    word: str
    doubtful: bool
    """True for a value word with another value as near or nearly so."""


@lru_cache(maxsize=4096)
def near_misses(word: str, grammar: Grammar) -> tuple[Taken, ...]:
    """Find the grammar's words nearest to a word that it does not know.

    Args:
        word: Lower-case; at least three letters, no digits.
        grammar: Whose vocabulary counts.

    Returns:
        Words at most two letters off (one, for words of up to five letters), nearest first, at
        most three; empty where none is near.
    """
    # Imported late: a transmission without unknown words never needs it.
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    if len(word) < _SHORTEST or not word.isalpha():
        return ()
    reach = 1 if len(word) <= 5 else 2
    found = process.extract(
        word, list(grammar.vocabulary), scorer=OSA.distance, score_cutoff=reach + 1, limit=8
    )
    near = [(name, int(distance)) for name, distance, _ in found if len(name) >= _SHORTEST]
    values = [(name, distance) for name, distance in near if name in _VALUE_WORDS]
    taken = []
    for name, distance in near:
        if distance > reach:
            continue
        rivals = [other for other, far in values if other != name and far <= distance + 1]
        taken.append(Taken(name, name in _VALUE_WORDS and bool(rivals)))
    return tuple(taken[:3])
