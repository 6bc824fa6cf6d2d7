"""All keys of the screen it was opened over, and the marks."""

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from readback.screens.widgets.keys import Keys
from readback.screens.widgets.verdict import MARKS


class HelpScreen(ModalScreen[None]):
    """The keys.

    Args:
        keys: Key and what it does.
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,f1", "dismiss", "Close")]

    def __init__(self, keys: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._keys = keys

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        lines = [Content.assemble((f"  {key:<10}", "bold"), text) for key, text in self._keys]
        marks = [
            Content.assemble("  ", (f"{mark} {status}", style))
            for status, (mark, style) in MARKS.items()
        ]
        parts = [
            Content.assemble(("Keys here", "bold underline")),
            *lines,
            Content(""),
            Content.assemble(("Marks", "bold underline")),
            *marks,
            Content(""),
            Content(
                "Each key is also a command (Ctrl+P), and each word at the bottom can be clicked."
            ),
        ]
        with VerticalScroll(id="help"):
            yield Static(Content("\n").join(parts), markup=False)
        yield Keys()

    async def action_dismiss(self, result: None = None) -> None:
        """Close it."""
        self.dismiss()
