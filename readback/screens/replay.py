"""Replay: a recording as a list of exchanges, each judged; heard words corrected, judged anew."""

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Input, Label, OptionList, Static
from textual.widgets.option_list import Option
from textual.worker import get_current_worker

from readback.commands.terminal import escape
from readback.data import data_directory
from readback.errors import ReadbackError
from readback.judging.exchange import find_exchanges, join_pauses
from readback.judging.model import Verdict
from readback.judging.rules import load_rules
from readback.phraseology.grammar import load_grammar
from readback.screens.judged import LONGEST_TYPED, judge_said
from readback.screens.messages import RecordingHeard, VoiceEnded
from readback.screens.services import Services
from readback.screens.talk import TalkScreen
from readback.screens.widgets.verdict import VerdictView, outcome_word
from readback.speech.live import Take
from readback.speech.voice import Spoken
from readback.transmission import Transmission

_LONGEST_PATH = 4096


@dataclass
class Replayed:
    """One exchange, as heard or as corrected by hand."""

    instruction: Transmission
    readback: Transmission | None
    verdict: Verdict
    corrected: bool = False


class ReplayScreen(TalkScreen):
    """Recorded exchanges.

    Args:
        services: The parts behind it.
        files: Recordings to choose from; empty: those that come with the package.
    """

    TITLE = "replay"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f3", "play", "Play", tooltip="Play the instruction and the readback"),
        Binding("f4", "correct", "Correct", tooltip="Correct the words that were heard"),
        Binding("f5", "files", "Files", tooltip="Choose another recording"),
        Binding("f6", "rule", "Rule", tooltip="Show the rule and its source, or hide it"),
    ]

    def __init__(self, services: Services, files: tuple[Path, ...] = ()) -> None:
        super().__init__(services)
        self._files = files or tuple(
            sorted((data_directory("audio_demo_synth") / "recordings").glob("*.flac"))
        )
        self._path: Path | None = None
        self.exchanges: list[Replayed] = []

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield from self.compose_head()
        yield Static("Choose a recording, or type the path of one.", id="call", markup=False)
        yield OptionList(id="list")
        with VerticalScroll(id="replayed", can_focus=False):
            yield VerdictView(id="verdict")
        with Vertical(id="corrections"):
            for name in ("instruction", "readback"):
                yield Label(f"{name} as it was said (Enter judges anew)", markup=False)
                yield Input(id=f"said_{name}", max_length=LONGEST_TYPED)
        yield Input(placeholder="path of a recording", id="path", max_length=_LONGEST_PATH)
        yield from self.compose_foot()

    def on_mount(self) -> None:
        """Offer the recordings."""
        self.action_files()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave out the microphone: nothing is said here."""
        return action not in ("talk", "hands_free")

    async def heard(self, take: Take) -> None:
        """Nothing is said here."""

    # ---- choosing and hearing ------------------------------------------------------------------

    def action_files(self) -> None:
        """List the recordings to choose from."""
        self.cancel()
        self._path, self.exchanges = None, []
        choices = self.query_one("#list", OptionList)
        choices.clear_options()
        choices.add_options([Option(Content(escape(path.name))) for path in self._files])
        choices.highlighted = 0 if self._files else None
        self.query_one(VerdictView).show(None)
        self._close_corrections()
        self.query_one("#call", Static).update("Choose a recording, or type the path of one.")
        choices.focus()

    @on(Input.Submitted, "#path")
    def _path_typed(self, message: Input.Submitted) -> None:
        if message.value.strip():
            self._open(Path(message.value.strip()).expanduser())

    @on(OptionList.OptionSelected, "#list")
    def _selected(self, message: OptionList.OptionSelected) -> None:
        if self._path is None:
            self._open(self._files[message.option_index])

    @on(OptionList.OptionHighlighted, "#list")
    def _highlighted(self, message: OptionList.OptionHighlighted) -> None:
        if self.exchanges and message.option_index < len(self.exchanges):
            self._show_exchange()

    def _open(self, path: Path) -> None:
        self.be("hearing")
        self.query_one("#call", Static).update(Content(f"hearing {escape(str(path))} …"))
        self._hear(path)

    @work(thread=True, exclusive=True, group="ears")
    def _hear(self, path: Path) -> None:
        worker = get_current_worker()
        heard: list[Transmission] = []
        failure: ReadbackError | None = None
        try:
            for transmission in self.services.hear_file(path):
                if worker.is_cancelled:
                    return
                heard.append(transmission)
        except ReadbackError as error:
            # What was heard before the damage still counts.
            failure = error
        self.post_message(RecordingHeard(str(path), join_pauses(heard), failure))

    @on(RecordingHeard)
    def _recording_heard(self, message: RecordingHeard) -> None:
        self.be("ready")
        if message.error is not None:
            self.tell(str(message.error))
        authority = self.services.authority
        exchanges = find_exchanges(message.transmissions, load_grammar(), load_rules(authority))
        if not exchanges:
            self.query_one("#call", Static).update("No instruction that wants an answer was heard.")
            self._path = None
            return
        self._path = Path(message.path)
        self.exchanges = [
            Replayed(
                exchange.instruction,
                exchange.readback,
                judge_said(
                    exchange.instruction,
                    exchange.readback or "",
                    authority,
                    least_certainty=self.services.least_certainty,
                ),
            )
            for exchange in exchanges
        ]
        count = f"{len(exchanges)} exchange{'' if len(exchanges) == 1 else 's'}"
        self.query_one("#call", Static).update(Content(f"{escape(self._path.name)}: {count}"))
        self._list_exchanges()
        self.query_one("#list").focus()

    # ---- the exchanges -------------------------------------------------------------------------

    @property
    def chosen(self) -> Replayed | None:
        """The exchange that is shown."""
        place = self.query_one("#list", OptionList).highlighted
        return self.exchanges[place] if place is not None and self.exchanges else None

    def _list_exchanges(self, highlighted: int = 0) -> None:
        choices = self.query_one("#list", OptionList)
        choices.clear_options()
        choices.add_options([Option(_entry(one)) for one in self.exchanges])
        choices.highlighted = highlighted
        self._show_exchange()

    def _show_exchange(self) -> None:
        if self.chosen is not None:
            note = "corrected by hand" if self.chosen.corrected else ""
            self.query_one(VerdictView).show(self.chosen.verdict, note)

    def action_correct(self) -> None:
        """Open the words for correction, or close them."""
        chosen = self.chosen
        corrections = self.query_one("#corrections")
        if chosen is None or corrections.has_class("-open"):
            self._close_corrections()
            return
        corrections.add_class("-open")
        self.query_one("#said_instruction", Input).value = chosen.instruction.text
        self.query_one("#said_readback", Input).value = (
            chosen.readback.text if chosen.readback else ""
        )
        self.query_one("#path", Input).display = False
        self.query_one("#said_readback", Input).focus()

    @on(Input.Submitted, "#said_instruction, #said_readback")
    def _corrected(self) -> None:
        chosen, place = self.chosen, self.query_one("#list", OptionList).highlighted
        if chosen is None or place is None:
            return
        instruction = _retyped(chosen.instruction, self.query_one("#said_instruction", Input).value)
        readback = _retyped(chosen.readback, self.query_one("#said_readback", Input).value)
        if instruction == chosen.instruction and readback == chosen.readback:
            self._close_corrections()
            return
        verdict = judge_said(
            instruction,
            readback,
            self.services.authority,
            least_certainty=self.services.least_certainty,
        )
        self.exchanges[place] = Replayed(instruction, readback, verdict, corrected=True)
        self._close_corrections()
        self._list_exchanges(place)

    def _close_corrections(self) -> None:
        self.query_one("#corrections").remove_class("-open")
        self.query_one("#path", Input).display = True
        self.query_one("#list").focus()

    def action_back(self) -> None:
        """Close the corrections, go back to the recordings, or leave."""
        if self.query_one("#corrections").has_class("-open"):
            self._close_corrections()
        elif self._path is not None and self.doing == "ready":
            self.action_files()
        else:
            super().action_back()

    def action_rule(self) -> None:
        """Show the rules, or hide them."""
        self.query_one(VerdictView).toggle_rules()

    # ---- playing -------------------------------------------------------------------------------

    def action_play(self) -> None:
        """Play the pair."""
        chosen = self.chosen
        if chosen is not None and self._path is not None and self.doing == "ready":
            last = chosen.readback or chosen.instruction
            self.be("speaking")
            self._play(self._path, chosen.instruction.start or 0.0, last.end or 0.0)

    @work(thread=True, exclusive=True, group="voice")
    def _play(self, path: Path, start_s: float, end_s: float) -> None:
        from readback.speech.clips import read_clip

        try:
            spoken = self.services.speaker().play(read_clip(path, start_s, end_s))
        except ReadbackError as error:
            spoken = Spoken("text", str(error))
        self.post_message(VoiceEnded(spoken))


def _entry(replayed: Replayed) -> Content:
    seconds = replayed.instruction.start or 0.0
    at = f"{int(seconds) // 60:02}:{int(seconds) % 60:02}  "
    station = f"{escape(replayed.instruction.station)}: " if replayed.instruction.station else ""
    star = " (corrected)" if replayed.corrected else ""
    word = outcome_word(replayed.verdict.verdict, plain=True)
    return Content.assemble(at, word, f"{star}  {station}{escape(replayed.instruction.text)}")


def _retyped(heard: Transmission | None, text: str) -> Transmission:
    """Keep what was heard where nobody changed it; else typed words with the times of the whole."""
    if heard is None:
        return Transmission.typed(text)
    if heard.text == text:
        return heard
    typed = Transmission.typed(text)
    return typed.model_copy(
        update={"station": heard.station, "start": heard.start, "end": heard.end}
    )
