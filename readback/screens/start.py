"""The start screen: what there is to do."""

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from readback.commands.render import CAUTION
from readback.screens.commands import KeyedScreen
from readback.screens.widgets.keys import Keys

CHOICES = {
    "practise": ("Practise", "one instruction after the other, drawn at random"),
    "drills": ("Drills", "a whole exchange in its order, the other seats played"),
    "self_check": ("Self-check", "say or type one instruction and its readback"),
    "replay": ("Replay", "recordings and kept sessions: hear them again, correct the verdicts"),
    "records": ("Records", "what was practised, what goes wrong, and whether less"),
    "set_up": ("Set-up", "microphone, its level, the voice, and whose practice is kept"),
}


class StartScreen(KeyedScreen[None]):
    """Where everything begins.

    Args:
        records: Whether there are training records.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("1", "app.open('practise')", "Practise"),
        Binding("2", "app.open('drills')", "Drills"),
        Binding("3", "app.open('self_check')", "Self-check"),
        Binding("4", "app.open('replay')", "Replay"),
        Binding("5", "app.open('records')", "Records"),
        Binding("6", "app.open('set_up')", "Set-up"),
        Binding("q", "app.quit", "Quit"),
    ]

    def __init__(self, *, records: bool) -> None:
        super().__init__()
        self._records = records

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield Static(" readback", id="title", markup=False)
        yield Static("What do you want to do?", id="question", markup=False)
        yield OptionList(
            *(
                Option(Content.assemble((f"{number}  {name}", "bold"), f"\n   {text}"), id=key)
                for number, (key, (name, text)) in enumerate(CHOICES.items(), start=1)
                if key != "records" or self._records
            ),
            id="choices",
        )
        yield Static(CAUTION, id="caution", markup=False)
        yield Keys()

    def on_mount(self) -> None:
        """Have the keys work at once."""
        self.query_one(OptionList).focus()

    @on(OptionList.OptionSelected)
    async def _chosen(self, message: OptionList.OptionSelected) -> None:
        await self.run_action(f"app.open('{message.option_id}')")
