"""A word graph and its pronunciations as one graph over phones, in arrays."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from readback.errors import RecogniserError
from readback.search import OTHER_NAME, SearchGrammar
from readback.speech.ear.phones import NAME_BEGINS, NAME_GOES_ON, PHONES

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

SAME_VALUE: Mapping[str, str] = {
    "niner": "nine",
    "tree": "three",
    "fife": "five",
    "fower": "four",
    "tousand": "thousand",
    "alpha": "alfa",
    "juliet": "juliett",
    "x-ray": "xray",
    "whisky": "whiskey",
    "centre": "center",
    "affirmative": "affirm",
}
"""Ways to say the same: their probability is summed. Source: ICAO Annex 10 Vol II, 5.2.1.4.3."""

_PHONE_NUMBERS = {phone: number for number, phone in enumerate(PHONES)}


@dataclass(frozen=True)
class PhoneGraph:
    """Words as chains of phones between the states of the word graph.

    A chain says one pronunciation of one word into one target state, whatever state it comes from:
    arcs with the same word and target share it, which keeps a grammar of ten thousand arcs small.
    """

    states: int
    start: int
    accepts: Flags
    """(states) May a transmission end here, silent steps included?"""
    words: tuple[str, ...]
    """Word of each chain."""
    values: Ints
    """(chains) Number of what the chain's word means: the same for ``nine`` and ``niner``."""
    chain_first: Ints
    """(chains) Its first node."""
    chain_target: Ints
    """(chains) State that it leads to."""
    node_phone: Ints
    """(nodes) Number of its phone; nodes of a chain follow each other."""
    node_chain: Ints
    """(nodes)"""
    node_is_first: Flags
    node_is_last: Flags
    node_repeats: Flags
    """(nodes) Same phone as the node before it: CTC wants a blank between."""
    arc_source: Ints
    """(arcs) State that a chain may be entered from, ordered by chain."""
    arc_chain: Ints
    """(arcs) The chain."""
    chain_arcs: Ints
    """(chains) Its first arc."""
    source_chains: Ints
    """(arcs) The chain of each arc, ordered by source."""
    source_arcs: Ints
    """(states + 1) Where the arcs of each state begin in ``source_chains``."""
    silent_from: Ints
    """(steps) A state that reaches another without a word, itself included, ordered by target."""
    silent_to: Ints
    target_steps: Ints
    """(states) The first step into each state."""


def compile_graph(grammar: SearchGrammar) -> PhoneGraph:
    """Compile a grammar; once, as it takes a good part of a second for the whole language.

    Raises:
        RecogniserError: The grammar is empty, or a word has no pronunciation in known phones.
    """
    spoken = {arc for arc in grammar.arcs if arc.word is not None}
    if not spoken or not grammar.final_states:
        raise RecogniserError("ear: the grammar has no words.", "Give it some.")
    states = 1 + max(max(arc.source, arc.target) for arc in grammar.arcs)
    states = max(states, 1 + max(grammar.final_states))
    reached = _close(states, ((a.source, a.target) for a in grammar.arcs if a.word is None))
    sources: dict[tuple[str, int], list[int]] = {}
    for arc in sorted(spoken, key=lambda arc: (arc.word or "", arc.target, arc.source)):
        sources.setdefault((arc.word or "", arc.target), []).append(arc.source)
    chains = [
        (word, target, phones, entered)
        for (word, target), entered in sources.items()
        for phones in _phones(grammar, word)
    ]
    lengths = np.array([len(phones) for _, _, phones, _ in chains])
    ends = np.cumsum(lengths)
    node_phone = np.concatenate([phones for _, _, phones, _ in chains])
    is_first = np.zeros(len(node_phone), bool)
    is_first[ends - lengths] = True
    is_last = np.zeros(len(node_phone), bool)
    is_last[ends - 1] = True
    numbers: dict[str, int] = {}
    values = [numbers.setdefault(SAME_VALUE.get(c[0], c[0]), len(numbers)) for c in chains]
    entries = np.array([len(entered) for *_, entered in chains])
    steps = sorted((target, state) for state in range(states) for target in reached[state])
    silent_to = np.array([target for target, _ in steps])
    arc_source = np.concatenate([entered for *_, entered in chains])
    arc_chain = np.repeat(np.arange(len(chains)), entries)
    by_source = np.argsort(arc_source, kind="stable")
    return PhoneGraph(
        states=states,
        start=0,
        accepts=np.array([bool(reached[s] & grammar.final_states) for s in range(states)]),
        words=tuple(word for word, *_ in chains),
        values=np.array(values),
        chain_first=ends - lengths,
        chain_target=np.array([target for _, target, _, _ in chains]),
        node_phone=node_phone,
        node_chain=np.repeat(np.arange(len(chains)), lengths),
        node_is_first=is_first,
        node_is_last=is_last,
        node_repeats=~is_first & (node_phone == np.roll(node_phone, 1)),
        arc_source=arc_source,
        arc_chain=arc_chain,
        chain_arcs=np.cumsum(entries) - entries,
        source_chains=arc_chain[by_source],
        source_arcs=np.searchsorted(arc_source[by_source], np.arange(states + 1)),
        silent_from=np.array([state for _, state in steps]),
        silent_to=silent_to,
        target_steps=np.searchsorted(silent_to, np.arange(states)),
    )


def _close(states: int, steps: Iterable[tuple[int, int]]) -> list[set[int]]:
    """For each state, those that it reaches without a word, itself included."""
    onward: list[set[int]] = [set() for _ in range(states)]
    for source, target in steps:
        onward[source].add(target)
    reached = []
    for state in range(states):
        seen, waiting = {state}, [state]
        while waiting:
            fresh = onward[waiting.pop()] - seen
            seen |= fresh
            waiting += fresh
        reached.append(seen)
    return reached


def _phones(grammar: SearchGrammar, word: str) -> list[Ints]:
    if word == OTHER_NAME:
        # Two phones at the least: noise has one anywhere.
        return [np.array([NAME_BEGINS, NAME_GOES_ON] * 2)]
    found = []
    for pronunciation in grammar.pronunciations.get(word, ()):
        phones = pronunciation.split()
        if not phones or any(phone not in _PHONE_NUMBERS for phone in phones):
            raise RecogniserError(
                f'ear: refuses the pronunciation "{pronunciation}" of "{word}".',
                "Use the 39 ARPABET phones without stress marks.",
            )
        found.append(np.array([_PHONE_NUMBERS[phone] for phone in phones]))
    if not found:
        raise RecogniserError(f'ear: no pronunciation for "{word}".', "Add it to the lexicon.")
    return found
