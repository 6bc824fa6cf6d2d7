"""The Replay screen opens a recording as ``readback replay`` does, with the same results."""

import json
import threading
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from textual.widgets import Input

from readback.cli import main
from readback.data import data_directory
from readback.screens.app import ReadbackApp
from readback.screens.replayed import hear_recording
from readback.screens.services import open_services
from readback.transmission import Transmission
from tests.screens.conftest import Seat, drive
from tests.screens.fakes import Told, make_services

RECORDINGS = data_directory("audio_demo_synth") / "recordings"
MIXED = RECORDINGS / "gc03_cross.flac"
TWO_CHANNELS = RECORDINGS / "gc04_cross_for_hold_short.flac"
RATE_HZ = 16_000


def join(path: Path, parts: list[Path], every_s: int, *, channels: int) -> Path:
    """Put recordings one after the other, one every so many seconds of a quiet line."""
    rng = np.random.default_rng(7)
    with soundfile.SoundFile(path, "w", RATE_HZ, channels) as file:
        for part in parts:
            line = rng.normal(0, 1e-4, (every_s * RATE_HZ, channels))
            samples, _ = soundfile.read(part, always_2d=True)
            if channels == 1:
                samples = samples.sum(axis=1, keepdims=True)
            line[RATE_HZ : RATE_HZ + len(samples), :] += samples
            file.write(line)
    return path


@pytest.fixture(scope="module")
def recordings(tmp_path_factory) -> list[Path]:
    """Both stations mixed, each in a channel, and most of an hour of both kinds."""
    folder = tmp_path_factory.mktemp("recordings")
    hour = join(folder / "hour.flac", [MIXED, TWO_CHANNELS] * 5, 6 * 60, channels=1)
    mixed = join(folder / "mixed.flac", [TWO_CHANNELS], 20, channels=1)
    return [MIXED, TWO_CHANNELS, mixed, hour]


async def open_path(seat: Seat, path: Path) -> None:
    seat.app.screen.query_one("#path", Input).focus()
    await seat.pilot.pause()
    await seat.type(str(path))


def test_screen_and_command_give_the_same(recordings, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    main(["replay", "--json", "--engine", "ear", *map(str, recordings)])
    document = json.loads(capsys.readouterr().out)
    shown = []

    async def use(seat: Seat) -> None:
        for path in recordings:
            await open_path(seat, path)
            assert await seat.until(lambda: seat.app.screen.session is not None, 60)
            shown.append(seat.app.screen.replayed)
            await seat.press("f5")

    services = open_services(engine="ear", records=tmp_path / "records.sqlite3")
    drive(ReadbackApp(services, first="replay"), use)

    counts = [len(one["exchanges"]) for one in document["recordings"]]
    assert counts[:3] == [1, 1, 1]
    assert counts[3] >= 8
    assert document["recordings"][3]["seconds"] == 3600
    for one, replayed in zip(document["recordings"], shown, strict=True):
        session = replayed.session
        assert [
            {
                **kept.current.model_dump(mode="json", exclude={"alternatives"}),
                "number": kept.number,
                "told_by": kept.told_by,
            }
            for kept in session.transmissions
        ] == [
            {name: value for name, value in said.items() if name != "track"}
            for said in one["transmissions"]
        ]
        places = [
            (each["instructed"]["number"], each["answered"] and each["answered"]["number"])
            for each in one["exchanges"]
        ]
        assert [(each.instruction, each.readback) for each in session.exchanges] == places
        for each, told in zip(session.exchanges, one["exchanges"], strict=True):
            verdict = each.verdict.model_dump(mode="json")
            assert verdict == {name: told[name] for name in verdict}
        assert session.head.engine == one["engine"]


class Gated(Told):
    """Hears nothing before the gate is open; then the same in every transmission."""

    def __init__(self) -> None:
        super().__init__([])
        self.gate = threading.Event()
        self.waiting = threading.Event()

    def recognise(self, pcm: bytes) -> Transmission:
        self.waiting.set()
        assert self.gate.wait(20)
        return Transmission.typed("larkspur four two one hold short of runway two seven left")


def test_hearing_shows_how_far_it_is_and_can_be_cancelled_at_once(tmp_path):
    long = join(tmp_path / "long.flac", [MIXED] * 2, 60, channels=1)
    ears = Gated()

    async def use(seat: Seat) -> None:
        seat.app.screen.query_one("#path", Input).value = str(long)
        seat.app.screen.query_one("#path", Input).focus()
        await seat.pilot.press("enter")
        assert await seat.until(lambda: "of 02:00" in seat.sees() and ears.waiting.is_set())
        assert "▯▯▯▯" in seat.sees()
        assert "Esc cancels" in seat.sees()
        await seat.pilot.press("escape")
        assert await seat.until(lambda: "Choose a session" in seat.sees())
        assert seat.app.screen.doing == "ready"
        ears.gate.set()
        await seat.settle()
        assert seat.app.screen.session is None
        assert seat.told == []
        # What was given up is not in the way of the next one.
        await open_path(seat, MIXED)
        assert await seat.until(lambda: seat.app.screen.session is not None)

    drive(ReadbackApp(make_services(recogniser=ears), first="replay"), use)


def test_a_recording_that_breaks_off_is_told_and_shown_up_to_there(tmp_path):
    whole = tmp_path / "whole.wav"
    samples, rate = soundfile.read(MIXED)
    soundfile.write(whole, samples, rate)
    cut = tmp_path / "cut.wav"
    cut.write_bytes(whole.read_bytes()[:-20_000])

    async def use(seat: Seat) -> None:
        await open_path(seat, cut)
        assert await seat.until(lambda: seat.app.screen.session is not None)
        assert "its end is missing" in seat.told[0]

    ears = Gated()
    ears.gate.set()
    drive(ReadbackApp(make_services(recogniser=ears), first="replay"), use)


def test_the_memory_for_a_recording_does_not_grow_with_its_length(tmp_path):
    def most(minutes: int) -> int:
        path = join(tmp_path / f"{minutes}.flac", [MIXED], 60 * minutes, channels=1)
        ears = Gated()
        ears.gate.set()
        tracemalloc.start()
        try:
            replayed, _ = hear_recording(make_services(recogniser=ears), path, lambda *_: True)
            return tracemalloc.get_traced_memory()[1]
        finally:
            assert replayed is not None
            tracemalloc.stop()

    most(1)  # What is loaded once is not counted.
    short, long = most(1), most(5)

    # Five minutes as 16-bit samples are 9.6 MB, as they are read 19.
    assert long - short < 1_000_000
