"""Records: the sessions of each trainee, what goes wrong, and whether less of it."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import ScreenResume
from textual.message import Message
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from readback.commands.terminal import escape
from readback.errors import ReadbackError
from readback.screens.commands import KeyedScreen
from readback.screens.services import Services
from readback.screens.transmissions import session_title
from readback.screens.widgets.keys import Keys
from readback.screens.widgets.verdict import findings_lines, outcome_word

if TYPE_CHECKING:
    from readback.records.model import KeptSession

_BARS = "▁▂▃▄▅▆▇█"
_MOST_BARS = 60
_WORST = 5


class RecordsRead(Message):
    """All sessions that may be seen."""

    def __init__(self, sessions: "Sequence[KeptSession]") -> None:
        super().__init__()
        self.sessions = sessions


class RecordsFailed(Message):
    """The records cannot be read."""

    def __init__(self, error: ReadbackError) -> None:
        super().__init__()
        self.error = error


class RecordsScreen(KeyedScreen[None]):
    """The sessions, the newest first, and what they tell of their trainee.

    Args:
        services: The parts behind it.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f4", "replay", "Replay", tooltip="Replay this session, and correct it"),
        Binding("f5", "read", "Reload", tooltip="Read the records again"),
        Binding("f6", "rule", "Rule", tooltip="Show the rules and their sources, or hide them"),
        Binding("escape", "dismiss", "Back"),
    ]

    def __init__(self, services: Services) -> None:
        super().__init__()
        self.services = services
        self._sessions: Sequence[KeptSession] = ()
        self._rules = False

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield Static(" readback / records", id="title", markup=False)
        yield Static("reading …", id="call", markup=False)
        yield OptionList(id="list")
        with VerticalScroll(id="replayed"):
            yield Static("", id="told", markup=False)
        yield Keys()

    def on_mount(self) -> None:
        """Read them."""
        self.query_one("#list").focus()

    @property
    def _chosen(self) -> "KeptSession | None":
        place = self.query_one("#list", OptionList).highlighted
        known = place is not None and place < len(self._sessions)
        return self._sessions[place or 0] if known else None

    def action_read(self) -> None:
        """Read the records again."""
        self._read()

    @work(thread=True, exclusive=True)
    def _read(self) -> None:
        try:
            self.post_message(RecordsRead(list(self.services.store().sessions())[::-1]))
        except ReadbackError as error:
            self.post_message(RecordsFailed(error))

    @on(RecordsFailed)
    def _failed(self, message: RecordsFailed) -> None:
        self.query_one("#call", Static).update(Content(escape(str(message.error))))

    @on(RecordsRead)
    def _records_read(self, message: RecordsRead) -> None:
        self._sessions = message.sessions
        choices = self.query_one("#list", OptionList)
        place = choices.highlighted or 0
        choices.clear_options()
        choices.add_options([Option(Content(escape(session_title(one)))) for one in self._sessions])
        count = f"{len(self._sessions)} session{'' if len(self._sessions) == 1 else 's'}"
        hint = "" if self._sessions else "; practise --trainee NAME keeps what is practised"
        self.query_one("#call", Static).update(count + hint)
        choices.highlighted = min(place, len(self._sessions) - 1) if self._sessions else None
        self._show()

    @on(OptionList.OptionSelected, "#list")
    def _selected(self) -> None:
        self.action_replay()

    def action_replay(self) -> None:
        """Open the session in Replay."""
        from readback.screens.replay import ReplayScreen

        chosen = self._chosen
        if chosen is not None:
            self.app.push_screen(ReplayScreen(self.services, session=chosen.id))

    @on(ScreenResume)
    def _back_again(self) -> None:
        """A correction in Replay is to be seen here."""
        self.action_read()

    @on(OptionList.OptionHighlighted, "#list")
    def _show(self) -> None:
        chosen = self._chosen
        lines: list[Content] = []
        if chosen is not None:
            own = [one for one in self._sessions if one.head.trainee == chosen.head.trainee]
            lines = [*progress_lines(own), Content(""), *session_lines(chosen, rules=self._rules)]
        self.query_one("#told", Static).update(Content("\n").join(lines))

    def action_rule(self) -> None:
        """Show the rules, or hide them."""
        self._rules = not self._rules
        self._show()

    async def action_dismiss(self, result: None = None) -> None:
        """Go back."""
        self.dismiss()


def progress_lines(sessions: "Sequence[KeptSession]") -> Iterator[Content]:
    """Say what the sessions of one trainee tell: the trend, error kinds, what goes wrong most."""
    from readback.records.describing import describe_element, describe_share
    from readback.records.progress import measure_progress

    progress = measure_progress(sessions)
    trainee = escape(sessions[0].head.trainee)
    share = describe_share(progress.exchanges)
    yield Content.assemble((f"{trainee}: ", "bold"), f"{share} read back right")
    shares = [day.right.share for day in progress.trend if day.right.share is not None]
    if shares:
        first, last = shares[0], shares[-1]
        text = f"  trend by day  {bars(shares)}  first {first:.0%}, last {last:.0%}"
        if progress.change is not None:
            low, high = progress.change.interval
            text += (
                f"; later half {progress.change.difference:+.0%} (95 %: {low:+.0%} to {high:+.0%})"
            )
        yield Content(text)
    kinds = [f"{kind} {count}" for kind, count in progress.error_kinds.items() if count]
    yield Content(f"  errors  {', '.join(kinds) or 'none'}")
    worst = [
        one for one in progress.elements if one.right.share is not None and one.right.share < 1
    ]
    for one in worst[:_WORST]:
        name = describe_element(one.call, one.element)
        yield Content(f"  often wrong  {escape(name)}: {describe_share(one.right)} right")


def session_lines(session: "KeptSession", *, rules: bool = False) -> Iterator[Content]:
    """Give a session's exchanges, each with its verdict."""
    title = f"session {session.id}: {session.head.training}, {session.head.training_date}"
    yield Content.assemble((escape(title), "bold"))
    for exchange in session.exchanges:
        said = session.transmission(exchange.instruction).current.text
        by = f" by {exchange.outcome_by}" if exchange.outcome_by else ""
        yield Content.assemble(outcome_word(exchange.outcome), f"{escape(by)} {escape(said)}")
        answer = "(nothing)"
        if exchange.readback is not None:
            answer = session.transmission(exchange.readback).current.text
        yield Content(f"    readback: {escape(answer)}")
        yield from findings_lines(exchange.verdict.mistakes, rules=rules)


def bars(shares: Sequence[float]) -> str:
    """Draw shares from 0 to 1 as one bar each, the last ones where there are too many."""
    top = len(_BARS) - 1
    return "".join(_BARS[round(max(0.0, min(1.0, share)) * top)] for share in shares[-_MOST_BARS:])
