"""The grammar as a list of short phrases, for engines that take a list."""

from collections.abc import Iterable, Iterator

from readback.phraseology import jsgf
from readback.phraseology.grammar import UNKNOWN, Grammar
from readback.phraseology.jsgf import Alternatives, Expansion, Reference, Repeat, Token

_Run = tuple[str | None, ...]
"""Words, with None where a value is said."""
_MOST_RUNS = 300
"""Variants of one part that are written out; a call has far fewer."""


def phrase_list(grammar: Grammar, words: Iterable[str]) -> tuple[str, ...]:
    """Write the fixed words of every call as phrases, and every word as one of its own.

    Args:
        grammar: The calls.
        words: All words that may be said; a phrase with any other is left out.

    Returns:
        ``"hold short of runway"``, ``"parking brake set"``, ``"two"``, ...: sorted, no doubles.
    """
    sayable = set(words)
    phrases = set(sayable)
    for call in grammar.calls.values():
        for run in _runs(call.expansion, grammar):
            phrases.update(
                " ".join(piece) for piece in _pieces(run) if all(word in sayable for word in piece)
            )
    return tuple(sorted(phrases))


def _runs(part: Expansion, grammar: Grammar) -> list[_Run]:
    if isinstance(part, Token):
        return [(part.word,)]
    if isinstance(part, Reference):
        home, _, name = part.name.rpartition(".")
        if name in (UNKNOWN, "VOID") or (home == "elements" and not _has_tags(name, grammar)):
            return [(None,)]
        return _runs(grammar.rule(part.name), grammar)
    if isinstance(part, Alternatives):
        return _limited(run for child in part.parts for run in _runs(child, grammar))
    if isinstance(part, jsgf.Sequence):
        runs: list[_Run] = [()]
        for child in part.parts:
            following = _runs(child, grammar)
            runs = _limited(run + more for run in runs for more in following)
        return runs
    if isinstance(part, Repeat):
        return _limited([*([()] if part.least == 0 else []), *_runs(part.part, grammar)])
    return _runs(part.part, grammar)


def _has_tags(name: str, grammar: Grammar) -> bool:
    return name in grammar.elements and bool(grammar.tags_of(name))


def _limited(runs: Iterable[_Run]) -> list[_Run]:
    kept: dict[_Run, None] = {}
    for run in runs:
        kept[run] = None
        if len(kept) == _MOST_RUNS:
            break
    return list(kept)


def _pieces(run: _Run) -> Iterator[tuple[str, ...]]:
    piece: list[str] = []
    for word in (*run, None):
        if word is not None:
            piece.append(word)
        elif piece:
            yield tuple(piece)
            piece = []
