"""A whole drill: the other seats are played, the ramp is in sight, the trainee says the rest."""

import time
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from readback.commands.drills import describe_setting
from readback.commands.terminal import escape
from readback.drills.engine import DrillRun
from readback.drills.events import DrillEvent
from readback.drills.files import find_drill, find_drills, load_drill
from readback.drills.model import Seat
from readback.drills.plan import make_plan
from readback.drills.practice import Line, Practice, Reply
from readback.drills.signals import load_signals
from readback.errors import ReadbackError
from readback.judging.completeness import is_complete
from readback.phraseology.grammar import load_grammar
from readback.screens.commands import KeyedScreen
from readback.screens.judged import LONGEST_TYPED, judge_said
from readback.screens.services import Services
from readback.screens.talk import TalkScreen
from readback.screens.widgets.keys import Keys
from readback.screens.widgets.ramp import RampStrip
from readback.screens.widgets.verdict import findings_lines
from readback.speech.audio import Pcm
from readback.speech.live import Take
from readback.speech.voice import Spoken
from readback.transmission import Transmission

MARKS = {
    "came": ("✓", "bold $correct"),
    "put right": ("✓", "bold $correct"),
    "wrong": ("✗", "bold $wrong"),
    "interlock": ("✗", "bold $wrong"),
    "wrong station": ("✗", "bold $wrong"),
    "out of order": ("✗", "bold $wrong"),
    "early": ("✗", "bold $wrong"),
    "late": ("✗", "bold $wrong"),
    "missing": ("–", "bold $wrong"),
    "not due": ("+", "bold $wrong"),
    "say again": ("?", "bold underline"),
}


class DrillReady(Message):
    """A drill is laid out."""

    def __init__(self, practice: Practice, purpose: str) -> None:
        super().__init__()
        self.practice = practice
        self.purpose = purpose


class DrillFailed(Message):
    """A drill cannot be laid out."""

    def __init__(self, error: ReadbackError) -> None:
        super().__init__()
        self.error = error


class DrillsFound(Message):
    """The catalogue was read: name, seat and title of each choice."""

    def __init__(self, drills: list[tuple[str, Seat, str]]) -> None:
        super().__init__()
        self.drills = drills


class DrillListScreen(KeyedScreen[tuple[str, Seat] | None]):
    """The catalogue: each drill with each of its seats."""

    TITLE = "drills"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "Back")]
    QUESTION: ClassVar[str] = "Which drill, and which seat is yours?"

    def __init__(self, services: Services) -> None:
        super().__init__()
        self.services = services
        self._choices: list[tuple[str, Seat]] = []

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield Static(f" readback / {self.TITLE}", id="title", markup=False)
        yield Static(self.QUESTION, id="question", markup=False)
        yield OptionList(id="choices")
        yield Keys()

    def on_mount(self) -> None:
        """List them, which reads files."""
        self.query_one(OptionList).focus()
        self._load()

    @work(thread=True, exclusive=True)
    def _load(self) -> None:
        found: list[tuple[str, Seat, str]] = []
        for name, path in find_drills().items():
            try:
                drill = load_drill(path)
            except ReadbackError as error:
                self.post_message(DrillFailed(error))
                continue
            found += [(name, seat, drill.title) for seat in drill.seats]
        self.post_message(DrillsFound(found))

    @on(DrillFailed)
    def _failed(self, message: DrillFailed) -> None:
        self.notify(escape(str(message.error)), markup=False, severity="error")

    @on(DrillsFound)
    def _found(self, message: DrillsFound) -> None:
        choices = self.query_one(OptionList)
        for name, seat, title in message.drills:
            self._choices.append((name, seat))
            # The title once, its seats under it.
            first = len(self._choices) < 2 or self._choices[-2][0] != name
            shown = (f"{escape(title)}  ", "bold") if first else (" " * 4, "")
            choices.add_option(Option(Content.assemble(shown, f"as {seat.replace('_', ' ')}")))
        choices.highlighted = 0 if self._choices else None

    @on(OptionList.OptionSelected)
    def _chosen(self, message: OptionList.OptionSelected) -> None:
        self.take(*self._choices[message.option_index])

    def take(self, name: str, seat: Seat) -> None:
        """Open the drill that was chosen."""
        self.app.push_screen(DrillScreen(self.services, name, seat))

    async def action_dismiss(self, result: tuple[str, Seat] | None = None) -> None:
        """Go back."""
        self.dismiss(result)


class RecordedDrillScreen(DrillListScreen):
    """The catalogue again: which drill a recording holds, and whose seat was the trainee's."""

    TITLE = "replay: which drill"
    QUESTION = "Which drill was recorded, and which seat was the trainee's?"

    def take(self, name: str, seat: Seat) -> None:
        """Give what was chosen to Replay."""
        self.dismiss((name, seat))


class DrillScreen(TalkScreen):
    """One drill.

    Args:
        services: The parts behind it.
        drill: Name in the catalogue, or a file.
        seat: The trainee's; None: the drill's first.
    """

    TITLE = "drill"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f3", "again", "Hear", tooltip="Hear the last call again"),
        Binding("f4", "from_start", "Restart", tooltip="The same drill from its start"),
        Binding("f6", "rule", "Rule", tooltip="Show the rules with the findings, or hide them"),
        Binding("f8", "hint", "Hint", tooltip="Show what is due"),
        Binding("f10", "finish", "End", tooltip="End the drill and sum it up"),
    ]

    def __init__(self, services: Services, drill: str, seat: str | None = None) -> None:
        super().__init__(services)
        self._drill = drill
        self._seat = seat
        self._last: Line | None = None
        self._rules = False
        self._kept: dict[int, int] = {}
        """Number in the records of what was said last for each due."""
        self.practice: Practice | None = None

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield from self.compose_head()
        yield RampStrip()
        yield VerticalScroll(id="exchange", can_focus=False)
        yield Static("", id="call", markup=False)
        yield Input(placeholder="type it, or F2 to say it", id="answer", max_length=LONGEST_TYPED)
        yield from self.compose_foot()

    def on_mount(self) -> None:
        """Lay the drill out, which reads files."""
        self.query_one("#answer", Input).focus()
        self._prepare()

    @work(thread=True, exclusive=True, group="prepare")
    def _prepare(self) -> None:
        try:
            drill = load_drill(find_drill(self._drill))
            plan = make_plan(
                drill,
                load_grammar(),
                seed=self.services.seed,
                seat=self._seat,  # type: ignore[arg-type]
                authority=None if self.services.authority == "icao" else self.services.authority,
            )
            run = DrillRun(plan, least_certainty=self.services.least_certainty_of)
            clock = time.monotonic if self.services.timed else None
            self.post_message(DrillReady(Practice(run, clock), drill.purpose))
        except ReadbackError as error:
            self.post_message(DrillFailed(error))

    @on(DrillFailed)
    def _failed(self, message: DrillFailed) -> None:
        self.app.notify(escape(str(message.error)), markup=False, severity="error", timeout=20)
        self.dismiss()

    @on(DrillReady)
    async def _ready(self, message: DrillReady) -> None:
        self.practice = message.practice
        plan = message.practice.run.plan
        await self.end_keeping()
        self._kept = {}
        keeper = self.services.keeper(
            plan.title,
            authority=plan.setting.authority,
            drill=self._drill,
            settings={"seed": plan.seed, "seat": plan.seat},
        )
        self.begin_keeping(keeper)
        await self.query_one("#exchange").remove_children()
        self._add(Content.assemble((escape(plan.title), "bold")))
        self._add(Content(escape(message.purpose)))
        for line in describe_setting(plan):
            self._add(Content(escape(line)))
        self._add(Content.assemble("your seat: ", (plan.seat.replace("_", " "), "bold")))
        self.query_one(RampStrip).show(message.practice.run.ramp)
        self._go_on()

    # ---- the exchange --------------------------------------------------------------------------

    def _go_on(self) -> None:
        """Have the next station speak, or ask the trainee, or end."""
        practice = self.practice
        if practice is None or practice.run.ended:
            return
        said = practice.advance()
        if said is not None:
            line, reply = said
            self._say(line)
            self._show_reply(reply)
        elif practice.turn is None:
            self.call_next(self.action_finish)
        else:
            self._show_turn()

    def _say(self, line: Line) -> None:
        self._last = line
        if self.keeper is not None:
            said = Transmission.typed(line.text).model_copy(update={"station": line.station})
            self._kept[line.due] = self.keeper.say(said)
        self._add_line(line.station, f"[{line.text}]" if line.signal else line.text)
        if line.signal:
            self.speak(line.station, "", "clean")
        else:
            self.speak(line.station, line.text, "radio" if line.radio else "interphone")

    def voice_ended(self, spoken: Spoken) -> None:
        """Go on with the exchange."""
        self._go_on()
        if self.services.hands_free and self.practice and self.practice.turn is not None:
            self.begin_listening(hands_free=True)

    def is_complete(self, heard: Transmission) -> bool | None:
        """See `TalkScreen.is_complete`."""
        practice, last = self.practice, self._last
        due = None if practice is None else practice.turn
        if practice is None or due is None or last is None or due.answers != last.due:
            return None
        authority = practice.run.plan.setting.authority
        return is_complete(judge_said(last.text, heard, authority))

    @on(Input.Submitted, "#answer")
    async def _typed(self, message: Input.Submitted) -> None:
        text = message.value.strip()
        if text and self.practice is not None and not self.practice.run.ended:
            message.input.value = ""
            await self._take(Transmission.typed(text))

    async def heard(self, take: Take) -> None:
        """Take what was said; with lost samples it is asked for again, not judged."""
        if not take.losses:
            await self._take(take.transmission, take.pcm)
        elif self.practice is not None:
            seat, said = self.practice.run.plan.seat, take.transmission
            self._add_line(seat, f"{said.text} (not judged)", mine=True)
            if self.keeper is not None:
                named = said.model_copy(update={"station": seat})
                self.keeper.say(named, take.pcm, by_trainee=True)

    async def _take(self, said: Transmission, pcm: Pcm | None = None) -> None:
        practice = self.practice
        if practice is None or practice.run.ended:
            return
        self.cancel()
        reply = practice.answer(said)
        await self._keep(said, pcm, reply)
        self._add_line(practice.run.plan.seat, said.text, mine=True)
        self._show_reply(reply)
        if reply.as_due is not None:
            self._add(Content.assemble(("  as it is due: ", "bold"), escape(reply.as_due)))
        if reply.said:
            self._say(reply.said[-1])
        elif reply.once_more:
            self._show_turn("Once more. ")
        else:
            self._go_on()

    async def _keep(self, said: Transmission, pcm: Pcm | None, reply: Reply) -> None:
        """Keep what was said and, of a readback, its verdict; calls of one's own have none."""
        keeper, practice = self.keeper, self.practice
        if keeper is None or practice is None:
            return
        seat = practice.run.plan.seat
        number = keeper.say(
            said.model_copy(update={"station": seat}),
            pcm,
            by_trainee=True,
            least_certainty=self.services.least_certainty_of(said),
        )
        for event in reply.events:
            if event.due is None or event.station != seat:
                continue
            self._kept[event.due] = number
            asked = practice.run.plan.dues[event.due].answers
            if event.verdict is not None and asked in self._kept:
                keeper.judge(event.verdict, instruction=self._kept[asked], readback=number)
        await self.kept()

    # ---- keys ----------------------------------------------------------------------------------

    def action_again(self) -> None:
        """Have the last call spoken again."""
        if self._last is not None and not self._last.signal and self.doing == "ready":
            self.speak(
                self._last.station, self._last.text, "radio" if self._last.radio else "interphone"
            )

    def action_hint(self) -> None:
        """Show what is due."""
        if self.practice is not None and (words := self.practice.hint()):
            self.tell(f"Due: {words}")

    def action_rule(self) -> None:
        """Show the rules of the findings to come, or no longer."""
        self._rules = not self._rules
        self.tell(f"Rules are {'shown' if self._rules else 'hidden'} from now on.")

    def action_from_start(self) -> None:
        """Begin again with the same values."""
        self.cancel()
        self._prepare()

    async def action_finish(self) -> None:
        """End the drill and sum it up."""
        practice = self.practice
        if practice is None or practice.run.ended:
            return
        self.cancel()
        complete = practice.run.due is None
        self._show_reply(practice.finish())
        faults = [event for event in practice.run.events if event.is_fault]
        said = sum(practice.run.state_of(due.number) == "said" for due in practice.run.plan.dues)
        whole = "" if complete else ", not gone through to its end"
        count = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
        summary = [f"{said} said, {count}{whole}."]
        summary += [
            f"{event.kind}: {'; '.join(one.message for one in event.findings) or event.message}"
            for event in faults
        ]
        self._add(Content.assemble((f"Summary: {summary[0]}", "bold reverse")))
        for line in summary[1:]:
            self._add(Content(f"  {escape(line)}"))
        await self.end_keeping("\n".join(["By the program:", *summary]))
        self.query_one("#call", Static).update("ended; F4 begins again, Esc goes back")

    # ---- showing -------------------------------------------------------------------------------

    def _add(self, line: Content) -> None:
        exchange = self.query_one("#exchange", VerticalScroll)
        exchange.mount(Static(line, classes="line", markup=False))
        exchange.scroll_end(animate=False)

    def _add_line(self, station: str, text: str, *, mine: bool = False) -> None:
        who = f"{station.replace('_', ' ')}{' (you)' if mine else ''}: "
        self._add(Content.assemble((who, "bold"), escape(text)))

    def _show_reply(self, reply: Reply) -> None:
        practice = self.practice
        if practice is None:
            return
        for event in reply.events:
            # That the program says what is due tells the trainee nothing.
            if event.kind != "came" or event.station == practice.run.plan.seat:
                self._show_event(event)
        self.query_one(RampStrip).show(practice.run.ramp)

    def _show_event(self, event: DrillEvent) -> None:
        mark, style = MARKS.get(event.kind, ("", "bold"))
        head = f"{mark} {event.kind}" if mark else event.kind
        self._add(Content.assemble("  ", (head, style), f": {escape(event.message)}"))
        if event.kind == "came":
            return
        for line in findings_lines(event.findings, rules=self._rules):
            self._add(Content.assemble("  ", line))
        if event.why and event.is_fault:
            self._add(Content.assemble("    ", (escape(event.why), "italic")))

    def _show_turn(self, before: str = "") -> None:
        practice = self.practice
        if practice is None or (due := practice.turn) is None:
            return
        if due.signal is not None:
            text = f"Show a signal: {load_signals()[due.signal].meaning} Type its name."
        elif due.is_answer:
            asker = practice.run.plan.dues[due.answers or 0].station
            text = f"Answer the {asker.replace('_', ' ')}. {due.prompt or ''}"
        elif due.part == "catch":
            text = "Go on, or put it right."
        else:
            text = due.prompt or f"Next: {due.step.replace('_', ' ')}."
        you = due.station.replace("_", " ")
        self.query_one("#call", Static).update(
            Content.assemble((f"your turn ({you}): ", "bold"), f"{before}{escape(text)}")
        )
