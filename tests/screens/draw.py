"""The pictures of the documentation: ``python -m tests.screens.draw docs/screens`` draws them."""

import asyncio
import os
import re
import sys
import tempfile
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from readback.data import data_directory
from readback.judging.check import check
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.screens.app import ReadbackApp
from readback.screens.drill import DrillScreen
from readback.transmission import Transmission
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
SIZES = ((80, 24), (120, 40))
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
    await seat.press("end", "enter")
    await seat.until(lambda: seat.app.screen.session is not None)
    await seat.press("down")


async def replay_kept(seat: Seat) -> None:
    await seat.press("4")
    await seat.press("enter")
    await seat.until(lambda: seat.app.screen.session is not None)
    await seat.press("down", "down", "down")


async def correct(seat: Seat) -> None:
    await replay_kept(seat)
    await seat.press("v")


async def records(seat: Seat) -> None:
    await seat.press("5")
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
        keys,
    )
}


@dataclass(frozen=True)
class Picture:
    """One screen as it looks in a terminal of one size."""

    use: str
    size: tuple[int, int]
    light: bool = False

    @property
    def name(self) -> str:
        return f"{self.use}{'_light' if self.light else ''}_{self.size[0]}x{self.size[1]}"

    def draw(self) -> str:
        """Give the SVG."""
        return asyncio.run(self._draw())

    async def _draw(self) -> str:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "records.sqlite3"
            fill_records(path)
            services = make_services(INSTRUCTION, WRONG, records=path, trainee="Ann")
            app = ReadbackApp(services, files=(RECORDING,))
            async with app.run_test(size=self.size) as pilot:
                seat = Seat(app, pilot)
                if self.light:
                    await seat.press("ctrl+t")
                await USES[self.use](seat)
                await seat.rest()
                return _FOREIGN.sub("", app.export_screenshot())


PICTURES = [Picture(use, size, light) for use in USES for size in SIZES for light in (False, True)]


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


def draw(folder: Path) -> None:
    """Draw every picture."""
    folder.mkdir(parents=True, exist_ok=True)
    for picture in PICTURES:
        (folder / f"{picture.name}.svg").write_text(picture.draw(), encoding="utf-8")


if __name__ == "__main__":
    os.environ["TEXTUAL_ANIMATIONS"] = "none"
    draw(Path(sys.argv[1]))
