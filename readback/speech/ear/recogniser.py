"""The ear behind `readback.speech.recogniser.Recogniser`."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from readback.errors import RecogniserError
from readback.search import Arc, SearchGrammar
from readback.speech.channel_finding import above_noise_db
from readback.speech.ear.calibration import Calibration, load_calibration, noise_of
from readback.speech.ear.decoder import Decoder, Heard
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.network import MODEL, Network
from readback.speech.ear.phones import FRAME_S
from readback.speech.ear.readings import share_probability
from readback.speech.engine_errors import engine_errors
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.transmission import Transmission, Word

LEAD_S = 0.2
"""Silence put before and after: training had a lead, and a word cut short needs its blanks."""
FLOOR = 2e-4
"""Noise added everywhere, -74 dB: training never had digital silence."""
QUIET = 16
"""Sound that never leaves this many of 32,768 steps is silence."""
WINDOW_S, MARGIN_S = 10.0, 1.0
"""Longer sound is heard in windows: training had none over 11 s."""
MOST_READINGS = 60
"""Readings that are weighed: more changed no verdict on the tuning voices."""
PARTIAL_S = 0.18
"""Partial results are renewed when so much more was fed."""


class EarRecogniser:
    """Hears with the ear over the word graph of a grammar, always the whole of it.

    Args:
        grammar: All that may be said.
        model: The network; the shipped one unless a test or a retraining names another.

    Raises:
        RecogniserError: The model or onnxruntime is missing, or a word cannot be said.
    """

    name = "ear"
    sample_rate_hz = SAMPLE_RATE_HZ

    def __init__(self, grammar: SearchGrammar, *, model: Path = MODEL) -> None:
        with engine_errors(self.name):
            self.calibration: Calibration = load_calibration(model.with_suffix(".json"))
            self._network: Network | None = Network(model)
            self._decoder = Decoder(compile_graph(grammar), self.calibration.settings)
            self._pronunciations = grammar.pronunciations
        self._fed = bytearray()
        self._partial, self._partial_at = Transmission(), 0

    def recognise(self, pcm: bytes) -> Transmission:
        """See `Recogniser.recognise`."""
        with engine_errors(self.name):
            heard, readings = self._decoder.decode_all(self.phones(pcm), MOST_READINGS)
            words = self.calibration.accept(heard)
            if not words:
                return Transmission()
            noise = noise_in(pcm)
            return Transmission(
                words=tuple(self._word(word, noise) for word in words),
                alternatives=share_probability(readings, self.calibration.sharpness(noise)),
            )

    def hear(self, pcm: bytes) -> tuple[Heard, ...]:
        """Hear one whole transmission as `recognise` does, with the rivals of every word.

        Args:
            pcm: As for `recognise`.

        Returns:
            The words, ``start`` and ``end`` in steps of 20 ms that begin `LEAD_S` before the sound.
        """
        probabilities = self.phones(pcm)
        return self.calibration.accept(self._decoder.decode(probabilities))

    def odds(self, pcm: bytes, heard: Sequence[str], instructed: Sequence[str]) -> float:
        """Weigh two readings of the same sound, for values that a radio makes alike.

        Args:
            pcm: As for `recognise`.
            heard: The words of one reading, all of the grammar.
            instructed: The words of the other.

        Returns:
            Natural log of how many times as probable the first is, by the network alone: 0 for
            silence, else positive where the sound speaks for ``heard``.

        Raises:
            RecogniserError: A word has no pronunciation in the grammar.
        """
        with engine_errors(self.name):
            probabilities = self.phones(pcm)
            if not len(probabilities):
                return 0.0
            sums = [self._reading(words).log_sum(probabilities) for words in (heard, instructed)]
        return sums[0] - sums[1]

    def _reading(self, words: Sequence[str]) -> Decoder:
        """A search for these words and nothing else, unpruned."""
        arcs = tuple(Arc(at, at + 1, word) for at, word in enumerate(words))
        only = SearchGrammar("", self._pronunciations, (), arcs, frozenset({len(words)}))
        settings = replace(self.calibration.settings, beam=0.0, filler_entry=1e3)
        return Decoder(compile_graph(only), settings)

    def phones(self, pcm: bytes) -> npt.NDArray[np.float32]:
        """Give the network's log-probabilities, (steps, phones); no steps for silence."""
        if self._network is None:
            raise RecogniserError("ear: the recogniser is closed.", "Make a new one.")
        samples = np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2")
        if not len(samples) or int(np.abs(samples.astype(np.int32)).max()) < QUIET:
            return np.zeros((0, 0), np.float32)
        lead = np.zeros(int(LEAD_S * SAMPLE_RATE_HZ), np.float32)
        scaled = samples.astype(np.float32) / 32768
        # The network was trained on sound between -30 and 0 dB of full scale.
        scaled = scaled * max(1.0, 0.1 / float(np.abs(scaled).max()))
        sound = np.concatenate([lead, scaled, lead])
        sound = sound + np.random.default_rng(0).normal(0, FLOOR, len(sound)).astype(np.float32)
        return hear_long(self._network, sound)

    def feed(self, pcm: bytes) -> Transmission:
        """See `Recogniser.feed`; hears all that was fed anew, at most every `PARTIAL_S`."""
        self._fed += pcm
        if len(self._fed) - self._partial_at >= 2 * PARTIAL_S * SAMPLE_RATE_HZ:
            return self.settle()
        return self._partial

    def settle(self) -> Transmission:
        """See `Recogniser.settle`; the same as `recognise` of all that was fed."""
        if len(self._fed) != self._partial_at:
            self._partial = self.recognise(bytes(self._fed))
            self._partial_at = len(self._fed)
        return self._partial

    def finish(self) -> Transmission:
        """See `Recogniser.finish`; the same as `recognise` of all that was fed."""
        try:
            return self.settle()
        finally:
            self._fed = bytearray()
            self._partial, self._partial_at = Transmission(), 0

    def close(self) -> None:
        """See `Recogniser.close`."""
        self._network = None

    def _word(self, heard: Heard, noise: float) -> Word:
        return Word(
            word=heard.word,
            start=max(0.0, round(heard.start * FRAME_S - LEAD_S, 3)),
            end=max(0.0, round(heard.end * FRAME_S - LEAD_S, 3)),
            certainty=round(self.calibration.certainty(heard, noise), 3),
        )


def noise_in(pcm: bytes) -> float:
    """Tell from 0 to 1 how much the speech of a transmission drowns in noise."""
    return noise_of(above_noise_db(np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2")))


def hear_long(network: Network, sound: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Run the network over sound of any length, in overlapping windows where it is long."""
    window, margin = int(WINDOW_S * SAMPLE_RATE_HZ), int(MARGIN_S * SAMPLE_RATE_HZ)
    if len(sound) <= window + 2 * margin:
        return network.hear(sound)
    edge = round(MARGIN_S / FRAME_S)
    parts = []
    for at in range(0, len(sound), window):
        first, last = max(0, at - margin), min(len(sound), at + window + margin)
        if last - at < margin:
            break  # the window before has heard it within its margin
        steps = network.hear(sound[first:last])
        whole = len(sound) - (at + window) < margin
        parts.append(steps[edge if at else 0 : None if whole else -edge])
        if whole:
            break
    return np.concatenate(parts)
