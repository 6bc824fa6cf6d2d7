"""What a recogniser listens for: one grammar in the forms that the engines want."""

from collections.abc import Mapping
from dataclasses import dataclass, field

OTHER_NAME = "<name>"
"""Heard where a name is said that is not listened for: any sounds, so it has no pronunciation."""


@dataclass(frozen=True)
class Arc:
    """One step of the word graph: from one state to another, saying a word or nothing."""

    source: int
    target: int
    word: str | None
    """None is a step that says nothing."""


@dataclass(frozen=True)
class SearchGrammar:
    """All that may be said, in the forms that the engines want; never only what is expected.

    One grammar makes all of them (`readback.phraseology.grammar.Grammar.search`).
    """

    jsgf: str
    """One self-contained JSGF grammar text, tags removed, one public rule ``<transmission>``.
    It has no names.

    An engine that can take ``arcs`` should: pocketsphinx 5.1.1 needs 5 s to compile this text and
    then decodes 20 times as slowly as with the word graph (measured with the whole grammar).
    """
    pronunciations: Mapping[str, tuple[str, ...]]
    """Word -> its pronunciations, each ARPABET phones without stress, joined by blanks."""
    phrases: tuple[str, ...]
    """The same language as a list of short phrases, for engines that take a list."""
    arcs: tuple[Arc, ...] = field(repr=False)
    """The same language as a word graph, state 0 first; a word may be `OTHER_NAME`."""
    final_states: frozenset[int] = field(repr=False)
    """States of the word graph in which a transmission may end."""
