"""From the end of speech to the verdict, fed in real time, and how long a key waits meanwhile.

Run: ``python -m tests.benchmarks.bench_live [ENGINE] [COUNT]``; prints counts, median and 95th
percentile. To hold: 0.5 s median and 1 s at the 95th percentile on 2 cores, 5 partial results a
second, 50 ms for a key.
"""

import asyncio
import sys
import time
from collections.abc import Iterator
from statistics import median, quantiles

import numpy as np
from textual.widgets import Input

from readback.judging.check import check
from readback.phraseology.grammar import load_grammar
from readback.screens.app import ReadbackApp
from readback.speech.engines import default_engine, make_recogniser
from readback.speech.live import LiveListener
from readback.speech.segments import POST_ROLL_S, Segmenter
from tests.live.fakes import RECORDINGS, fake_microphone, in_blocks, quiet, read_speech
from tests.screens.fakes import make_services

BLOCK_S = 0.05
LEAD_S, TAIL_S = 0.6, 2.5


class RealTime:
    """Blocks that come when they would be spoken; remembers when speech ended."""

    def __init__(self, file: str) -> None:
        sound = np.concatenate([quiet(LEAD_S), read_speech(file), quiet(TAIL_S)])
        segmenter = Segmenter()
        pcm = np.rint(sound * 32_767).astype(np.int16)
        ends = [one.end_s for one in (*segmenter.feed(pcm), *segmenter.finish())]
        self.speech_s = ends[0] - POST_ROLL_S
        self.began = 0.0
        self._blocks = in_blocks(sound, round(BLOCK_S * 16_000))

    def __iter__(self) -> Iterator[np.ndarray]:
        self.began = time.perf_counter()
        for number, block in enumerate(self._blocks, start=1):
            time.sleep(max(0.0, self.began + number * BLOCK_S - time.perf_counter()))
            yield block


def measure(engine: str, count: int) -> None:
    grammar = load_grammar().search(grouped_numbers=engine != "pocketsphinx")
    recogniser = make_recogniser(engine, grammar)
    instruction = "larkspur four two one hold short of runway two seven left"
    check(instruction, instruction)  # Loads the grammar and the rules once.
    delays, partials_a_second = [], []
    files = sorted(path.name for path in RECORDINGS.glob("*.flac"))
    files = [files[number % len(files)] for number in range(count)]
    try:
        for file in files:
            sound = RealTime(file)
            partials: list[float] = []
            live = LiveListener(fake_microphone(sound), recogniser)
            take = live.hear(
                seconds=20.0, on_partial=lambda _, at=partials: at.append(time.perf_counter())
            )
            check(instruction, take.transmission)
            delays.append(time.perf_counter() - sound.began - sound.speech_s)
            span = partials[-1] - partials[0]
            partials_a_second.append((len(partials) - 1) / span)
        key_ms = asyncio.run(measure_keys(recogniser, files[0]))
    finally:
        recogniser.close()
    print(
        f"{engine}, {count} transmissions in real time: end of speech to verdict median"
        f" {median(delays):.2f} s, 95th percentile {_p95(delays):.2f} s, worst {max(delays):.2f} s;"
        f" partial results a second: median {median(partials_a_second):.1f}, least"
        f" {min(partials_a_second):.1f}; {len(key_ms)} keys while it decoded: median"
        f" {median(key_ms):.0f} ms, 95th percentile {_p95(key_ms):.0f} ms,"
        f" worst {max(key_ms):.0f} ms"
    )


async def measure_keys(recogniser, file: str) -> list[float]:
    """Press a key again and again while the Self-check screen listens."""
    services = make_services(recogniser=recogniser, microphone=fake_microphone(RealTime(file)))
    app = ReadbackApp(services, first="self_check")
    waits = []
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.5)
        await pilot.press("f2")
        while app.screen.doing != "listening":
            await pilot.pause(0.01)
        field = app.screen.query_one("#readback", Input)
        field.focus()
        await pilot.pause()
        while app.screen.doing == "listening":
            start = time.perf_counter()
            app.simulate_key("x")
            length = len(field.value)
            while len(field.value) == length and time.perf_counter() - start < 5.0:
                await asyncio.sleep(0.001)
            waits.append(1000 * (time.perf_counter() - start))
            await asyncio.sleep(0.05)
    return waits


def _p95(values: list[float]) -> float:
    return quantiles(values, n=20)[-1] if len(values) > 1 else values[0]


if __name__ == "__main__":
    measure(
        sys.argv[1] if len(sys.argv) > 1 else default_engine(),
        int(sys.argv[2]) if len(sys.argv) > 2 else 29,
    )
