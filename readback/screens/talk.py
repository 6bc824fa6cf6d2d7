"""What every screen with a microphone has: talk, be done, cancel, the voice, the status line."""

import asyncio
from abc import abstractmethod
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.timer import Timer
from textual.widgets import Static
from textual.worker import get_current_worker

from readback.commands.terminal import escape
from readback.errors import ReadbackError
from readback.screens.commands import KeyedScreen
from readback.screens.messages import (
    HearingFailed,
    ListeningBegan,
    PartialHeard,
    TakeHeard,
    VoiceEnded,
)
from readback.screens.services import Services
from readback.screens.widgets.keys import Keys
from readback.screens.widgets.status import StatusLine
from readback.settings import save_settings
from readback.speech.level import LOWEST_DBFS, check_level
from readback.speech.live import Ended, Take
from readback.speech.voice import Channel, Spoken
from readback.transmission import Transmission

if TYPE_CHECKING:
    from readback.screens.keeping import Keeper

_CHOOSE = "F12: another microphone."
TOLD_S = 12.0
"""How long a line that is told can be read."""
METER_S = 1 / 15
"""Between two looks at the level: one number is read, no message is posted for each block."""


class TalkScreen(KeyedScreen[None]):
    """A screen into which something can be said.

    Args:
        services: The parts behind it.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f2", "talk", "Talk", tooltip="Talk into the microphone, or be done talking"),
        Binding("f9", "hands_free", "Hands-free", show=False, tooltip="Hands-free on or off"),
        Binding("f12", "set_up", "Set-up", show=False, tooltip="Choose the microphone, check it"),
        Binding("escape", "back", "Back", tooltip="Cancel what goes on, or go back"),
    ]
    TITLE = ""

    def __init__(self, services: Services) -> None:
        super().__init__()
        self.services = services
        self._status = StatusLine()
        self.told: list[str] = []
        """What was told, the last at the end."""
        self._shown_told: list[str] = []
        self._telling: Timer | None = None
        self.keeper: Keeper | None = None
        """Keeps what is practised here; None where nothing is kept."""

    # ---- what a screen says of itself ----------------------------------------------------------

    @abstractmethod
    async def heard(self, take: Take) -> None:
        """Take what was said; of each screen its own.

        The type checker refuses a screen without it: a screen's metaclass is Textual's own.
        """

    def is_complete(self, heard: Transmission) -> bool | None:
        """Tell whether what was heard until now answers all that was asked; None: not known.

        Called while listening, in another thread.
        """
        return None

    def voice_ended(self, spoken: Spoken) -> None:
        """Go on after a station has spoken."""

    def compose_head(self) -> ComposeResult:
        """Give the line at the top."""
        yield Static(f" readback / {self.TITLE}", id="title", markup=False)

    def compose_foot(self) -> ComposeResult:
        """Give the bottom: what is told, what is understood so far, the status, the keys."""
        yield Static("", id="news", markup=False)
        yield Static("", id="partial", markup=False)
        yield self._status
        yield Keys()

    def on_mount(self) -> None:
        """Begin to look at the level."""
        self.show_partial("")
        self.set_interval(METER_S, self._draw_status)
        self._draw_status()

    async def on_unmount(self) -> None:
        """Nothing goes on behind another screen; what was kept is ended."""
        self.services.fall_silent()
        await self.end_keeping()

    # ---- talking -------------------------------------------------------------------------------

    @property
    def doing(self) -> str:
        """See `StatusLine.doing`."""
        return self._status.doing

    def be(self, doing: str) -> None:
        """Say in the status line what goes on."""
        self._status.doing = doing
        self._draw_status()

    def action_talk(self) -> None:
        """Begin to listen, or end with what was said until now."""
        ears = self.services.open_ears
        if self.doing == "listening" and ears is not None:
            ears.release()
        elif self.doing != "starting":
            self.begin_listening()

    def begin_listening(self, *, hands_free: bool = False) -> None:
        """Begin to listen; the voice falls silent."""
        self.services.fall_silent()
        self.be("starting")
        self._listen(hands_free)

    @work(thread=True, exclusive=True, group="ears")
    def _listen(self, hands_free: bool) -> None:
        worker = get_current_worker()
        try:
            live = self.services.live()
            if worker.is_cancelled:
                return
            self.post_message(ListeningBegan())
            take = live.hear(
                hands_free=hands_free,
                on_partial=self._post_partial,
                is_complete=self.is_complete,
                is_cancelled=lambda: worker.is_cancelled,
            )
        except ReadbackError as error:
            self.post_message(HearingFailed(error))
        else:
            if not worker.is_cancelled:
                self.post_message(TakeHeard(take))

    def _post_partial(self, heard: Transmission) -> None:
        self.post_message(PartialHeard(heard))

    def action_hands_free(self) -> None:
        """Have listening begin by itself after each call, or only with the key."""
        self.services.hands_free = not self.services.hands_free
        state = "on: listening begins after each call" if self.services.hands_free else "off"
        self.tell(f"Hands-free is {state}.")
        self.show_partial("")
        try:
            save_settings(hands_free=self.services.hands_free)
        except ReadbackError as error:
            self.tell(str(error))

    def action_set_up(self) -> None:
        """Choose the microphone; this screen stays as it is."""
        from readback.screens.set_up import SetUpScreen

        self.cancel()
        self.app.push_screen(SetUpScreen(self.services))

    def action_back(self) -> None:
        """Cancel what goes on; else go back."""
        if self.doing in ("listening", "starting", "speaking"):
            self.cancel()
        else:
            self.dismiss()

    def cancel(self) -> None:
        """End listening and speaking; nothing of it is judged."""
        self.workers.cancel_group(self, "ears")
        self.workers.cancel_group(self, "voice")
        self.services.fall_silent()
        self.show_partial("")
        self.be("ready")

    @on(ListeningBegan)
    def _listening_began(self) -> None:
        self.be("listening")
        self.show_partial("listening; F2: done, Esc: cancel")

    @on(PartialHeard)
    def _partial_heard(self, message: PartialHeard) -> None:
        if self.doing == "listening":
            self.show_partial(f"… {message.transmission.text}")

    @on(HearingFailed)
    def _hearing_failed(self, message: HearingFailed) -> None:
        self.be("ready")
        self.show_partial("")
        self.tell(f"{message.error} {_CHOOSE}")
        # Next time what there is then is opened: plugged in again, or another one.
        self.services.choose_another_microphone()

    @on(TakeHeard)
    async def _take_heard(self, message: TakeHeard) -> None:
        take = message.take
        self.be("ready")
        self.show_partial("")
        if take.problem is not None:
            self.tell(f"{take.problem} {_CHOOSE}")
            self.services.choose_another_microphone()
        if take.ended is Ended.CANCELLED:
            return
        if not take.transmission.words:
            ears = self.services.open_ears
            report = check_level(take.pcm if ears is None else ears.recent)
            self.tell(f"Nothing was understood. {report.advice}")
            return
        if take.losses and take.problem is None:
            self.tell("Samples were lost: the verdict is not certain, say it again.")
        await self.heard(take)

    # ---- the voice -----------------------------------------------------------------------------

    def speak(self, station: str, text: str, channel: Channel) -> None:
        """Have a station speak; `voice_ended` follows."""
        self.be("speaking")
        self._speak(station, text, channel)

    @work(thread=True, exclusive=True, group="voice")
    def _speak(self, station: str, text: str, channel: Channel) -> None:
        worker = get_current_worker()
        spoken = self.services.speaker().say(station, text, channel)
        if not worker.is_cancelled:
            self.post_message(VoiceEnded(spoken))

    @on(VoiceEnded)
    def _voice_ended(self, message: VoiceEnded) -> None:
        if self.doing == "speaking":
            self.be("ready")
        if message.spoken.problem is not None:
            self.tell(message.spoken.problem)
        self.voice_ended(message.spoken)

    # ---- the records ---------------------------------------------------------------------------

    def begin_keeping(self, keeper: "Keeper | None") -> None:
        """Keep what is said from here on, and say so at the top."""
        self.keeper = keeper
        if keeper is not None:
            voice = ", the voice as well" if self.services.consent else ""
            kept = f"kept in the records of {self.services.trainee}{voice}"
            title = f" readback / {self.TITLE}    {escape(kept)}"
            self.query_one("#title", Static).update(Content(title))

    async def kept(self) -> None:
        """Wait until what was said and judged is on disk: only then is its verdict shown."""
        if self.keeper is not None:
            try:
                await self.keeper.kept()
            except ReadbackError as error:
                self.tell(f"From here on nothing is kept: {error}")

    async def end_keeping(self, remarks: str = "") -> None:
        """End the session that is kept; `remarks` are the program's."""
        keeper, self.keeper = self.keeper, None
        if keeper is not None:
            await asyncio.to_thread(keeper.finish, remarks)

    # ---- showing -------------------------------------------------------------------------------

    def tell(self, text: str) -> None:
        """Tell one line for a while, where it covers nothing; the last two stay together."""
        self.told.append(text)
        self._shown_told = [*self._shown_told, text][-2:]
        self._show_told()
        if self._telling is not None:
            self._telling.stop()
        self._telling = self.set_timer(TOLD_S, self._forget_told)

    def _forget_told(self) -> None:
        self._shown_told = []
        self._show_told()

    def _show_told(self) -> None:
        line = self.query_one("#news", Static)
        line.display = bool(self._shown_told)
        line.update(Content("\n".join(map(escape, self._shown_told))))

    def show_partial(self, text: str) -> None:
        """Show what is understood so far; nothing: how one talks here."""
        if not text and self.services.hands_free:
            text = "hands-free: listens after each call (F9: only with F2)"
        self.query_one("#partial", Static).update(Content(escape(text)))

    def _draw_status(self) -> None:
        ears = self.services.open_ears
        self._status.draw(
            self.services.microphone_name,
            self.services.recogniser_name,
            self.services.voice_name,
            LOWEST_DBFS if ears is None else ears.level_dbfs,
        )
