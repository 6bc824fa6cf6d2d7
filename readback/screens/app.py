"""The application: themes, the keys that work everywhere, and which screen comes next."""

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver
from textual.screen import Screen

from readback.screens.help import HelpScreen
from readback.screens.services import Services
from readback.screens.start import StartScreen
from readback.screens.themes import DARK, DARK_PAIR, LIGHT


class ReadbackApp(App[None]):
    """Practise, drills, self-check and replay in a terminal.

    Args:
        services: The parts behind the screens.
        first: Opened over the start screen: ``practise``, ``drills``, ``self_check``, ``replay``,
            ``records``, ``set_up``; None stays at the start.
        drill: Name or file of a drill that is opened at once.
        seat: The trainee's seat in it.
        files: Recordings that Replay offers.
    """

    TITLE = "readback"
    CSS_PATH = "readback.tcss"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f1", "help", "Help", tooltip="All keys of this screen"),
        Binding("ctrl+t", "light", "Light", show=False, tooltip="Light or dark"),
        Binding("ctrl+q", "quit", "Quit", show=False, priority=True, tooltip="End the program"),
    ]

    def __init__(
        self,
        services: Services,
        *,
        first: str | None = None,
        drill: str | None = None,
        seat: str | None = None,
        files: tuple[Path, ...] = (),
    ) -> None:
        super().__init__()
        self.services = services
        self._first = first
        self._drill = drill
        self._seat = seat
        self._files = files

    def get_driver_class(self) -> type[Driver]:
        """Draw past what libraries do to standard error; a served screen draws elsewhere anyway."""
        if sys.platform == "win32" or "TEXTUAL_DRIVER" in os.environ:
            return super().get_driver_class()
        from readback.screens.own_terminal import OwnTerminal

        return OwnTerminal

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Have our two colours under any theme."""
        return dict(DARK_PAIR)

    def on_mount(self) -> None:
        """Open the start screen, and over it what was asked for."""
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = LIGHT.name if os.environ.get("READBACK_THEME") == "light" else DARK.name
        self.push_screen(StartScreen(records=self.services.open_store is not None))
        if self._drill is not None:
            from readback.screens.drill import DrillScreen

            self.push_screen(DrillScreen(self.services, self._drill, self._seat))
        elif self._first is not None:
            self.action_open(self._first)

    def on_unmount(self) -> None:
        """Give back what is open."""
        self.services.close()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave the records out where there are none."""
        if action == "open" and parameters == ("records",):
            return self.services.open_store is not None
        return True

    def action_open(self, name: str) -> None:
        """Open a screen over the start screen."""
        self.push_screen(self._screens()[name]())

    def _screens(self) -> dict[str, Callable[[], Screen[Any]]]:
        # Imported here: the start screen is there before they are loaded.
        from readback.screens.drill import DrillListScreen
        from readback.screens.practise import PractiseScreen
        from readback.screens.records import RecordsScreen
        from readback.screens.replay import ReplayScreen
        from readback.screens.self_check import SelfCheckScreen
        from readback.screens.set_up import SetUpScreen

        return {
            "practise": lambda: PractiseScreen(self.services),
            "drills": lambda: DrillListScreen(self.services),
            "self_check": lambda: SelfCheckScreen(self.services),
            "replay": lambda: ReplayScreen(self.services, self._files),
            "records": lambda: RecordsScreen(self.services),
            "set_up": lambda: SetUpScreen(self.services),
        }

    def action_help(self) -> None:
        """Show all keys of the open screen."""
        keys = [
            (entry.binding.key_display or entry.binding.key, text)
            for entry in self.screen.active_bindings.values()
            if entry.node in (self.screen, self)
            and (text := entry.binding.tooltip or entry.binding.description)
        ]
        self.push_screen(HelpScreen(keys))

    def action_light(self) -> None:
        """Go from dark to light, or back."""
        self.theme = DARK.name if self.theme == LIGHT.name else LIGHT.name
