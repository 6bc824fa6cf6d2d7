"""The pictures of the documentation: ``python -m tests.screens.draw docs/screens`` draws them."""

import asyncio
import re
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

from readback.data import data_directory
from readback.screens.app import ReadbackApp
from tests.screens.conftest import Seat
from tests.screens.fakes import make_services

INSTRUCTION = "larkspur four two one hold short of runway two seven right"
WRONG = "crossing runway two seven right larkspur four two one"
RECORDING = data_directory("audio_demo_synth") / "recordings" / "gc04_cross_for_hold_short.flac"
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


async def self_check_light(seat: Seat) -> None:
    await self_check(seat)
    await seat.press("ctrl+t")


async def drill(seat: Seat) -> None:
    await seat.press("2")
    seat.app.push_screen(_drill(seat))
    await seat.until(lambda: getattr(seat.app.screen, "practice", None) is not None)
    await seat.settle()
    await seat.type("brakes released")
    await seat.type(seat.app.screen.practice.hint())


async def replay(seat: Seat) -> None:
    await seat.press("4")
    await seat.press("enter")
    await seat.until(lambda: bool(seat.app.screen.exchanges))


async def keys(seat: Seat) -> None:
    await seat.press("1")
    await seat.press("f1")


USES: dict[str, Callable[[Seat], Awaitable[None]]] = {
    use.__name__: use
    for use in (start, practise, listening, self_check, self_check_light, drill, replay, keys)
}


def draw(folder: Path) -> None:
    """Draw each screen at 80x24 and 120x40."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, use in USES.items():
        for size in ((80, 24), (120, 40)):
            picture = _FOREIGN.sub("", asyncio.run(_draw(use, size)))
            path = folder / f"{name}_{size[0]}x{size[1]}.svg"
            path.write_text(picture, encoding="utf-8")


async def _draw(use: Callable[[Seat], Awaitable[None]], size: tuple[int, int]) -> str:
    app = ReadbackApp(make_services(INSTRUCTION, WRONG), files=(RECORDING,))
    async with app.run_test(size=size) as pilot:
        await use(Seat(app, pilot))
        return app.export_screenshot()


def _drill(seat: Seat):
    from readback.screens.drill import DrillScreen

    return DrillScreen(seat.app.services, "push_back_tow_bar", "headset")


if __name__ == "__main__":
    draw(Path(sys.argv[1]))
