"""Self-check: one instruction and its readback, typed or said, and a large verdict."""

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Input, Label

from readback.errors import ReadbackError
from readback.judging.completeness import is_complete
from readback.screens.judged import LONGEST_TYPED, judge_said
from readback.screens.services import Services
from readback.screens.talk import TalkScreen
from readback.screens.widgets.verdict import VerdictView
from readback.speech.live import Take
from readback.transmission import Transmission


class SelfCheckScreen(TalkScreen):
    """One pair."""

    TITLE = "self-check"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f4", "once_more", "Retry", tooltip="The same instruction, another readback"),
        Binding("f5", "next", "Clear", tooltip="Clear both"),
        Binding("f6", "rule", "Rule", tooltip="Show the rule and its source, or hide it"),
    ]

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._heard: dict[str, Take] = {}
        """What was said, by field, as long as nobody changed its words."""
        self._talks_into = "instruction"
        self._instructed: str | Transmission = ""

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield from self.compose_head()
        for name in ("instruction", "readback"):
            yield Label(f"{name} (type, or F2 to say it)", classes="field", markup=False)
            yield Input(id=name, max_length=LONGEST_TYPED)
        with VerticalScroll(id="result", can_focus=False):
            yield VerdictView(large=True, id="verdict")
        yield from self.compose_foot()

    def on_mount(self) -> None:
        """Begin with the instruction."""
        self.query_one("#instruction", Input).focus()

    def begin_listening(self, *, hands_free: bool = True) -> None:
        """Listen for the field that has the focus; a pause ends it, or the key."""
        self._instructed = self._said("instruction")
        self._talks_into = "readback" if self.query_one("#readback").has_focus else "instruction"
        super().begin_listening(hands_free=True)

    def is_complete(self, heard: Transmission) -> bool | None:
        """See `TalkScreen.is_complete`; of an instruction nobody knows what is to come."""
        if self._talks_into == "instruction" or not self._instructed:
            return None
        return is_complete(judge_said(self._instructed, heard, self.services.authority))

    async def heard(self, take: Take) -> None:
        """Write down what was said, and go on with the other field or the verdict."""
        self._heard[self._talks_into] = take
        self.query_one(f"#{self._talks_into}", Input).value = take.transmission.text
        self._go_on(self._talks_into)

    @on(Input.Submitted)
    def _typed(self, message: Input.Submitted) -> None:
        if message.value.strip() and message.input.id is not None:
            self.cancel()
            self._go_on(message.input.id)

    def _go_on(self, name: str) -> None:
        both = [self.query_one(f"#{one}", Input) for one in ("instruction", "readback")]
        if not both[1].value.strip():
            both[1].focus()
        elif not both[0].value.strip():
            both[0].focus()
        else:
            self._judge(*(self._said(one) for one in ("instruction", "readback")))
            if name == "instruction":
                both[1].focus()

    def _said(self, name: str) -> str | Transmission:
        """Give what was heard, or what was typed or changed by hand."""
        take, text = self._heard.get(name), self.query_one(f"#{name}", Input).value
        return take.transmission if take is not None and take.transmission.text == text else text

    def _judge(self, instruction: str | Transmission, readback: str | Transmission) -> None:
        losses = sum(
            take.losses
            for name, take in self._heard.items()
            if self.query_one(f"#{name}", Input).value == take.transmission.text
        )
        try:
            verdict = judge_said(
                instruction,
                readback,
                self.services.authority,
                least_certainty=self.services.least_certainty_of(instruction, readback),
                losses=losses,
            )
        except ReadbackError as error:
            self.tell(str(error))
            return
        self.query_one(VerdictView).show(verdict)

    def action_once_more(self) -> None:
        """Keep the instruction, clear the readback."""
        self.cancel()
        self._heard.pop("readback", None)
        self.query_one(VerdictView).show(None)
        readback = self.query_one("#readback", Input)
        readback.value = ""
        readback.focus()

    def action_next(self) -> None:
        """Clear both."""
        self.action_once_more()
        self._heard.clear()
        instruction = self.query_one("#instruction", Input)
        instruction.value = ""
        instruction.focus()

    def action_rule(self) -> None:
        """Show the rules, or hide them."""
        self.query_one(VerdictView).toggle_rules()
