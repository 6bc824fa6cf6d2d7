"""The best readings of one sound that differ in their words, from the trace of one search.

Searched backward from the end, best first: what a start is worth is known from the forward pass, so
readings come out in the order of their probability. Chains that say a word in the same way at the
same time are followed together, whatever states of the grammar they join. A chain has one start for
each of its ends, the best: a reading other than the best may come out a little low, or not at all
where a word more or less is the only difference. Source: Soong and Huang, A tree-trellis based fast
search for finding the N best sentence hypotheses, ICASSP 1991.
"""

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from readback.speech.ear.graph import SAME_VALUE, Flags, Ints, PhoneGraph
from readback.speech.ear.trace import Trace
from readback.transmission import Alternative

MOST_SAME = 3
"""Times or pronunciations with which the same last words are followed."""
MOST_STEPS = 3000
"""Tails looked at before the search ends: a bound on its time, seldom met."""
LEAST_SHARE = 1e-4
"""A reading that is less probable is not told: it tips no verdict and would be kept in records."""


@dataclass(frozen=True)
class Reading:
    """One way to read the whole sound."""

    words: tuple[str, ...]
    unheard: tuple[tuple[int, int], ...]
    """[start, end) in steps of the search where the filler stands: speech that is in no word."""
    score: float
    """Log-probability of its best way through the sound."""
    sounds: bytes = b""
    """The phones of its words: readings that differ in spelling alone have the same."""


@dataclass(frozen=True)
class _Tail:
    """The end of a reading, from one word or filler on; a linked list."""

    word: str | None
    """None is the filler."""
    phones: bytes
    start: int
    end: int
    before: Flags
    """(states) Where a word before it may lead."""
    starts_call: bool
    """Whether nothing or the filler may stand before it."""
    score: float
    """Log-probability of the sound from ``start`` on."""
    rest: "_Tail | None"
    meaning: tuple[str | None, ...]
    """Readings whose words mean the same are one."""


def share_probability(readings: Sequence[Reading], sharpness: float) -> tuple[Alternative, ...]:
    """Put readings of the same sounds together and give each its share of the probability.

    Args:
        readings: The best first.
        sharpness: Weight of their log-probabilities: the network is surer than it should be.

    Returns:
        The most probable first.
    """
    alike: dict[tuple[bytes, object], list[Reading]] = {}
    for reading in readings:
        alike.setdefault((reading.sounds, reading.unheard), []).append(reading)
    below = [readings[0].score - same[0].score for same in alike.values()]
    weights = [math.exp(-sharpness * nats) for nats in below]
    shares = [round(weight / sum(weights), 6) for weight in weights]
    return tuple(
        Alternative(
            words=same[0].words,
            probability=share,
            same_sound=tuple(reading.words for reading in same[1:]),
            unheard=bool(same[0].words and same[0].unheard),
        )
        for same, share in zip(alike.values(), shares, strict=True)
        if share >= LEAST_SHARE
    )


def number_sayings(graph: PhoneGraph) -> Ints:
    """Number word and pronunciation of each chain, alike where chains differ in states alone."""
    ends = np.append(graph.chain_first[1:], len(graph.node_phone))
    numbers: dict[tuple[str, bytes], int] = {}
    return np.array(
        [
            numbers.setdefault((word, graph.node_phone[first:end].tobytes()), len(numbers))
            for word, first, end in zip(graph.words, graph.chain_first, ends, strict=True)
        ]
    )


class ReadingSearch:
    """Lists the readings of one trace.

    Args:
        graph: Of the search that left the trace.
        sayings: (chains) Of `number_sayings`.
        trace: What the search left.
    """

    def __init__(self, graph: PhoneGraph, sayings: Ints, trace: Trace) -> None:
        self._graph, self._sayings, self._trace = graph, sayings, trace
        # Values are scaled anew in every step: these give them back.
        self._scales = np.concatenate([[0.0], np.cumsum(np.log(trace.scales))])
        self._at_start = np.zeros(graph.states, bool)
        self._at_start[graph.silent_to[graph.silent_from == graph.start]] = True
        self._arc_ends = np.append(graph.chain_arcs[1:], len(graph.arc_source))
        self._lengths = np.diff(np.append(graph.chain_first, len(graph.node_phone)))
        self._heap: list[tuple[float, int, _Tail | None, bool]] = []
        self._pushed = 0

    def best(self, count: int, width: float) -> list[Reading]:
        """List the most probable readings, the best first.

        Args:
            count: At most so many.
            width: None that is less probable than the best by more than this, in nats.
        """
        self._look_before(None, len(self._trace.scales), self._graph.accepts, True, 0.0)
        found: list[Reading] = []
        seen: dict[tuple[bool, tuple[str | None, ...]], int] = {}
        for _ in range(MOST_STEPS):
            if not self._heap or len(found) == count:
                break
            worth, _, tail, whole = heapq.heappop(self._heap)
            if found and -worth < found[0].score - width:
                break
            key = whole, tail.meaning if tail else ()
            seen[key] = seen.get(key, 0) + 1
            if whole and seen[key] == 1:
                found.append(_reading(tail, -worth))
            elif not whole and tail is not None and seen[key] <= MOST_SAME:
                self._look_before(tail, tail.start, tail.before, tail.starts_call, tail.score)
        return found

    def _look_before(
        self, rest: _Tail | None, now: int, into: Flags, starts_call: bool, score: float
    ) -> None:
        """Push what may stand before a tail that begins at the step ``now``."""
        if now == 0:
            if starts_call:
                self._push(score, rest, True)
            return
        for word, start, chains, value in self._ended(now, into):
            worth = math.log(value) + self._scales[now] + score
            self._push(worth, self._word(word, start, now, chains, worth, rest), False)
        if starts_call:
            silence, (loop, since, _) = self._trace.silence[now - 1], self._trace.filler[now - 1]
            if silence > 0:
                self._push(math.log(silence) + self._scales[now] + score, rest, True)
            if loop > 0 and (rest is None or rest.word is not None):
                worth = math.log(loop) + self._scales[now] + score
                self._push(worth, self._filler(since, now, worth, rest), False)

    def _ended(self, now: int, into: Flags) -> Iterator[tuple[str, int, list[int], float]]:
        """Words that ended before a step and lead where they should, alike ones together."""
        graph = self._graph
        nodes, values, began = self._trace.ends[now - 1]
        chains = graph.node_chain[nodes]
        fits = np.flatnonzero(into[graph.chain_target[chains]] & (values > 0))
        alike: dict[tuple[int, int], tuple[list[int], float]] = {}
        sayings = self._sayings[chains[fits]]
        for at, saying in zip(fits.tolist(), sayings.tolist(), strict=True):
            members, best = alike.setdefault((saying, int(began[at])), ([], 0.0))
            members.append(int(chains[at]))
            alike[saying, int(began[at])] = members, max(best, float(values[at]))
        for (_, start), (members, best) in alike.items():
            yield graph.words[members[0]], start, members, best

    def _word(
        self, word: str, start: int, now: int, chains: list[int], worth: float, rest: _Tail | None
    ) -> _Tail:
        graph = self._graph
        sources = np.zeros(graph.states, bool)
        for chain in chains:
            sources[graph.arc_source[graph.chain_arcs[chain] : self._arc_ends[chain]]] = True
        entered = float(self._trace.reach[start][sources].max())
        before = np.zeros(graph.states, bool)
        before[graph.silent_from[sources[graph.silent_to]]] = True
        first = graph.chain_first[chains[0]]
        last = first + self._lengths[chains[0]]
        meaning = (SAME_VALUE.get(word, word), *(rest.meaning if rest else ()))
        return _Tail(
            word=word,
            phones=graph.node_phone[first:last].tobytes(),
            start=start,
            end=now,
            before=before,
            starts_call=bool((sources & self._at_start).any()),
            score=worth - math.log(max(entered, 1e-300)) - self._scales[start],
            rest=rest,
            meaning=meaning,
        )

    def _filler(self, start: int, now: int, worth: float, rest: _Tail | None) -> _Tail:
        graph, trace = self._graph, self._trace
        entered = trace.silence[start - 1] if start else 1.0
        if start:
            nodes, values, _ = trace.ends[start - 1]
            accepted = graph.accepts[graph.chain_target[graph.node_chain[nodes]]]
            entered = max(entered, float(values[accepted].max(initial=0.0)))
        return _Tail(
            word=None,
            phones=b"",
            start=start,
            end=now,
            before=graph.accepts,
            starts_call=True,
            score=worth - math.log(max(entered, 1e-300)) - self._scales[start],
            rest=rest,
            meaning=(None, *(rest.meaning if rest else ())),
        )

    def _push(self, worth: float, tail: _Tail | None, whole: bool) -> None:
        self._pushed += 1
        heapq.heappush(self._heap, (-worth, self._pushed, tail, whole))


def _reading(tail: _Tail | None, score: float) -> Reading:
    words: list[str] = []
    sounds = b""
    unheard: list[tuple[int, int]] = []
    while tail is not None:
        if tail.word is None:
            unheard.append((tail.start, tail.end))
        else:
            words.append(tail.word)
            sounds += tail.phones
        tail = tail.rest
    return Reading(tuple(words), tuple(unheard), score, sounds)
