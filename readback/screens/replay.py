"""Replay: a recording or a kept session, who said what, each readback judged and corrected."""

import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import ClassVar

import numpy as np
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option
from textual.worker import get_current_worker

from readback.commands.terminal import escape
from readback.data import data_directory
from readback.drills.model import Seat
from readback.errors import ReadbackError
from readback.judging.model import Outcome
from readback.records.model import CorrectionKind, KeptExchange, KeptSession, KeptTransmission
from readback.replay.folder import find_recordings
from readback.screens.correct import CorrectScreen, exchange_of
from readback.screens.drill import RecordedDrillScreen
from readback.screens.messages import (
    FolderRead,
    HearingGoesOn,
    PlayingFailed,
    SessionOpened,
    SessionsListed,
    VoiceEnded,
)
from readback.screens.replayed import GivenUpError, Replayed, hear_recording, read_session
from readback.screens.services import Services
from readback.screens.talk import TalkScreen
from readback.screens.transmissions import (
    notes_on,
    progress_line,
    session_heading,
    session_title,
    transmission_rows,
)
from readback.screens.widgets.verdict import VerdictView
from readback.settings import load_settings
from readback.speech.channel import Samples
from readback.speech.live import Take
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.speech.voice import Spoken

_LONGEST_PATH = 4096
_BETWEEN_S = 0.3
"""Silence between the two sides of a pair."""
_CHOOSE = "Choose a session or a recording, or type the path of a file or a folder."
_READING = "reading the records …"
_MOST_SESSIONS = 200
_TOLD_EVERY_S = 0.1
_OF_A_SESSION = frozenset({"play_one", "play_pair", "correct", "rule", "sources", "next_wrong"})
"""What is done with what is open."""


class ReplayScreen(TalkScreen):
    """Transmissions in their order, with times, stations and verdicts.

    Args:
        services: The parts behind it.
        files: Recordings to choose from; empty: those that come with the package.
        session: Number of a kept session that is opened at once.
    """

    TITLE = "replay"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f2", "play_one", "Play", tooltip="Play this transmission"),
        Binding("f3", "play_pair", "Pair", tooltip="Play the instruction and its readback"),
        Binding("f4", "correct", "Correct", tooltip="Correct what was heard or judged"),
        Binding("f5", "sources", "Open", tooltip="Choose another session or recording"),
        Binding("f6", "rule", "Rule", tooltip="Show the rule and its source, or hide it"),
        Binding("f7", "next_wrong", "Next wrong", tooltip="Go to the next that is not correct"),
        Binding("f8", "drill", "Drill", tooltip="Lay recordings beside a drill, or beside none"),
        Binding("w", "correct('words')", "Words", show=False, tooltip="Correct the words"),
        Binding("s", "correct('station')", "Station", show=False, tooltip="Correct who spoke"),
        Binding("a", "correct('pairing')", "Answer", show=False, tooltip="Correct what answers it"),
        Binding("v", "correct('verdict')", "Verdict", show=False, tooltip="Overrule the verdict"),
        Binding("m", "correct('remarks')", "Remark", show=False, tooltip="Add a remark"),
    ]

    def __init__(
        self, services: Services, files: tuple[Path, ...] = (), session: int | None = None
    ) -> None:
        super().__init__(services)
        self._files = files or tuple(
            sorted((data_directory("audio_demo_synth") / "recordings").glob("*.flac"))
        )
        self._wanted = session
        """The session for which it was opened: then it is left with it."""
        self.replayed: Replayed | None = None
        """What is open."""
        self._beside: tuple[str, Seat] | None = None
        """Name of the drill that recordings are laid beside, and the trainee's seat in it."""

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield from self.compose_head()
        yield Static(_CHOOSE, id="call", markup=False)
        yield OptionList(id="list")
        with VerticalScroll(id="replayed", can_focus=False):
            yield VerdictView(id="verdict")
        yield Input(placeholder="path of a file or a folder", id="path", max_length=_LONGEST_PATH)
        yield from self.compose_foot()

    def on_mount(self) -> None:
        """Offer what there is, or open what was asked for."""
        wanted = self._wanted
        self.action_sources()
        if wanted is not None:
            self._wanted = wanted
            self._load(wanted)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave out the microphone, and before something is open what is done with it."""
        if action in ("talk", "hands_free"):
            return False
        if action == "drill":
            return self.session is None
        return self.session is not None or action not in _OF_A_SESSION

    async def heard(self, take: Take) -> None:
        """Nothing is said here."""

    # ---- choosing ------------------------------------------------------------------------------

    def action_sources(self) -> None:
        """List the sessions and the recordings to choose from."""
        self.cancel()
        self.replayed, self._wanted = None, None
        self.query_one(VerdictView).show(None)
        self._choosing(True)
        self._ask()
        self.query_one("#list").focus()
        self.refresh_bindings()
        if self.services.open_store is None:
            self._offer([])
        else:
            # Recordings alone would be pushed down under the cursor when the sessions come.
            choices = self.query_one("#list", OptionList)
            choices.clear_options()
            choices.add_option(Option(_READING, disabled=True))
            self._list_sessions()

    def _ask(self) -> None:
        text = _CHOOSE
        if self._beside is not None:
            name, seat = self._beside
            as_seat = seat.replace("_", " ")
            text += f"\nA recording is laid beside the drill {name}, the trainee as {as_seat}."
        self.query_one("#call", Static).update(Content(text))

    def action_drill(self) -> None:
        """Choose the drill that recordings are laid beside; chosen already, leave it out."""
        if self._beside is not None:
            self._lay_beside(None)
        elif self.doing == "ready":
            self.app.push_screen(RecordedDrillScreen(self.services), self._lay_beside)

    def _lay_beside(self, beside: tuple[str, Seat] | None) -> None:
        self._beside = beside
        self._ask()

    def _choosing(self, choosing: bool) -> None:
        self.set_class(choosing, "-choosing")
        self.query_one("#replayed").display = not choosing
        self.query_one("#path").display = choosing

    def _offer(self, sessions: Sequence[tuple[int, str]]) -> None:
        choices = self.query_one("#list", OptionList)
        chosen = choices.highlighted_option
        choices.clear_options()
        if sessions:
            choices.add_option(Option(Content.assemble(("sessions", "bold")), disabled=True))
            choices.add_options(
                [Option(Content(escape(text)), id=f"session {one}") for one, text in sessions]
            )
        choices.add_option(Option(Content.assemble(("recordings", "bold")), disabled=True))
        choices.add_options(
            [
                Option(Content(f"     {escape(path.name)}"), id=f"file {number}")
                for number, path in enumerate(self._files)
            ]
        )
        ids = [one.id for one in choices.options]
        if chosen is not None and chosen.id is not None and chosen.id in ids:
            choices.highlighted = ids.index(chosen.id)
        else:
            choices.highlighted = 1 if choices.option_count > 1 else None

    @work(thread=True, exclusive=True, group="sessions")
    def _list_sessions(self) -> None:
        try:
            kept = list(self.services.store().sessions())[-_MOST_SESSIONS:]
        except ReadbackError as error:
            self.post_message(SessionsListed((), error))
        else:
            self.post_message(
                SessionsListed([(one.id, session_title(one)) for one in reversed(kept)])
            )

    @on(SessionsListed)
    def _sessions_listed(self, message: SessionsListed) -> None:
        if message.error is not None:
            self.tell(str(message.error))
        if self.session is None:
            self._offer(message.sessions)

    @on(Input.Submitted, "#path")
    def _path_typed(self, message: Input.Submitted) -> None:
        typed = message.value.strip()
        path = Path(typed).expanduser()
        if typed and path.is_dir():
            self._look_into(path)
        elif typed:
            self._open(path)

    @work(thread=True, exclusive=True, group="ears")
    def _look_into(self, folder: Path) -> None:
        try:
            self.post_message(FolderRead(tuple(map(Path, find_recordings([str(folder)])))))
        except ReadbackError as error:
            self.post_message(SessionOpened(None, str(error)))

    @on(FolderRead)
    def _folder_read(self, message: FolderRead) -> None:
        self._files = message.files
        self.query_one("#path", Input).value = ""
        self.action_sources()

    @on(OptionList.OptionSelected, "#list")
    def _selected(self, message: OptionList.OptionSelected) -> None:
        if self.session is not None:
            self.action_play_one()
        elif message.option_id is not None:
            kind, number = message.option_id.split()
            if kind == "session":
                self._load(int(number))
            else:
                self._open(self._files[int(number)])

    # ---- opening -------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="ears")
    def _load(self, number: int) -> None:
        try:
            self.post_message(SessionOpened(read_session(self.services, number)))
        except ReadbackError as error:
            self.post_message(SessionOpened(None, str(error)))

    def _open(self, path: Path) -> None:
        self.be("hearing")
        text = f"hearing {escape(str(path))}\nopening it …; Esc cancels"
        self.query_one("#call", Static).update(Content(text))
        self._hear(path)

    @work(thread=True, exclusive=True, group="ears")
    def _hear(self, path: Path) -> None:
        worker = get_current_worker()
        began = told = 0.0

        def on_read(read_s: float, whole_s: float) -> bool:
            nonlocal began, told
            now = time.monotonic()
            # The recogniser is started before the first block: what is left is told by the others.
            began = began or (now if read_s else 0.0)
            if read_s and now - told >= _TOLD_EVERY_S and not worker.is_cancelled:
                told = now
                left_s = (now - began) / read_s * (whole_s - read_s) if now > began else None
                self.post_message(HearingGoesOn(str(path), read_s, whole_s, left_s))
            return not worker.is_cancelled

        with suppress(GivenUpError):
            replayed, problem = hear_recording(self.services, path, on_read, self._beside)
            if not worker.is_cancelled:
                self.post_message(SessionOpened(replayed, problem))

    @on(HearingGoesOn)
    def _hearing_goes_on(self, message: HearingGoesOn) -> None:
        if self.doing == "hearing":
            text = f"hearing {escape(message.path)}\n{progress_line(message)}"
            self.query_one("#call", Static).update(Content(text))

    @on(SessionOpened)
    def _session_opened(self, message: SessionOpened) -> None:
        self.be("ready")
        if message.problem is not None:
            self.tell(message.problem)
        if message.replayed is None:
            self._ask()
            return
        self.replayed = message.replayed
        self._choosing(False)
        self._list_transmissions()
        self.query_one("#list").focus()
        self.refresh_bindings()

    # ---- the transmissions ---------------------------------------------------------------------

    @property
    def session(self) -> KeptSession | None:
        """The session that is open."""
        return None if self.replayed is None else self.replayed.session

    @property
    def chosen(self) -> KeptTransmission | None:
        """The transmission that is highlighted."""
        place = self.query_one("#list", OptionList).highlighted
        if self.session is None or place is None or place >= len(self.session.transmissions):
            return None
        return self.session.transmissions[place]

    @property
    def exchange(self) -> KeptExchange | None:
        """The exchange to which it belongs."""
        if self.session is None or self.chosen is None:
            return None
        return exchange_of(self.session, self.chosen.number)

    def _list_transmissions(self, highlighted: int = 0) -> None:
        session = self.session
        if session is None:
            return
        choices = self.query_one("#list", OptionList)
        choices.clear_options()
        choices.add_options(map(Option, transmission_rows(session)))
        choices.highlighted = highlighted
        drill = self.replayed.drill if self.replayed is not None else None
        self.query_one("#call", Static).update(session_heading(session, drill))
        self._show_chosen()

    @on(OptionList.OptionHighlighted, "#list")
    def _show_chosen(self) -> None:
        if self.session is None or self.chosen is None:
            return
        exchange = self.exchange
        notes = list(notes_on(self.session, self.chosen, exchange))
        if exchange is None:
            self.query_one(VerdictView).show(None, "\n".join([*notes, "Belongs to no exchange."]))
        else:
            verdict = exchange.verdict
            note = "\n".join(notes)
            self.query_one(VerdictView).show(verdict, note)

    def action_correct(self, kind: str = CorrectionKind.WORDS.value) -> None:
        """Open the form for a correction of the transmission that is chosen."""
        if self.replayed is None or self.chosen is None or self.doing != "ready":
            return
        by = ""
        with suppress(ReadbackError):
            by = load_settings().corrected_by or ""
        form = CorrectScreen(
            self.replayed,
            self.chosen.number,
            kind=CorrectionKind(kind),
            by=by,
            trainee=self.services.trainee or "",
        )
        self.app.push_screen(form, self._corrected)

    def _corrected(self, replayed: Replayed | None) -> None:
        if replayed is not None:
            self.replayed = replayed
            self._list_transmissions(self.query_one("#list", OptionList).highlighted or 0)
            self.tell(f"Kept in session {replayed.session.id} and judged again.")

    def action_next_wrong(self) -> None:
        """Go to the next verdict that is not correct; after the last to the first."""
        if self.session is None:
            return
        choices = self.query_one("#list", OptionList)
        here = choices.highlighted or 0
        wrong = [
            (exchange.readback or exchange.instruction) - 1
            for exchange in self.session.exchanges
            if exchange.outcome is not Outcome.CORRECT
        ]
        if wrong:
            choices.highlighted = min(wrong, key=lambda place: (place <= here, place))
        else:
            self.tell("Nothing here is wrong.")

    def action_rule(self) -> None:
        """Show the rules, or hide them."""
        self.query_one(VerdictView).toggle_rules()

    def action_back(self) -> None:
        """Go back to what can be chosen, or leave."""
        if self.session is not None and self._wanted is None and self.doing == "ready":
            self.action_sources()
        elif self.doing == "hearing":
            self.cancel()
            self._ask()
        else:
            super().action_back()

    # ---- playing -------------------------------------------------------------------------------

    def action_play_one(self) -> None:
        """Play the transmission that is chosen."""
        if self.chosen is not None:
            self._play_all([self.chosen])

    def action_play_pair(self) -> None:
        """Play the instruction and its readback."""
        exchange = self.exchange
        if self.session is not None and exchange is not None:
            sides = (exchange.instruction, exchange.readback)
            self._play_all([self.session.transmission(one) for one in sides if one is not None])

    def _play_all(self, kept: Sequence[KeptTransmission]) -> None:
        if self.replayed is not None and self.doing == "ready":
            self.be("speaking")
            self._play(self.replayed, kept)

    @work(thread=True, exclusive=True, group="voice")
    def _play(self, replayed: Replayed, kept: Sequence[KeptTransmission]) -> None:
        worker = get_current_worker()
        speaker = self.services.speaker()
        spoken = Spoken("text")
        try:
            for one in kept:
                if worker.is_cancelled:
                    return
                sound = replayed.sound(one)
                if sound is not None:
                    spoken = speaker.play(np.concatenate([sound, _silence()]))
                else:
                    # No sound was kept of it: the station's voice reads the words.
                    spoken = speaker.say(one.current.station or "instructor", one.current.text)
        except ReadbackError as error:
            self.post_message(PlayingFailed(error))
            return
        if spoken.by == "text" and spoken.problem is None:
            spoken = Spoken("text", "Nothing can be played on this machine: read the words.")
        self.post_message(VoiceEnded(spoken))

    @on(PlayingFailed)
    def _playing_failed(self, message: PlayingFailed) -> None:
        self.be("ready")
        self.tell(str(message.error))


def _silence() -> Samples:
    return np.zeros(round(_BETWEEN_S * SAMPLE_RATE_HZ), np.float32)
