"""An app driven by keys; what a user sees of it as text."""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress

import pytest
from textual.pilot import Pilot
from textual.widgets import Input
from textual.worker import WorkerCancelled

from readback.screens.app import ReadbackApp


@pytest.fixture(autouse=True)
def plain_surroundings(monkeypatch, tmp_path):
    """What a developer has set would change what is tested, and be changed by it."""
    monkeypatch.setenv("READBACK_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("READBACK_THEME", raising=False)
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")


class Seat:
    """Somebody in front of the screen."""

    def __init__(self, app: ReadbackApp, pilot: Pilot) -> None:
        self.app = app
        self.pilot = pilot

    async def settle(self) -> None:
        """Wait until all workers are done and what they posted is shown."""
        for _ in range(4):
            with suppress(WorkerCancelled):  # one that was cancelled is done, too
                await self.app.workers.wait_for_complete()
            await self.pilot.pause()

    async def rest(self) -> None:
        """Have nothing on the screen that comes and goes by itself."""
        for field in self.app.screen.query(Input):
            field.cursor_blink = False
        await self.pilot.pause()

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.settle()

    async def type(self, text: str) -> None:
        """Put a text where the cursor is, as a paste does, and press Enter."""
        field = self.app.screen.focused
        assert isinstance(field, Input)
        field.value = text
        await self.press("enter")

    async def until(self, condition: Callable[[], bool], seconds: float = 10.0) -> bool:
        for _ in range(round(seconds / 0.02)):
            if condition():
                return True
            await self.pilot.pause(0.02)
        return condition()

    def sees(self) -> str:
        """Give the text of the open screen, line by line."""
        width, height = self.app.size
        lines = [
            "".join(segment.text for segment in strip)
            for strip in self.app.screen._compositor.render_strips()
        ]
        assert len(lines) == height
        assert all(len(line) <= width for line in lines)
        return "\n".join(line.rstrip() for line in lines)

    @property
    def told(self) -> list[str]:
        own = [line for screen in self.app.screen_stack for line in getattr(screen, "told", [])]
        return [*own, *(one.message for one in self.app._notifications)]


def drive(
    app: ReadbackApp,
    use: Callable[[Seat], Awaitable[None]],
    size: tuple[int, int] = (80, 24),
) -> None:
    """Let somebody use the app."""

    async def run() -> None:
        async with app.run_test(size=size, notifications=True) as pilot:
            await use(Seat(app, pilot))

    asyncio.run(run())
