"""An hour of continuous listening, fed faster than real time: does memory stay flat?

Run: ``python -m tests.benchmarks.bench_hour [ENGINE] [MINUTES]``; takes a fifth of the minutes. A
readback of the measuring set every 20 s with the hiss of a line between, at 44.1 kHz; prints the
memory of this process and of the recogniser's after each tenth of the time, and what was heard.
"""

import sys
import time
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import numpy as np
import soxr

from readback.data import data_directory
from readback.measure.labels import read_labels
from readback.measure.observe import read_samples
from readback.phraseology.grammar import load_grammar
from readback.speech.engines import default_engine, make_recogniser
from readback.speech.live import Ended, LiveListener
from readback.speech.microphone import BLOCK_S
from tests.live.fakes import fake_microphone, quiet

EVERY_S = 20.0
SPEED = 5
RATE_HZ = 44_100
BLOCK = round(RATE_HZ * BLOCK_S)


class Line:
    """The blocks of a line, `SPEED` times as fast as they are spoken."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.given_s = 0.0

    def __iter__(self) -> Iterator[np.ndarray]:
        labels = read_labels(data_directory("audio_demo_synth") / "measure_set")
        began = time.perf_counter()
        for number, label in enumerate(cycle(labels)):
            speech = read_samples(label.file)
            rest = quiet(EVERY_S - len(speech) / 16_000, seed=number)
            whole = soxr.resample(np.concatenate([speech, rest]) + quiet(EVERY_S), 16_000, RATE_HZ)
            for start in range(0, len(whole), BLOCK):
                if self.given_s >= self.seconds:
                    return
                self.given_s += BLOCK_S
                time.sleep(max(0.0, began + self.given_s / SPEED - time.perf_counter()))
                yield whole[start : start + BLOCK]


def resident_mb(process: int | str) -> float:
    """Memory of a process that is in use, as Linux tells it."""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    return 0.0


def main(engine: str, minutes: float) -> None:
    recogniser = make_recogniser(engine, load_grammar().search(grouped_numbers=False))
    line = Line(60 * minutes)
    microphone = fake_microphone(line, sample_rate_hz=RATE_HZ)
    live = LiveListener(microphone, recogniser)
    takes = words = 0
    next_s = line.seconds / 10
    print("| minutes | takes | this process | recogniser |\n|---|---|---|---|")
    try:
        with live.kept_open():
            while (take := live.hear(seconds=EVERY_S)).ended is Ended.PAUSE:
                takes += 1
                words += len(take.transmission.words)
                if line.given_s >= next_s:
                    next_s += line.seconds / 10
                    own, its = resident_mb("self"), resident_mb(recogniser.pid)
                    at = f"{line.given_s / 60:.0f}"
                    print(f"| {at} | {takes} | {own:.0f} MB | {its:.0f} MB |", flush=True)
    finally:
        recogniser.close()
    print(
        f"\n{engine}: {line.given_s / 60:.0f} minutes of sound, {takes} takes, {words} words,"
        f" samples lost {microphone.overflows} times"
    )


if __name__ == "__main__":
    main(
        sys.argv[1] if len(sys.argv) > 1 else default_engine(),
        float(sys.argv[2]) if len(sys.argv) > 2 else 60.0,
    )
