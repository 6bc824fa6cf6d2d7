"""Measure whether fitting the ear to a voice, from ten calls read aloud, lowers its errors.

    python -m audio_demo_synth.ear.fit_speaker TUNING --levels clean 10

TUNING is a folder that ``measure_set.py`` made. Of each voice the first ten readbacks enrol it: of
`WARPS` (bands moved as by another length of the vocal tract) and then `TILTS` (a slope over the
bands, as of another microphone) those are taken under which the ten known texts are most probable.
All later readbacks of the voice are then heard as they are and fitted, with the whole grammar.
"""

import argparse
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from audio_demo_synth.ear.report import (
    Task,
    grammar_of,
    norm,
    readback_tasks,
    spoil,
    word_errors,
)
from readback.phraseology.grammar import load_grammar
from readback.speech.ear.network import Network
from readback.speech.ear.phones import MEL_BANDS
from readback.speech.ear.recogniser import EarRecogniser
from readback.speech.ear.spectrum import log_mel

WARPS = (1.0, 0.9, 0.94, 0.97, 1.03, 1.06, 1.1)
TILTS = (0.0, -0.2, -0.1, 0.1, 0.2)
"""From the lowest to the highest band, in the network's units: 0.1 is 4 dB."""
ENROLLED = 10


class FittedNetwork(Network):
    """The ear's network behind a warp and a tilt."""

    warp, tilt = WARPS[0], TILTS[0]

    def hear(self, samples: np.ndarray) -> np.ndarray:
        """See `Network.hear`."""
        mel = log_mel(samples)
        at = np.clip(np.arange(MEL_BANDS) * self.warp, 0, MEL_BANDS - 1.001)
        low, part = at.astype(int), (at % 1)[:, None]
        mel = mel[low] * (1 - part) + mel[low + 1] * part
        mel = mel + self.tilt * np.linspace(-0.5, 0.5, MEL_BANDS)[:, None]
        (found,) = self._session.run(None, {self.input_name: mel[None].astype(np.float32)})
        return np.asarray(found[0], np.float32)


def enrol(ear: EarRecogniser, network: FittedNetwork, sounds: Sequence[tuple[str, bytes]]) -> None:
    """Set the warp, then the tilt, under which the known texts are most probable."""

    def score() -> float:
        return sum(
            ear._reading(text.split()).log_sum(ear.phones(pcm))  # a measurement, not a user
            for text, pcm in sounds
        )

    for name, values in (("warp", WARPS), ("tilt", TILTS)):
        scores = []
        for value in values:
            setattr(network, name, value)
            scores.append(score())
        setattr(network, name, values[int(np.argmax(scores))])


def errors(ear: EarRecogniser, sounds: Sequence[tuple[str, bytes]]) -> int:
    """Word errors with the whole grammar."""
    heard = [norm(" ".join(word.word for word in ear.hear(pcm))) for _, pcm in sounds]
    texts = [norm(text) for text, _ in sounds]
    return sum(word_errors(text, said) for text, said in zip(texts, heard, strict=True))


def main() -> None:
    """Measure voice by voice."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--levels", nargs="+", default=["clean", "10"])
    options = parser.parse_args()
    vocabulary = set(load_grammar().vocabulary)
    voices: dict[str, list[Task]] = defaultdict(list)
    for task in readback_tasks(options.folder):
        if set(task.text.split()) <= vocabulary:
            voices[task.voice].append(task)
    ear = EarRecogniser(grammar_of("sentence"))
    network = FittedNetwork()
    ear._network = network
    for level in options.levels:
        totals = np.zeros(3, int)
        for voice, tasks in sorted(voices.items()):
            sounds = [(task.text, spoil(task.samples, level, n)) for n, task in enumerate(tasks)]
            network.warp, network.tilt = WARPS[0], TILTS[0]
            before = errors(ear, sounds[ENROLLED:])
            enrol(ear, network, sounds[:ENROLLED])
            after = errors(ear, sounds[ENROLLED:])
            words = sum(len(text.split()) for text, _ in sounds[ENROLLED:])
            totals += [before, after, words]
            chosen = f"warp {network.warp}, tilt {network.tilt}"
            print(f"{level} {voice}: {before} -> {after} of {words} words ({chosen})", flush=True)
        print(f"{level} all: {totals[0]} -> {totals[1]} of {totals[2]} words", flush=True)


if __name__ == "__main__":
    main()
