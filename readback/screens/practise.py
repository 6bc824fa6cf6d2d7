"""Free practice: one instruction after the other, drawn at random, each readback judged."""

from collections.abc import Iterator
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Static

from readback.judging.completeness import is_complete
from readback.judging.model import Verdict
from readback.judging.pairs import Pair, make_pairs
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.screens.judged import LONGEST_TYPED, judge_said
from readback.screens.services import Services
from readback.screens.talk import TalkScreen
from readback.screens.widgets.verdict import VerdictView
from readback.speech.live import Take
from readback.speech.voice import Channel, Spoken
from readback.transmission import Transmission

_MANY = 1_000_000


class InstructionDrawn(Message):
    """The next instruction is there."""

    def __init__(self, pair: Pair, station: str, channel: Channel) -> None:
        super().__init__()
        self.pair = pair
        self.station = station
        self.channel = channel


class PractiseScreen(TalkScreen):
    """Free practice."""

    TITLE = "practise"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f3", "again", "Hear", tooltip="Hear the instruction again"),
        Binding("f4", "once_more", "Retry", tooltip="Read the same instruction back once more"),
        Binding("f5", "next", "Next", tooltip="The next instruction"),
        Binding("f6", "rule", "Rule", tooltip="Show the rule and its source, or hide it"),
        Binding("f7", "words", "Words", tooltip="Show or hide the words of the instruction"),
        Binding("f8", "answer", "Answer", tooltip="Show a right readback"),
    ]

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._pairs = _faithful(services.seed, services.authority)
        self._drawn: InstructionDrawn | None = None
        self._shown = True
        self._asked: int | None = None
        """Number of the instruction in the records, once it is kept."""
        self.done = 0
        """Readbacks judged."""
        self.correct = 0

    @property
    def instruction(self) -> str:
        """What is to be read back now; empty while it is drawn."""
        return self._drawn.pair.instruction if self._drawn else ""

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield from self.compose_head()
        yield Static("drawing an instruction …", id="call", markup=False)
        with VerticalScroll(id="result", can_focus=False):
            yield VerdictView(id="verdict")
        yield Input(
            placeholder="type the readback, or F2 to say it",
            id="answer",
            max_length=LONGEST_TYPED,
        )
        yield from self.compose_foot()

    def on_mount(self) -> None:
        """Draw the first instruction."""
        self.query_one("#answer", Input).focus()
        settings: dict[str, str | int] = {"seed": self.services.seed}
        self.begin_keeping(self.services.keeper("readback practise", settings=settings))
        self.action_next()

    # ---- the instruction -----------------------------------------------------------------------

    def action_next(self) -> None:
        """Draw the next instruction."""
        self.cancel()
        self._draw_next()

    @work(thread=True, exclusive=True, group="draw")
    def _draw_next(self) -> None:
        pair = next(self._pairs)
        calls = parse(pair.instruction, load_grammar()).calls
        on_interphone = any(call.family == "interphone" for call in calls)
        station, channel = (
            ("flight_deck", "interphone") if on_interphone else ("controller", "radio")
        )
        self.post_message(InstructionDrawn(pair, station, channel))  # type: ignore[arg-type]

    @on(InstructionDrawn)
    def _instruction_drawn(self, message: InstructionDrawn) -> None:
        self._drawn, self._asked = message, None
        self._clear()
        self.action_again()

    def action_again(self) -> None:
        """Have the instruction spoken again."""
        if self._drawn is not None:
            self.cancel()
            self.speak(self._drawn.station, self.instruction, self._drawn.channel)

    def voice_ended(self, spoken: Spoken) -> None:
        """Listen by itself where that is asked for."""
        if spoken.by == "text" and not self._shown:
            self.action_words()
        if self.services.hands_free and self.query_one(VerdictView).verdict is None:
            self.begin_listening(hands_free=True)

    def action_words(self) -> None:
        """Show or hide the instruction's words."""
        self._shown = not self._shown
        self._show_call()

    def action_once_more(self) -> None:
        """Clear the answer; the instruction stays."""
        self.cancel()
        self._clear()

    # ---- the readback --------------------------------------------------------------------------

    @on(Input.Submitted, "#answer")
    async def _typed(self, message: Input.Submitted) -> None:
        if not message.value.strip() or self._drawn is None:
            return
        self.cancel()
        await self._judge(Transmission.typed(message.value))

    async def heard(self, take: Take) -> None:
        """Judge what was said."""
        self.query_one("#answer", Input).value = take.transmission.text
        await self._judge(take.transmission, take)

    def is_complete(self, heard: Transmission) -> bool | None:
        """See `TalkScreen.is_complete`."""
        return is_complete(judge_said(self.instruction, heard, self.services.authority))

    async def _judge(self, said: Transmission, take: Take | None = None) -> None:
        verdict = judge_said(
            self.instruction,
            said,
            self.services.authority,
            least_certainty=self.services.least_certainty_of(said),
            losses=take.losses if take else 0,
        )
        await self._keep(said, take, verdict)
        self.done += 1
        self.correct += verdict.verdict == "correct"
        self.query_one(VerdictView).show(verdict)
        self._show_call()

    async def _keep(self, said: Transmission, take: Take | None, verdict: Verdict) -> None:
        if self.keeper is None or self._drawn is None:
            return
        if self._asked is None:
            asked = Transmission.typed(self.instruction)
            self._asked = self.keeper.say(asked.model_copy(update={"station": self._drawn.station}))
        answered = self.keeper.say(
            said.model_copy(update={"station": "trainee"}),
            None if take is None else take.pcm,
            by_trainee=True,
            least_certainty=self.services.least_certainty_of(said),
        )
        self.keeper.judge(verdict, instruction=self._asked, readback=answered)
        await self.kept()

    def action_rule(self) -> None:
        """Show the rules, or hide them."""
        self.query_one(VerdictView).toggle_rules()

    def action_answer(self) -> None:
        """Show a right readback."""
        if self._drawn is not None:
            view = self.query_one(VerdictView)
            view.show(view.verdict, f"for example: {self._drawn.pair.readback}")

    # ---- showing -------------------------------------------------------------------------------

    def _clear(self) -> None:
        self.query_one(VerdictView).show(None)
        answer = self.query_one("#answer", Input)
        answer.value = ""
        answer.focus()
        self._show_call()

    def _show_call(self) -> None:
        if self._drawn is None:
            return
        who = self._drawn.station.replace("_", " ")
        words = self.instruction if self._shown else "(hidden; F7 shows the words, F3 says them)"
        self.query_one("#call", Static).update(
            Content.assemble(
                (f"{who}, {self._drawn.channel}", "bold"),
                f"    judged {self.done}, correct {self.correct}\n",
                words,
            )
        )


def _faithful(seed: int, authority: str) -> Iterator[Pair]:
    pairs = make_pairs(_MANY, seed, authority)
    return (pair for pair in pairs if pair.error is None)
