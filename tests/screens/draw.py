"""Each screen drawn in its use: ``python -m tests.screens.draw docs/screens`` accepts them all.

Look at the pictures before that: the snapshots hold whatever was accepted.
"""

import asyncio
import os
import re
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
from textual.strip import Strip

from readback.data import data_directory
from readback.judging.check import check
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.screens.app import ReadbackApp
from readback.screens.drill import DrillScreen
from readback.screens.themes import DARK, LIGHT
from readback.speech.devices import Device
from readback.transmission import Transmission
from tests.live.fakes import fake_microphone
from tests.screens.conftest import Seat
from tests.screens.fakes import NOW, make_services

INSTRUCTION = "larkspur four two one hold short of runway two seven right"
WRONG = "crossing runway two seven right larkspur four two one"
RECORDING = data_directory("audio_demo_synth") / "recordings" / "gc04_cross_for_hold_short.flac"
KEPT = (
    ("larkspur 421 taxi to holding point A3", "taxi to holding point A3 larkspur 421"),
    ("larkspur 421 hold short of runway 27L", "holding short of runway 27R larkspur 421"),
    ("larkspur 421 cross runway 27L", "roger"),
)
"""Exchanges of the session in the records."""
MICROPHONES = (
    Device(0, "Built-in microphone (ALSA)", 48_000, is_default=True),
    Device(3, "Headset (ALSA)", 16_000),
)
SIZES = ((80, 24), (120, 40))
DOCUMENTED = {
    f"{use}_80x24"
    for use in (
        "start",
        "practise",
        "listening",
        "drills",
        "self_check",
        "replay_kept",
        "correct",
        "records",
        "set_up",
    )
} | {"drill_120x40", "self_check_light_80x24"}
"""The pictures in the documentation."""
HUM = [
    block
    for _ in range(600)
    for block in (np.sin(np.arange(800) / 20, dtype=np.float32) / 4, partial(time.sleep, 0.05))
]
"""A sound that goes on for half a minute and is as loud at any time."""
_FOREIGN = re.compile(r"@font-face\s*{[^}]*}|<!--.*?-->", re.DOTALL)
"""Exported pictures fetch a font from elsewhere."""


async def start(seat: Seat) -> None:
    await seat.settle()


async def practise(seat: Seat) -> None:
    await seat.press("1")
    await seat.type("roger")


async def listening(seat: Seat) -> None:
    await seat.press("1")
    await seat.pilot.press("f2")
    await seat.until(lambda: "so far" in seat.sees())
    await seat.pilot.pause(0.3)


async def self_check(seat: Seat) -> None:
    await seat.press("3")
    await seat.type("hold short of runway 27L")
    await seat.type("holding short runway 27 right")
    await seat.press("f6")


async def drills(seat: Seat) -> None:
    await seat.press("2")
    await seat.settle()


async def drill(seat: Seat) -> None:
    await seat.press("2")
    seat.app.push_screen(DrillScreen(seat.app.services, "push_back_tow_bar", "headset"))
    await seat.until(lambda: getattr(seat.app.screen, "practice", None) is not None)
    await seat.settle()
    await seat.type("brakes released")
    await seat.type(seat.app.screen.practice.hint())


async def replay(seat: Seat) -> None:
    await seat.press("4")
    await seat.until(lambda: "sessions" in seat.sees())
    await seat.settle()
    await seat.press("end", "enter")
    await seat.until(lambda: seat.app.screen.session is not None)
    await seat.press("down")


async def replay_kept(seat: Seat) -> None:
    await seat.press("4")
    await seat.until(lambda: "sessions" in seat.sees())
    await seat.settle()
    await seat.press("enter")
    await seat.until(lambda: seat.app.screen.session is not None)
    await seat.press("down", "down", "down")


async def correct(seat: Seat) -> None:
    await replay_kept(seat)
    await seat.press("v")


async def records(seat: Seat) -> None:
    await seat.press("5")
    await seat.settle()


async def set_up(seat: Seat) -> None:
    await seat.press("6")
    await seat.settle()


async def keys(seat: Seat) -> None:
    await seat.press("1")
    await seat.press("f1")


USES: dict[str, Callable[[Seat], Awaitable[None]]] = {
    use.__name__: use
    for use in (
        start,
        practise,
        listening,
        drills,
        drill,
        self_check,
        replay,
        replay_kept,
        correct,
        records,
        set_up,
        keys,
    )
}


@dataclass(frozen=True)
class Picture:
    """One screen as it looked in a terminal of one size."""

    use: str
    size: tuple[int, int]
    light: bool
    svg: str
    strips: tuple[Strip, ...]

    @property
    def name(self) -> str:
        return f"{self.use}{'_light' if self.light else ''}_{self.size[0]}x{self.size[1]}"

    @property
    def text(self) -> str:
        """What can be read, and the style of each run of cells: what a snapshot holds."""
        styles: dict[str, int] = {}
        rows = [
            " ".join(
                f"{segment.cell_length}:{styles.setdefault(str(segment.style), len(styles))}"
                for segment in strip.simplify()
            )
            for strip in self.strips
        ]
        lines = ["".join(segment.text for segment in strip).rstrip() for strip in self.strips]
        table = [f"{number} {style}" for style, number in styles.items()]
        return "\n".join([*lines, "---- styles", *table, "---- cells:style", *rows, ""])


def draw(use: str, sizes: Sequence[tuple[int, int]] = SIZES) -> list[Picture]:
    """Use the app once and draw it in each size, dark and light."""
    return asyncio.run(_draw(use, sizes))


async def _draw(use: str, sizes: Sequence[tuple[int, int]]) -> list[Picture]:
    pictures = []
    # A thread may still look into the records when the app has ended.
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        path = Path(folder) / "records.sqlite3"
        fill_records(path)
        services = make_services(
            INSTRUCTION, WRONG, microphone=fake_microphone(HUM), records=path, trainee="Ann"
        )
        services.list_microphones = lambda: MICROPHONES
        app = ReadbackApp(services, files=(RECORDING,))
        async with app.run_test(size=sizes[0]) as pilot:
            seat = Seat(app, pilot)
            await USES[use](seat)
            for size in sizes:
                await pilot.resize_terminal(*size)
                for theme in (DARK, LIGHT):
                    app.theme = theme.name
                    await seat.rest()
                    svg = _FOREIGN.sub("", app.export_screenshot())
                    pictures.append(Picture(use, size, theme is LIGHT, svg, _strips(app)))
    return pictures


def _strips(app: ReadbackApp) -> tuple[Strip, ...]:
    update = app.screen._compositor.render_update(full=True, screen_stack=app._background_screens)
    return tuple(Strip.join(parts) for parts in update.strips)


def fill_records(path: Path) -> None:
    """Keep a session of the morning with a correction, and one before."""
    with Store(path, now=lambda: NOW) as store:
        for day in (1, 2):
            head = SessionHead(
                training="ground calls",
                training_date=date(2026, 3, day),
                trainee="Ann",
                pairing="given",
            )
            session = store.begin(head)
            for place, (instruction, readback) in enumerate(KEPT[: day + 1]):
                _keep(store, session, place * 20.0, instruction, readback)
            store.finish(session)
        store.correct(session, "words", 4, "holding short of runway 27L", by="Ines", why="misheard")


def _keep(store: Store, session: int, at_s: float, instruction: str, readback: str) -> None:
    asked, said = (
        store.keep_transmission(
            session,
            Transmission.typed(text).model_copy(
                update={"station": station, "start": start, "end": start + 4.0}
            ),
        )
        for station, text, start in (
            ("controller", instruction, at_s),
            ("flight_deck", readback, at_s + 5.0),
        )
    )
    verdict = check(instruction, readback)
    store.keep_verdict(session, verdict, instruction=asked, readback=said)


SNAPSHOTS = Path(__file__).parent / "snapshots"


def accept(documents: Path) -> None:
    """Take every screen as it looks now for right: the snapshots, and the documents' pictures."""
    for folder, ending in ((SNAPSHOTS, "*.txt"), (documents, "*.svg")):
        folder.mkdir(parents=True, exist_ok=True)
        for old in folder.glob(ending):
            old.unlink()
    for use in USES:
        for picture in draw(use):
            (SNAPSHOTS / f"{picture.name}.txt").write_text(picture.text, encoding="utf-8")
            if picture.name in DOCUMENTED:
                (documents / f"{picture.name}.svg").write_text(picture.svg, encoding="utf-8")


if __name__ == "__main__":
    os.environ["TEXTUAL_ANIMATIONS"] = "none"
    with tempfile.TemporaryDirectory() as nowhere:
        os.environ["READBACK_SETTINGS"] = str(Path(nowhere) / "settings.toml")
        accept(Path(sys.argv[1]))
