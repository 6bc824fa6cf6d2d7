"""The form in which a person corrects what was heard or judged, with a reason."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.command import Provider
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, Label, OptionList, Static
from textual.widgets.option_list import Option

from readback.commands.terminal import escape
from readback.errors import InputError, ReadbackError
from readback.records.model import CorrectionKind, KeptExchange, KeptSession
from readback.screens.commands import KeyCommands
from readback.screens.judged import LONGEST_TYPED
from readback.screens.widgets.keys import Keys
from readback.screens.widgets.yes_no import YesNo

if TYPE_CHECKING:
    from readback.screens.replayed import Replayed

NAMES = {
    CorrectionKind.WORDS: "words",
    CorrectionKind.STATION: "station",
    CorrectionKind.PAIRING: "answered by",
    CorrectionKind.VERDICT: "verdict",
    CorrectionKind.RESULT: "result",
    CorrectionKind.REMARKS: "remark",
}
HINTS = {
    CorrectionKind.WORDS: "the words as they were said",
    CorrectionKind.STATION: "who said it",
    CorrectionKind.PAIRING: "number of the answer, nobody, or none: it is no instruction",
    CorrectionKind.VERDICT: "correct, incorrect, incomplete or say again",
    CorrectionKind.RESULT: "passed or not passed, of the whole session",
    CorrectionKind.REMARKS: "is added to those of the session",
}
NOBODY = "nobody"
_LONGEST_NAME = 200


@dataclass(frozen=True)
class Asked:
    """What a person wants to be corrected; see `Store.correct`."""

    kind: CorrectionKind
    target: int | None
    right: str | int | None
    by: str
    why: str
    trainee: str = ""
    """Whose records keep a recording that is not kept yet."""
    consent: bool = False
    """Whether that person agreed that the voice is kept."""


class Corrected(Message):
    """It was corrected."""

    def __init__(self, replayed: "Replayed") -> None:
        super().__init__()
        self.replayed = replayed


class NotCorrected(Message):
    """What is asked for cannot be."""

    def __init__(self, error: ReadbackError) -> None:
        super().__init__()
        self.error = error


class CorrectScreen(ModalScreen["Replayed | None"]):
    """One correction.

    Args:
        replayed: What is corrected.
        number: Of the transmission that was chosen.
        kind: What is chosen at first.
        by: Who corrects, as far as it is known.
        trainee: Offered for the records where it is in none yet.
    """

    COMMANDS: ClassVar[set[type[Provider]]] = {KeyCommands}  # type: ignore[assignment]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f10", "save", "Save", tooltip="Correct it and judge it again"),
        Binding("escape", "close", "Close", tooltip="Close it, nothing is corrected"),
    ]

    def __init__(
        self,
        replayed: "Replayed",
        number: int,
        *,
        kind: CorrectionKind = CorrectionKind.WORDS,
        by: str = "",
        trainee: str = "",
    ) -> None:
        super().__init__()
        self._replayed = replayed
        self._session = replayed.session
        self._number = number
        self._kinds = [one for one in NAMES if self._standing(one) is not None]
        self._kind = kind if kind in self._kinds else CorrectionKind.WORDS
        self._by = by
        self._trainee = None if replayed.is_kept else trainee

    def compose(self) -> ComposeResult:
        """Lay the form out."""
        said = self._session.transmission(self._number).current
        with Vertical(id="form"):
            yield Static(
                Content.assemble(
                    (f"Correct transmission {self._number}", "bold"), f"  {escape(said.text)}"
                ),
                id="corrected",
                markup=False,
            )
            yield OptionList(*(Option(self._row(one)) for one in self._kinds), id="kinds")
            yield from self._field("right", "right is", LONGEST_TYPED)
            yield from self._field("why", "because", LONGEST_TYPED)
            yield from self._field("by", "by (name)", _LONGEST_NAME, self._by)
            if self._trainee is not None:
                yield from self._field("trainee", "trainee", _LONGEST_NAME, self._trainee)
                yield YesNo("the trainee agreed that the voice is kept", id="consent")
            yield Static("", id="problem", markup=False)
        yield Keys()

    def _field(self, name: str, label: str, longest: int, value: str = "") -> ComposeResult:
        with Horizontal(classes="row"):
            yield Label(f"{label:<12}", markup=False)
            yield Input(value, id=name, max_length=longest, compact=True)

    def on_mount(self) -> None:
        """Begin with what is right."""
        self.query_one("#kinds", OptionList).highlighted = self._kinds.index(self._kind)
        self.query_one("#right").focus()
        if self._trainee is not None:
            self._say("This recording is in no records yet: it is kept with the correction.")

    @on(OptionList.OptionHighlighted, "#kinds")
    def _chosen(self, message: OptionList.OptionHighlighted) -> None:
        self._kind = self._kinds[message.option_index]
        right = self.query_one("#right", Input)
        right.value = (
            "" if self._kind is CorrectionKind.REMARKS else self._standing(self._kind) or ""
        )
        right.placeholder = HINTS[self._kind]

    @on(OptionList.OptionSelected, "#kinds")
    def _taken(self) -> None:
        self.query_one("#right").focus()

    @on(Input.Submitted)
    def _entered(self, message: Input.Submitted) -> None:
        fields = list(self.query(Input))
        place = fields.index(message.input)
        if place + 1 < len(fields):
            fields[place + 1].focus()
        else:
            self.action_save()

    # ---- saving --------------------------------------------------------------------------------

    def action_save(self) -> None:
        """Correct it."""
        try:
            asked = self._asked()
        except InputError as error:
            self._say(str(error))
        else:
            self._say("judging …")
            self._work(asked)

    @work(thread=True, exclusive=True)
    def _work(self, asked: Asked) -> None:
        try:
            replayed = self._replayed.correct(asked)
        except ReadbackError as error:
            self.post_message(NotCorrected(error))
        else:
            self.post_message(Corrected(replayed))

    @on(Corrected)
    def _corrected(self, message: Corrected) -> None:
        self.dismiss(message.replayed)

    @on(NotCorrected)
    def _not_corrected(self, message: NotCorrected) -> None:
        self._say(str(message.error))

    def action_close(self) -> None:
        """Close it."""
        self.dismiss(None)

    def _asked(self) -> Asked:
        values = {field.id: field.value.strip() for field in self.query(Input)}
        for name, what in (("why", "a reason"), ("by", "a name")):
            if not values[name]:
                self.query_one(f"#{name}").focus()
                raise InputError(f"A correction needs {what}.", "It is kept with it.")
        if self._trainee is not None and not values["trainee"]:
            self.query_one("#trainee").focus()
            raise InputError("Whose records are to keep this recording?", "Give the trainee.")
        kind, right = self._kind, values["right"]
        return Asked(
            kind,
            self._target(kind),
            self._right(kind, right),
            by=values["by"],
            why=values["why"],
            trainee=values.get("trainee", ""),
            consent=self._trainee is not None and self.query_one(YesNo).value,
        )

    def _right(self, kind: CorrectionKind, typed: str) -> str | int | None:
        if kind is CorrectionKind.PAIRING:
            if typed.casefold() == NOBODY:
                return None
            return int(typed) if typed.isascii() and typed.isdigit() else typed
        if kind is CorrectionKind.REMARKS:
            return "\n".join(filter(None, (self._session.head.remarks, typed)))
        return typed

    def _target(self, kind: CorrectionKind) -> int | None:
        if kind in (CorrectionKind.RESULT, CorrectionKind.REMARKS):
            return None
        exchange = exchange_of(self._session, self._number)
        if kind is CorrectionKind.PAIRING and exchange is not None:
            return exchange.instruction
        return self._number

    # ---- what stands ---------------------------------------------------------------------------

    def _standing(self, kind: CorrectionKind) -> str | None:
        """Say what stands now; None where this kind does not apply."""
        said = self._session.transmission(self._number).current
        exchange = exchange_of(self._session, self._number)
        if kind is CorrectionKind.WORDS:
            return said.text
        if kind is CorrectionKind.STATION:
            return (said.station or "").replace("_", " ")
        if kind is CorrectionKind.PAIRING:
            answer = None if exchange is None else exchange.readback
            return NOBODY if answer is None else str(answer)
        if kind is CorrectionKind.VERDICT:
            return None if exchange is None else exchange.outcome.value
        if kind is CorrectionKind.RESULT:
            return self._session.head.result or ""
        return " ".join(self._session.head.remarks.split())

    def _row(self, kind: CorrectionKind) -> Content:
        name = NAMES[kind]
        if kind is CorrectionKind.PAIRING and (target := self._target(kind)) != self._number:
            name = f"{target} {name}"
        return Content.assemble((f"{name:<15}", "bold"), escape(self._standing(kind) or "–"))

    def _say(self, text: str) -> None:
        self.query_one("#problem", Static).update(Content(escape(text)))


def exchange_of(session: KeptSession, number: int) -> KeptExchange | None:
    """Give the exchange that a transmission answers, else the last one that it opens."""
    for side in ("readback", "instruction"):
        for exchange in reversed(session.exchanges):
            if getattr(exchange, side) == number:
                return exchange
    return None
