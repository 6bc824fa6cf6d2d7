"""How soon a verdict follows speech, and whether a transmission is found whole.

Run: ``python -m tests.benchmarks.bench_live [ENGINE] [COUNT]``. Readbacks of the measuring set, in
turn clean, over radio and over interphone at 20 dB, are fed in real time; end of speech is the last
sample over 2 % of the loudest of the clean clip. To hold: 0.5 s median and 1 s at the 95th
percentile on 2 cores, 5 partial results a second, 50 ms for a key, and no more transmissions cut
or merged than with a pause of fixed length.
"""

import asyncio
import os
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median, quantiles

import numpy as np
from textual.widgets import Input

from readback.data import data_directory
from readback.judging.check import check
from readback.judging.completeness import is_complete
from readback.judging.model import Verdict
from readback.measure.conditions import Condition
from readback.measure.joined import speech_span
from readback.measure.labels import Labelled, read_labels
from readback.measure.observe import read_samples
from readback.phraseology.grammar import load_grammar
from readback.screens.app import ReadbackApp
from readback.speech.engines import default_engine, make_recogniser
from readback.speech.live import LiveListener
from readback.speech.recogniser import Recogniser
from readback.speech.segments import HANG_S, Segmenter
from readback.transmission import Transmission
from tests.live.fakes import AtOnce, fake_microphone, in_blocks, quiet
from tests.screens.fakes import make_services

BLOCK_S = 0.05
LEAD_S, TAIL_S = 0.6, 1.5
GAP_S = 1.0
"""Between the speech of two transmissions."""
PAUSES_S = (0.0, 0.3, 0.5, 0.7)
"""Of a speaker who hesitates in the middle of a transmission; 0: as it was spoken."""
CHANNELS = (Condition(channel="clean"), Condition(channel="radio", snr_db=20.0))
CHANNELS += (Condition(channel="interphone", snr_db=20.0),)


@dataclass(frozen=True)
class Spoken:
    """One readback as it comes into a microphone."""

    label: Labelled
    sound: np.ndarray
    began_s: float
    ended_s: float
    """First and last sound of its speech, seconds."""


def spoken(label: Labelled, condition: Condition, pause_s: float = 0.0) -> Spoken:
    clip = read_samples(label.file)
    if pause_s:
        clip = hesitating(clip, pause_s)
    began, ended = speech_span(clip)
    sent = condition.send(clip, label.file.name)
    sound = np.concatenate([quiet(LEAD_S), sent, quiet(TAIL_S)])
    return Spoken(label, sound, LEAD_S + began, LEAD_S + ended)


def hesitating(clip: np.ndarray, pause_s: float) -> np.ndarray:
    """Lengthen the quietest moment in the middle half of a clip."""
    power = np.convolve(clip**2, np.ones(320) / 320, mode="same")
    quarter = len(clip) // 4
    at = quarter + int(np.argmin(power[quarter : 3 * quarter]))
    return np.concatenate([clip[:at], np.zeros(round(pause_s * 16_000)), clip[at:]])


class RealTime:
    """Blocks that come when they would be spoken."""

    def __init__(self, sound: np.ndarray) -> None:
        self.began = 0.0
        self._blocks = in_blocks(sound, round(BLOCK_S * 16_000))

    def __iter__(self) -> Iterator[np.ndarray]:
        self.began = time.perf_counter()
        for number, block in enumerate(self._blocks, start=1):
            time.sleep(max(0.0, self.began + number * BLOCK_S - time.perf_counter()))
            yield block


# ---- how soon ------------------------------------------------------------------------------------


def measure_verdicts(recogniser: Recogniser, takes: list[Spoken]) -> None:
    delays: dict[str, list[float]] = {"complete": [], "not complete": []}
    rates, early = [], 0
    for take in takes:
        fed = RealTime(take.sound)
        partials: list[float] = []
        live = LiveListener(fake_microphone(fed), recogniser)
        heard = live.hear(
            seconds=20.0,
            on_partial=lambda _, at=partials: at.append(time.perf_counter()),
            is_complete=lambda said, label=take.label: is_complete(judge(label, said)),
        )
        verdict = judge(take.label, heard.transmission)
        delay = time.perf_counter() - fed.began - take.ended_s
        early += delay < 0
        delays["complete" if is_complete(verdict) else "not complete"].append(delay)
        rates.append((len(partials) - 1) / (partials[-1] - partials[0]))
    both = [*delays["complete"], *delays["not complete"]]
    _print_head("hands-free", "takes")
    for name, some in {**delays, "all": both}.items():
        if some:
            print(f"| {name} | {len(some)} | {_figures(some)} |")
    print(
        f"\nEnded before the speech did: {early} of {len(both)}. Partial results a second: median"
        f" {median(rates):.1f}, least {min(rates):.1f}."
    )


def measure_release(recogniser: Recogniser, takes: list[Spoken]) -> None:
    """Let the key go 0.1 s after speech; the delay counts from there."""
    delays = []
    for take in takes:
        fed = RealTime(take.sound)
        live = LiveListener(fake_microphone(fed), recogniser)
        released = take.ended_s + 0.1
        key = threading.Timer(released, live.release)
        key.start()
        heard = live.hear(hands_free=False, seconds=60.0)
        judge(take.label, heard.transmission)
        delays.append(time.perf_counter() - fed.began - released)
    _print_head("push to talk", "takes")
    print(f"| from the release | {len(delays)} | {_figures(delays)} |")


def judge(label: Labelled, heard: Transmission) -> Verdict:
    return check(label.instruction, heard, authority=label.authority, callsign=label.callsign)


# ---- found whole ---------------------------------------------------------------------------------


class OnlyInPauses:
    """Hears when a pause asks for it alone: partial results are not needed here."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser = recogniser
        self._fed = b""

    def feed(self, pcm: bytes) -> Transmission:
        self._fed += pcm
        return Transmission()

    def settle(self) -> Transmission:
        return self._recogniser.recognise(self._fed)

    def finish(self) -> Transmission:
        self._fed = b""
        return Transmission()


def measure_cuts(recogniser: Recogniser, labels: Sequence[Labelled]) -> None:
    """Find each transmission with the next one `GAP_S` after it."""
    print(f"\n| pause in it | transmissions | cut, merged after {HANG_S} s | cut, merged now |")
    print("|---|---|---|---|")
    for pause_s in PAUSES_S:
        counts = np.zeros(4, int)
        for number, label in enumerate(labels):
            condition = CHANNELS[number % len(CHANNELS)]
            first = spoken(label, condition, pause_s)
            second = spoken(labels[number - 1], condition)
            rest = second.sound[round(second.began_s * 16_000) :]
            gap = quiet(GAP_S - 0.1, seed=number)
            whole = first.sound[: round((first.ended_s + 0.1) * 16_000)]
            sound = np.concatenate([whole, gap, rest])
            for place, ended_s in enumerate(
                (fixed_end(sound), adaptive_end(recogniser, sound, label))
            ):
                counts[2 * place] += ended_s < first.ended_s
                counts[2 * place + 1] += ended_s > first.ended_s + GAP_S + 0.2
        pause = f"{pause_s} s" if pause_s else "none added"
        before, now = (f"{counts[at]}, {counts[at + 1]}" for at in (0, 2))
        print(f"| {pause} | {len(labels)} | {before} | {now} |", flush=True)


def fixed_end(sound: np.ndarray) -> float:
    """When the first transmission ends where a pause of `HANG_S` ends each, seconds."""
    segmenter = Segmenter()
    for number, block in enumerate(in_blocks(sound), start=1):
        if segmenter.feed(np.rint(block * 32_767).astype(np.int16)):
            return number * BLOCK_S
    return len(sound) / 16_000


def adaptive_end(recogniser: Recogniser, sound: np.ndarray, label: Labelled) -> float:
    """When the live path ends it."""
    microphone = AtOnce(sound)
    live = LiveListener(microphone, OnlyInPauses(recogniser))
    live.hear(seconds=60.0, is_complete=lambda said: is_complete(judge(label, said)))
    return microphone.blocks_read * BLOCK_S


# ---- a key meanwhile -----------------------------------------------------------------------------


async def measure_keys(recogniser: Recogniser, take: Spoken) -> None:
    """Press a key again and again while the Self-check screen listens."""
    microphone = fake_microphone(RealTime(take.sound))
    app = ReadbackApp(
        make_services(recogniser=recogniser, microphone=microphone), first="self_check"
    )
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
            waits.append(time.perf_counter() - start)
            await asyncio.sleep(0.05)
    _print_head("keys while it hears", "keys")
    print(f"| until the letter stands there | {len(waits)} | {_figures(waits, 3)} |")


def _print_head(what: str, counted: str) -> None:
    print(f"\n| {what} | {counted} | median | 95th percentile | worst |\n|---|---|---|---|---|")


def _figures(seconds: list[float], digits: int = 2) -> str:
    p95 = quantiles(seconds, n=20, method="inclusive")[-1] if seconds[1:] else seconds[0]
    return " | ".join(f"{one:.{digits}f} s" for one in (median(seconds), p95, max(seconds)))


def main(engine: str, count: int) -> None:
    folder = data_directory("audio_demo_synth") / "measure_set"
    labels = [one for one in read_labels(folder) if one.split != "tuning"]
    chosen = [labels[number * len(labels) // count] for number in range(count)]
    takes = [spoken(one, CHANNELS[number % 3]) for number, one in enumerate(chosen)]
    grammar = load_grammar().search(grouped_numbers=False)
    recogniser = make_recogniser(engine, grammar)
    judge(labels[0], Transmission())  # Loads the grammar and the rules once.
    print(f"{engine}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    try:
        measure_verdicts(recogniser, takes)
        measure_release(recogniser, takes[: count // 2])
        measure_cuts(recogniser, labels)
        asyncio.run(measure_keys(recogniser, takes[0]))  # The app ends the recogniser.
    finally:
        recogniser.close()


if __name__ == "__main__":
    main(
        sys.argv[1] if len(sys.argv) > 1 else default_engine(),
        int(sys.argv[2]) if len(sys.argv) > 2 else 48,
    )
