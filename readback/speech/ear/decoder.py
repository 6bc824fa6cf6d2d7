"""Search of the phone graph: the best reading, and how probable each of its words is.

Both are found in one pass over the same live nodes: the best path (Viterbi) and the sum over all
paths (forward), then the sum backward. Values are plain probabilities, scaled anew in every step.
Beside the grammar runs a free loop over phones, the filler: speech that is not in the grammar goes
there instead of being forced into words. A word is begun only where its next phones are likely
soon, so that a roster of 2,000 names costs little. Sources: Rabiner, A tutorial on hidden Markov
models, Proc. IEEE 77 (1989), III; Graves et al., Connectionist temporal classification, ICML 2006,
4.1; looking ahead: Ney and Ortmanns, Dynamic programming search for continuous speech recognition,
IEEE Signal Processing Magazine 16 (1999), from memory.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from readback.speech.ear.graph import Flags, Ints, PhoneGraph
from readback.speech.ear.phones import BLANK, PHONES
from readback.speech.ear.readings import Reading, ReadingSearch, number_sayings
from readback.speech.ear.trace import Reals, Trace

LOOK_AHEAD = 6
"""So many phones of a word decide together whether it is begun: most of 2,000 names are not."""
SOON = 2
"""Each is looked for until so many more likeliest phones have begun than for the one before it."""
COLUMNS = len(PHONES) + 2
"""Of the probabilities that are searched."""
YIELDING, YIELD = ("two", "four"), 1e-6
"""Digits that sound as TO and FOR, and the share of their worth that lets the other word be the
best reading where both may stand: HOTEL FIVE FOR RUNWAY, not HOTEL FIVE FOUR. Sums ignore it."""
BEST, BEST_BLANK, SUM, SUM_BLANK = range(4)
"""Columns of the live nodes' values: on the phone, or on the blank after it."""


@dataclass(frozen=True)
class Settings:
    """How the search weighs and prunes."""

    beam: float = 1e-7
    """A node is dropped when its best path is this much less probable than the best of all."""
    most: int = 3000
    """No more nodes stay alive after a step, and no more arcs are entered: the best of them."""
    filler_phone: float = 1.5
    """What each phone of the filler before or after a call costs, in nats."""
    filler_entry: float = 15.0
    """What it costs to go into it, in nats: high, lest it swallow the first words of a call."""
    stranger_phone: float = 1.5
    """What each phone of a transmission that is no call at all costs, in nats."""
    stranger_entry: float = 9.0
    """What it costs to take a transmission for none, in nats."""
    name_phone: float = 2.0
    """What each phone of a name that is not listened for costs, in nats."""
    name_entry: float = 3.0
    """What it costs to take something for such a name, in nats."""
    temperature: float = 1.0
    """The network's log-probabilities are divided by it."""
    usual: tuple[float, ...] = ()
    """What is taken off the log-probability of each of the network's outputs, in nats, because it
    is said often anyway, the blank above all; none: nothing. What is left is nearer to how well the
    sound fits. Source: Bourlard and Morgan, Connectionist speech recognition, 1994, 7.2, from
    memory."""
    blank: float = 0.95
    """Steps in a row with a blank at least this sure are searched as one."""
    slack: int = 8
    """A word counts as heard at the same time when it starts within so many steps (20 ms)."""


@dataclass(frozen=True)
class Heard:
    """One word of the best reading."""

    word: str
    start: int
    """First step, 20 ms each."""
    end: int
    """Step after the last sure phone of it."""
    probability: float
    """Of all ways to say its value about here, among all readings and the filler."""
    fit: float = 0.0
    """Nats per phone by which the word is less probable than the likeliest phones here."""
    phones: int = 1
    """Phones of the word as it was heard."""
    rivals: tuple[tuple[str, float], ...] = ()
    """What else may have been said here, most probable first."""


@dataclass(frozen=True)
class Unrefused:
    """The best reading as if it had to be a call, and what speaks for its being none."""

    words: tuple[Heard, ...]
    best: float
    """Log-probability of the best way through the sound: the words, the filler or silence."""
    whole: float
    """That of all ways together."""
    free: float
    """That of the likeliest phones, whatever they are."""
    begun: int
    """How many of these there are."""

    def refuse(self, phone: float, entry: float) -> tuple[Heard, ...]:
        """Give the words as `Decoder.decode` does with these prices for speech that is no call.

        Args:
            phone: As `Settings.stranger_phone`.
            entry: As `Settings.stranger_entry`.
        """
        stranger = self.free - phone * self.begun - entry
        if stranger >= self.best:
            return ()
        share = 1 / (1 + np.exp(stranger - self.whole))
        return tuple(replace(word, probability=word.probability * share) for word in self.words)


class Decoder:
    """Searches one grammar; holds no sound between calls.

    Args:
        graph: The grammar, compiled.
        settings: Weights and beam.
    """

    def __init__(self, graph: PhoneGraph, settings: Settings | None = None) -> None:
        self.graph, self.settings = graph, settings or Settings()
        count = len(graph.node_phone)
        self._values = np.zeros((4, count))
        self._since = np.zeros((2, count), np.int64)
        self._entries = np.zeros((2, len(graph.words)))
        self._live: Ints = np.zeros(0, np.int64)
        self._arc_ends = np.append(graph.chain_arcs[1:], len(graph.arc_source))
        self._lengths = np.diff(np.append(graph.chain_first, count))
        at_start = np.zeros(graph.states, bool)
        at_start[graph.silent_to[graph.silent_from == graph.start]] = True
        self._at_start: Flags = at_start
        self._sayings = number_sayings(graph)
        self._preference = np.where(np.isin(graph.words, YIELDING), 1 - YIELD, 1.0)
        self._onsets = self._first_phones()
        self._rarity: Reals = np.exp(-np.array(self.settings.usual or np.zeros(len(PHONES))))

    def decode(self, log_probabilities: npt.NDArray[np.float32]) -> tuple[Heard, ...]:
        """Find the best reading; see `decode_all`."""
        return self.decode_all(log_probabilities, 0)[0]

    def decode_all(
        self, log_probabilities: npt.NDArray[np.float32], count: int, width: float = 12.0
    ) -> tuple[tuple[Heard, ...], tuple[Reading, ...]]:
        """Find the best reading, and the most probable ones that differ in their words.

        Args:
            log_probabilities: (steps, phones) of the network.
            count: At most so many readings.
            width: None that is less probable than the best by more than this, in nats.

        Returns:
            The words of the best reading in order, none where silence or the filler is the best;
            and the readings, the best first, one without words among them.
        """
        if not len(log_probabilities):
            return (), ()
        steps, times = self._prepare(log_probabilities)
        filler = self._filler(steps, self.settings.filler_phone)
        trace, total = self._forward(steps, filler)
        stranger = np.log(self._filler(steps, self.settings.stranger_phone)).sum()
        stranger -= self.settings.stranger_entry
        relative = stranger - np.log(trace.scales).sum()
        total = np.append(total, np.exp(min(relative, 600.0)))
        readings = self._readings(trace, float(stranger), count, width)
        path = self._path(trace, total)
        if not path:
            return (), readings
        entered = self._backward(steps, filler, trace, total)
        fits = self._fits(path, trace, steps)
        return tuple(self._describe(path, entered, steps, times, fits)), readings

    def decode_calls(self, log_probabilities: npt.NDArray[np.float32]) -> Unrefused:
        """Find the best reading without asking whether it is a call at all."""
        steps, times = self._prepare(log_probabilities)
        filler = self._filler(steps, self.settings.filler_phone)
        trace, total = self._forward(steps, filler)
        total = np.append(total, 0.0)
        path, words = self._path(trace, total), []
        if path:
            entered = self._backward(steps, filler, trace, total)
            fits = self._fits(path, trace, steps)
            words = self._describe(path, entered, steps, times, fits)
        scale = float(np.log(trace.scales).sum())
        best, whole = max(total[1], total[3], total[4]), total[2:].sum()
        return Unrefused(
            words=tuple(words),
            best=float(np.log(max(best, 1e-300))) + scale,
            whole=float(np.log(max(whole, 1e-300))) + scale,
            free=float(np.log(self._filler(steps, 0.0)).sum()),
            begun=int(self._begins(steps).sum()),
        )

    def _readings(
        self, trace: Trace, stranger: float, count: int, width: float
    ) -> tuple[Reading, ...]:
        if not count:
            return ()
        found = ReadingSearch(self.graph, self._sayings, trace).best(count, width)
        none = Reading((), ((0, len(trace.scales)),), stranger)
        ranked = sorted([*found, none], key=lambda reading: -reading.score)[:count]
        return tuple(r for r in ranked if r.score >= ranked[0].score - width)

    def log_sum(self, log_probabilities: npt.NDArray[np.float32]) -> float:
        """Log-probability that the grammar was said, summed over every way to say it."""
        steps, _ = self._prepare(log_probabilities)
        trace, total = self._forward(steps, self._filler(steps, self.settings.filler_phone))
        return float(np.log(max(total[2], 1e-300)) + np.log(trace.scales).sum())

    def _prepare(self, log_probabilities: npt.NDArray[np.float32]) -> tuple[Reals, Ints]:
        """Give the probabilities that are searched, (steps, columns), and the steps' frames."""
        plain = self._soften(log_probabilities)
        fitting = plain * self._rarity
        fitting /= fitting.sum(axis=1, keepdims=True)
        steps, times = self._collapse(fitting, plain[:, BLANK] >= self.settings.blank)
        name = self._filler(steps, self.settings.name_phone)
        begins = self._begins(steps) * name * np.exp(-self.settings.name_entry / 2)
        return np.column_stack([steps, begins, name]), times

    def _soften(self, log_probabilities: npt.NDArray[np.float32]) -> Reals:
        cooled = log_probabilities.astype(np.float64) / self.settings.temperature
        values = np.exp(cooled - cooled.max(axis=1, keepdims=True))
        return np.asarray(values / values.sum(axis=1, keepdims=True))

    def _collapse(self, probabilities: Reals, blank: Flags) -> tuple[Reals, Ints]:
        """Join runs of sure blanks into one step each; return them and their first frames."""
        starts = np.flatnonzero(~(blank & np.concatenate([[False], blank[:-1]])))
        steps = probabilities[starts]
        steps[:, BLANK] = np.exp(np.add.reduceat(np.log(probabilities[:, BLANK]), starts))
        joined = np.diff(np.append(starts, len(probabilities))) > 1
        # A phone in the run must still leave room for the other steps' blanks.
        steps[joined, 1:] *= (steps[joined, BLANK] / probabilities[starts[joined], BLANK])[:, None]
        return steps, starts

    def _filler(self, steps: Reals, cost: float) -> Reals:
        """The filler's probability in each step: the likeliest phone, paid for when it begins."""
        return np.asarray(steps.max(axis=1) * np.exp(-cost * self._begins(steps)))

    def _begins(self, steps: Reals) -> Flags:
        """Where the likeliest phone is another than before."""
        best = steps.argmax(axis=1)
        return np.asarray((best != BLANK) & (best != np.concatenate([[BLANK], best[:-1]])))

    def _forward(self, steps: Reals, filler: Reals) -> tuple[Trace, Reals]:
        graph, trace = self.graph, Trace()
        beam, into_filler = self.settings.beam, np.exp(-self.settings.filler_entry)
        # What the search before left, should it have been broken off.
        self._values[:, self._live] = 0
        self._entries[:] = 0
        live: Ints = np.zeros(0, np.int64)
        ended_best, ended_sum = np.zeros(graph.states), np.zeros(graph.states)
        silence, loop, loop_since, loop_from = 1.0, 0.0, 0, -1
        likely = self._look_ahead(steps)
        for now, step in enumerate(steps):
            onset = np.ones(self._onsets.shape[1])
            for soon, phones in zip(likely, self._onsets, strict=True):
                onset *= soon[now, phones]
            reach, entered = self._enter(ended_best, ended_sum, silence, loop, onset)
            cells = self._cells(live, graph.chain_first[entered])
            values, since = self._advance(cells, step, now)
            accepted = ended_best * graph.accepts
            accepted_at = int(accepted.argmax())
            fresh = max(accepted[accepted_at], silence) * into_filler
            if fresh > loop:
                loop_since = now
                loop_from = -1 if silence >= accepted[accepted_at] else accepted_at
            loop = max(fresh, loop) * filler[now]
            silence *= step[BLANK]
            on_top = np.maximum(values[BEST], values[BEST_BLANK])
            scale = max(on_top.max(initial=0.0), silence) or max(loop, 1e-300)
            kept = greatest(on_top, beam * scale, self.settings.most)
            self._values[:, live] = 0
            live, values, since = cells[kept], values[:, kept] / scale, since[:, kept]
            self._values[:, live], self._since[:, live], self._live = values, since, live
            silence, loop = silence / scale, min(loop / scale, 1e200)
            ended_best, ended_sum = self._leave(live, values, since, trace)
            trace.live.append(live)
            trace.scales.append(scale)
            trace.entries.append(
                self._entries[1, graph.node_chain[live]] * graph.node_is_first[live]
            )
            self._entries[:, entered] = 0
            trace.reach.append(reach)
            trace.filler.append((loop, loop_since, loop_from))
            trace.silence.append(silence)
        self._values[:, live] = 0
        final_best = ended_best * graph.accepts
        final_sum = float(ended_sum[graph.accepts].sum())
        return trace, np.array([final_best.argmax(), final_best.max(), final_sum, silence, loop])

    def _first_phones(self) -> Ints:
        """First phones of each saying, (`LOOK_AHEAD`, sayings); `COLUMNS` where it has fewer."""
        graph = self.graph
        _, chains = np.unique(self._sayings, return_index=True)
        first = graph.chain_first[chains]
        places = first + np.arange(LOOK_AHEAD)[:, None]
        inside = places < first + self._lengths[chains]
        return np.where(inside, graph.node_phone[np.where(inside, places, first)], COLUMNS)

    def _look_ahead(self, steps: Reals) -> list[Reals]:
        """How likely a word's first phone is in each step, its second soon after, and so on.

        Returns:
            For each phone of a word, (steps, columns + 1): its probability by that of the step's
            likeliest, where that is greatest. The last column is for words that have no such phone.
        """
        likely = np.column_stack([steps / steps.max(axis=1, keepdims=True), np.ones(len(steps))])
        begun = self._begins(steps)
        begun[0] = True
        piece = np.cumsum(begun) - 1
        found, soon = [likely], np.maximum.reduceat(likely, np.flatnonzero(begun))
        pieces = soon
        for number in range(1, LOOK_AHEAD):
            soon = soon.copy()
            for later in range(1 + (number - 1) * SOON, 1 + number * SOON):
                np.maximum(soon[:-later], pieces[later:], out=soon[:-later])
            found.append(soon[piece])
        return found

    def _enter(
        self, ended_best: Reals, ended_sum: Reals, silence: float, loop: float, onset: Reals
    ) -> tuple[Reals, Ints]:
        """Give the best value at each state and the chains entered from there.

        ``_entries`` then has the best and the summed value into each of these; a chain may come
        more than once.
        """
        graph, beam = self.graph, self.settings.beam
        reach = np.maximum.reduceat(ended_best[graph.silent_from], graph.target_steps)
        reach = np.maximum(reach, self._at_start * max(silence, loop))
        sources = np.flatnonzero(reach > beam)
        arcs, owners = spread(graph.source_arcs[sources], graph.source_arcs[sources + 1])
        chains, best = graph.source_chains[arcs], reach[sources][owners]
        fits = greatest(best * onset[self._sayings[chains]], beam, self.settings.most)
        if not len(fits):
            return reach, fits
        chains, sources = chains[fits], sources[owners[fits]]
        summed = np.add.reduceat(ended_sum[graph.silent_from], graph.target_steps)
        summed = summed + self._at_start * (silence + loop)
        np.maximum.at(self._entries[0], chains, best[fits] * self._preference[chains])
        np.add.at(self._entries[1], chains, summed[sources])
        return reach, chains

    def _cells(self, live: Ints, first: Ints) -> Ints:
        """Nodes that may be alive after the next step, in order."""
        onward = live[~self.graph.node_is_last[live]] + 1
        cells = np.sort(np.concatenate([live, onward, first]))
        return cells[np.flatnonzero(np.diff(cells, prepend=-1))]

    def _advance(self, cells: Ints, step: Reals, now: int) -> tuple[Reals, Ints]:
        """Take one step in all cells: new values (4, cells) and steps of entry (2, cells)."""
        graph = self.graph
        first = np.flatnonzero(graph.node_is_first[cells])
        chain = graph.node_chain[cells[first]]
        here, before = self._values[:, cells], self._values[:, cells - 1]
        since, since_before = self._since[:, cells], self._since[:, cells - 1]
        straight = ~graph.node_repeats[cells]
        up_phone = before[BEST] * straight
        up = np.maximum(before[BEST_BLANK], up_phone)
        up_sum = before[SUM_BLANK] + before[SUM] * straight
        up_since = np.where(before[BEST_BLANK] > up_phone, since_before[1], since_before[0])
        up[first], up_sum[first] = self._entries[:, chain]
        up_since[first] = now
        phone = step[graph.node_phone[cells]]
        values = np.empty((4, len(cells)))
        values[BEST] = np.maximum(here[BEST], up) * phone
        values[BEST_BLANK] = np.maximum(here[BEST], here[BEST_BLANK]) * step[BLANK]
        values[SUM] = (here[SUM] + up_sum) * phone
        values[SUM_BLANK] = (here[SUM] + here[SUM_BLANK]) * step[BLANK]
        new_since = np.empty((2, len(cells)), np.int64)
        new_since[0] = np.where(up > here[BEST], up_since, since[0])
        new_since[1] = np.where(here[BEST_BLANK] > here[BEST], since[1], since[0])
        return values, new_since

    def _leave(self, live: Ints, values: Reals, since: Ints, trace: Trace) -> tuple[Reals, Reals]:
        """Value of each state that words have just led to."""
        graph = self.graph
        last = np.flatnonzero(graph.node_is_last[live])
        nodes, ending = live[last], values[:, last]
        targets = graph.chain_target[graph.node_chain[nodes]]
        best = np.maximum(ending[BEST], ending[BEST_BLANK])
        ended = np.zeros(graph.states)
        np.maximum.at(ended, targets, best)
        began = np.where(ending[BEST_BLANK] > ending[BEST], since[1, last], since[0, last])
        trace.ends.append((nodes, best, began))
        summed = summed_at(targets, ending[SUM] + ending[SUM_BLANK], graph.states)
        return ended, summed

    def _path(self, trace: Trace, total: Reals) -> list[tuple[int, int, int]]:
        """Chains of the best reading with their steps of entry and end; the filler left out."""
        state, best, _, silence, loop, stranger = total
        graph, path, now = self.graph, [], len(trace.live)
        if stranger >= max(best, silence, loop):
            return []
        if best <= max(silence, loop):
            if silence >= loop:
                return []
            _, now, at = trace.filler[-1]
            if at < 0:
                return []
            state = at
        state = int(state)
        while now > 0:
            nodes, values, began = trace.ends[now - 1]
            chains = graph.node_chain[nodes]
            fits = np.flatnonzero(graph.chain_target[chains] == state)
            if not len(fits):
                break
            found = fits[values[fits].argmax()]
            chain, start = int(chains[found]), int(began[found])
            path.append((chain, start, now))
            source = self._source(chain, trace.reach[start])
            origin, now = self._origin(source, trace, start)
            if origin < 0:
                break
            state = origin
        return path[::-1]

    def _source(self, chain: int, reach: Reals) -> int:
        graph = self.graph
        first = graph.chain_arcs[chain]
        sources = graph.arc_source[first : self._arc_ends[chain]]
        return int(sources[reach[sources].argmax()])

    def _origin(self, source: int, trace: Trace, now: int) -> tuple[int, int]:
        """State that a word before led to, and when; -1 at the start of the transmission."""
        graph = self.graph
        if now == 0:
            return -1, 0
        states = graph.silent_from[graph.silent_to == source]
        nodes, values, _ = trace.ends[now - 1]
        targets = graph.chain_target[graph.node_chain[nodes]]
        fits = np.isin(targets, states)
        best = values[fits].max(initial=0.0)
        if self._at_start[source]:
            loop, since, at = trace.filler[now - 1]
            if max(trace.silence[now - 1], loop) >= best:
                return (at, since) if loop > trace.silence[now - 1] else (-1, 0)
        if best == 0:
            return -1, 0
        return int(targets[fits][values[fits].argmax()]), now

    def _backward(
        self, steps: Reals, filler: Reals, trace: Trace, total: Reals
    ) -> list[tuple[Ints, Reals]]:
        """For each step, the chains entered there and how probable that is."""
        graph = self.graph
        whole = float(total[2:].sum()) or 1.0
        into_filler = np.exp(-self.settings.filler_entry)
        live = trace.live[-1]
        after = graph.accepts.astype(np.float64)
        rest = np.zeros((2, len(live)))
        rest += after[graph.chain_target[graph.node_chain[live]]] * graph.node_is_last[live]
        loop = 1.0
        ahead, ahead_blank = np.zeros(len(graph.node_phone) + 1), np.zeros(len(graph.node_phone))
        straight = np.append(~graph.node_repeats, True)
        entered: list[tuple[Ints, Reals]] = [(np.zeros(0, np.int64), np.zeros(0))] * len(steps)
        for now in range(len(steps) - 1, -1, -1):
            step, scale = steps[now], trace.scales[now]
            ahead[live] = rest[0] * step[graph.node_phone[live]] / scale
            ahead_blank[live] = rest[1] * (step[BLANK] / scale)
            first = np.flatnonzero(graph.node_is_first[live])
            chains, into = graph.node_chain[live[first]], ahead[live[first]]
            entered[now] = (chains, trace.entries[now][first] * into / whole)
            if now == 0:
                break
            after, at_start = self._states_ahead(chains, into)
            through = filler[now] * loop / scale
            after = after + graph.accepts * (into_filler * through)
            loop = through + at_start
            before = trace.live[now - 1]
            ends = graph.node_is_last[before]
            onward = ahead[before + 1] * ~ends
            stay = ahead_blank[before]
            fresh = np.empty((2, len(before)))
            fresh[1] = stay + onward
            fresh[0] = stay + ahead[before] + onward * straight[before + 1]
            fresh += after[graph.chain_target[graph.node_chain[before]]] * ends
            ahead[live], ahead_blank[live] = 0, 0
            live, rest = before, np.minimum(fresh, 1e250)
        return entered

    def _states_ahead(self, chains: Ints, values: Reals) -> tuple[Reals, float]:
        """Summed value of going on from each state, and from the start."""
        graph = self.graph
        arcs, owners = spread(graph.chain_arcs[chains], self._arc_ends[chains])
        states = summed_at(graph.arc_source[arcs], values[owners], graph.states)
        reaching = summed_at(graph.silent_from, states[graph.silent_to], graph.states)
        return reaching, float(states[self._at_start].sum())

    def _fits(self, path: list[tuple[int, int, int]], trace: Trace, steps: Reals) -> list[float]:
        """How much less probable each word is than the likeliest phones, in nats per phone."""
        graph, scales = self.graph, np.log(trace.scales)
        free = np.log(steps.max(axis=1))
        fits = []
        for chain, start, end in path:
            nodes, values, _ = trace.ends[end - 1]
            ended = values[graph.node_chain[nodes] == chain].max()
            began = trace.reach[start][self._source(chain, trace.reach[start])]
            gained = np.log(ended) - np.log(began) + scales[start:end].sum()
            fits.append(float(gained - free[start:end].sum()) / int(self._lengths[chain]))
        return fits

    def _describe(
        self,
        path: list[tuple[int, int, int]],
        entered: list[tuple[Ints, Reals]],
        steps: Reals,
        times: Ints,
        fits: list[float],
    ) -> list[Heard]:
        sounding = steps.argmax(axis=1) != BLANK
        said = [int(self.graph.values[chain]) for chain, _, _ in path]
        found = []
        for number, ((chain, start, end), fit) in enumerate(zip(path, fits, strict=True)):
            sure = np.flatnonzero(sounding[start:end])
            stop = start + (int(sure[-1]) if len(sure) else 0)
            near = np.abs(times - times[start]) <= self.settings.slack
            shares = self._values_near(np.flatnonzero(near), entered)
            found.append(
                Heard(
                    word=self.graph.words[chain],
                    start=int(times[start]),
                    end=int(times[stop]) + 1,
                    probability=float(min(shares.get(said[number], 0.0), 1.0)),
                    fit=fit,
                    phones=int(self._lengths[chain]),
                    rivals=self._rivals(shares, said[max(0, number - 1) : number + 2]),
                )
            )
        return found

    def _rivals(self, shares: dict[int, float], said: list[int]) -> tuple[tuple[str, float], ...]:
        """What else may have been said; the words before and after may begin as near."""
        others = [(share, value) for value, share in shares.items() if value not in said]
        best = sorted(others, reverse=True)[:3]
        return tuple((self._name(value), share) for share, value in best if share > 1e-3)

    def _values_near(self, steps: Ints, entered: list[tuple[Ints, Reals]]) -> dict[int, float]:
        chains = np.concatenate([entered[step][0] for step in steps])
        shares = np.concatenate([entered[step][1] for step in steps])
        summed = np.bincount(self.graph.values[chains], shares)
        return {int(value): float(summed[value]) for value in np.flatnonzero(summed > 1e-6)}

    def _name(self, value: int) -> str:
        return self.graph.words[int(np.flatnonzero(self.graph.values == value)[0])]


def greatest(values: Reals, least: float, most: int) -> Ints:
    """Where values are more than the least; the ``most`` greatest, should there be more of them."""
    found = np.flatnonzero(values > least)
    if len(found) <= most:
        return found
    return np.sort(found[np.argpartition(values[found], -most)[-most:]])


def summed_at(places: Ints, values: Reals, count: int) -> Reals:
    """Sum values that share a place, (count)."""
    return np.bincount(places, values, count).astype(np.float64, copy=False)


def spread(starts: Ints, ends: Ints) -> tuple[Ints, Ints]:
    """List the numbers of several ranges one after the other, and which range each is of."""
    sizes = ends - starts
    owners = np.repeat(np.arange(len(sizes)), sizes)
    offsets = np.cumsum(sizes) - sizes
    return np.arange(len(owners)) - offsets[owners] + starts[owners], owners
