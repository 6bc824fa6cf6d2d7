"""How soon a screen answers a key while a recogniser decodes.

Run: ``python -m tests.benchmarks.bench_screen [ENGINE] [TAKES]``. The Practise screen listens to
readbacks of the measuring set, fed in real time; meanwhile a letter is typed again and again, and
waited for until the screen was drawn with it. The same in Replay while it hears an hour of the
shipped recordings. To hold: 50 ms on 2 cores.
"""

import asyncio
import os
import sys
import tempfile
import time
from pathlib import Path
from statistics import median, quantiles

import numpy as np
import soundfile
from textual.widgets import Input

from readback.data import data_directory
from readback.measure.labels import read_labels
from readback.phraseology.grammar import load_grammar
from readback.screens.app import ReadbackApp
from readback.screens.services import open_services
from readback.speech.engines import default_engine, make_recogniser
from readback.speech.recogniser import Recogniser
from tests.benchmarks.bench_live import CHANNELS, RealTime, Spoken, spoken
from tests.live.fakes import fake_microphone
from tests.screens.fakes import make_services

BETWEEN_S = 0.05
"""Between an answer and the next key; fast typing is 0.1 s from key to key."""


async def measure(recogniser: Recogniser | None, takes: list[Spoken]) -> list[float]:
    """Type while each take is heard, or for as long where nothing is heard.

    Returns:
        Seconds from each key until the screen was drawn with its letter.
    """
    waits = []
    sounds = iter(takes)
    services = make_services(recogniser=recogniser)
    services.make_microphone = lambda: (
        fake_microphone(RealTime(next(sounds).sound)),
        "measuring set",
    )
    app = ReadbackApp(services, first="practise")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.5)
        for take in takes:
            until = time.perf_counter() + len(take.sound) / 16_000 - 0.5
            if recogniser is not None:
                services.choose_another_microphone()
                await pilot.press("f2")
                while app.screen.doing != "listening":
                    await pilot.pause(0.01)
            while time.perf_counter() < until:
                waits.append(await _wait_for_key(app))
                await asyncio.sleep(BETWEEN_S)
            if recogniser is not None:
                await pilot.press("escape")
            app.screen.query_one("#answer", Input).value = ""
    return waits


async def measure_replay(engine: str, path: Path) -> list[float]:
    """Type into Replay until a recording is heard and judged."""
    waits = []
    services = open_services(engine=engine)
    app = ReadbackApp(services, first="replay")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.5)
        field = app.screen.query_one("#path", Input)
        field.focus()
        field.value = str(path)
        await pilot.press("enter")
        while app.screen.doing == "hearing":
            field.value = ""
            waits.append(await _wait_for_key(app, "#path"))
            await asyncio.sleep(BETWEEN_S)
        assert app.screen.session is not None
    services.close()
    return waits


def an_hour(folder: Path) -> Path:
    """Join the shipped recordings, one every 20 s, with a quiet line between."""
    path, rng = folder / "hour.flac", np.random.default_rng(1)
    recordings = sorted((data_directory("audio_demo_synth") / "recordings").glob("*.flac"))
    with soundfile.SoundFile(path, "w", 16_000, 1) as file:
        for number in range(180):
            line = rng.normal(0, 1e-4, 20 * 16_000)
            samples, _ = soundfile.read(recordings[number % len(recordings)], always_2d=True)
            line[: len(samples)] += samples.sum(axis=1)
            file.write(line)
    return path


async def _wait_for_key(app: ReadbackApp, name: str = "#answer") -> float:
    field = app.screen.query_one(name, Input)
    length, drawn = len(field.value), asyncio.Event()
    began = time.perf_counter()
    app.simulate_key("x")
    # Replay takes the field away when the recording is heard.
    while len(field.value) == length and field.display:
        await asyncio.sleep(0)
    field.call_after_refresh(drawn.set)
    await drawn.wait()
    return time.perf_counter() - began


def main(engine: str, count: int) -> None:
    folder = data_directory("audio_demo_synth") / "measure_set"
    labels = [one for one in read_labels(folder) if one.split != "tuning"]
    chosen = [labels[number * len(labels) // count] for number in range(count)]
    takes = [spoken(one, CHANNELS[number % 3]) for number, one in enumerate(chosen)]
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, {count} takes of {engine}")
    print("| meanwhile | keys | median | 95th percentile | worst |\n|---|---|---|---|---|")
    recogniser = make_recogniser(engine, load_grammar().search(grouped_numbers=False))
    recogniser.recognise(bytes(32_000))
    for name, ears in (("nothing is heard", None), (f"{engine} decodes", recogniser)):
        _print(name, asyncio.run(measure(ears, takes)))
    recogniser.close()
    with tempfile.TemporaryDirectory() as folder:
        path = an_hour(Path(folder))
        _print(f"{engine} hears an hour in Replay", asyncio.run(measure_replay(engine, path)))


def _print(name: str, waits: list[float]) -> None:
    p95 = quantiles(waits, n=20, method="inclusive")[-1]
    figures = " | ".join(f"{1000 * one:.0f} ms" for one in (median(waits), p95, max(waits)))
    print(f"| {name} | {len(waits)} | {figures} |", flush=True)


if __name__ == "__main__":
    main(
        sys.argv[1] if len(sys.argv) > 1 else default_engine(),
        int(sys.argv[2]) if len(sys.argv) > 2 else 10,
    )
