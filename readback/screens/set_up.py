"""Set-up: the microphone and how loud it is, the voice, and whose practice is kept."""

from collections.abc import Sequence
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.message import Message
from textual.widgets import Checkbox, Input, Label, OptionList, Static
from textual.widgets.option_list import Option

from readback.commands.terminal import escape
from readback.errors import ReadbackError
from readback.screens.services import Services
from readback.screens.talk import TalkScreen
from readback.screens.widgets.yes_no import YesNo
from readback.settings import save_settings
from readback.speech.devices import Device
from readback.speech.level import check_level
from readback.speech.live import Take
from readback.speech.voice import Spoken

_LONGEST_NAME = 200
_TRY = "F2, speak, F2: tells whether the level is right. F3 lets you hear the voice."
_SAID_BY_VOICE = "brakes released"


class DevicesListed(Message):
    """The inputs that there are now."""

    def __init__(self, devices: Sequence[Device], error: ReadbackError | None = None) -> None:
        super().__init__()
        self.devices = devices
        self.error = error


class SetUpScreen(TalkScreen):
    """What is chosen here is kept in the settings."""

    TITLE = "set-up"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f3", "voice", "Voice", tooltip="Hear the voice"),
        Binding("f5", "list", "List", tooltip="List the microphones again"),
        Binding("f9", "hands_free", "Hands-free", tooltip="Hands-free on or off"),
    ]

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._devices: Sequence[Device] = ()

    def compose(self) -> ComposeResult:
        """Lay the screen out."""
        yield from self.compose_head()
        yield Label("microphone (Enter chooses)", classes="field", markup=False)
        yield OptionList(id="list")
        yield Static(_TRY, id="call", markup=False)
        yield Label("records: whose practice is kept, empty keeps none", classes="field")
        with Horizontal(id="who"):
            yield Input(
                self.services.trainee or "",
                placeholder="name of the trainee, then Enter",
                id="trainee",
                max_length=_LONGEST_NAME,
            )
            yield YesNo("agreed that the voice is kept", self.services.consent, id="consent")
        yield from self.compose_foot()

    def on_mount(self) -> None:
        """List the microphones."""
        self.query_one("#list").focus()
        self.action_list()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave out what is open already."""
        return action != "set_up"

    # ---- microphones ---------------------------------------------------------------------------

    def action_list(self) -> None:
        """List the microphones that there are now."""
        self.cancel()
        self._list()

    @work(thread=True, exclusive=True, group="list")
    def _list(self) -> None:
        try:
            self.post_message(DevicesListed(self.services.list_microphones()))
        except ReadbackError as error:
            self.post_message(DevicesListed((), error))

    @on(DevicesListed)
    def _devices_listed(self, message: DevicesListed) -> None:
        self._devices = message.devices
        choices = self.query_one("#list", OptionList)
        choices.clear_options()
        problem = "" if message.error is None else str(message.error)
        if not self._devices:
            problem = problem or "This machine has no microphone; type instead."
            self.query_one("#call", Static).update(Content(escape(problem)))
        chosen = self._chosen_place()
        for place, device in enumerate(self._devices):
            mark = "✓ chosen " if place == chosen else " " * 9
            default = ", the system's own choice" if device.is_default else ""
            name = f"{escape(device.name)}, {device.sample_rate_hz} Hz{default}"
            choices.add_option(Option(Content.assemble((mark, "bold"), name)))
        choices.highlighted = chosen if self._devices else None

    def _chosen_place(self) -> int | None:
        wanted = self.services.device
        for place, device in enumerate(self._devices):
            if device.name == wanted or (wanted is None and device.is_default):
                return place
        return None

    @on(OptionList.OptionSelected, "#list")
    def _chosen(self, message: OptionList.OptionSelected) -> None:
        device = self._devices[message.option_index]
        self.cancel()
        self.services.choose_microphone(device.name)
        self._save(device=device.name)
        self._devices_listed(DevicesListed(self._devices))
        self.query_one("#call", Static).update(Content(f"{escape(device.name)} is chosen. {_TRY}"))

    async def heard(self, take: Take) -> None:
        """Tell how loud it was, and what was understood."""
        report = check_level(take.pcm)
        speech = "" if report.speech_dbfs is None else f"speech {report.speech_dbfs:.0f} dBFS, "
        text = f"{report.advice} ({speech}noise {report.noise_dbfs:.0f} dBFS)"
        self.query_one("#call", Static).update(
            Content(f"{text}\nunderstood: {escape(take.transmission.text)}")
        )

    # ---- the voice, the records ----------------------------------------------------------------

    def action_voice(self) -> None:
        """Hear the voice."""
        if self.doing == "ready":
            self.speak("headset", _SAID_BY_VOICE, "interphone")

    def voice_ended(self, spoken: Spoken) -> None:
        """Tell what was to be heard."""
        what = {
            "voice": f"The voice said: {_SAID_BY_VOICE}.",
            "tone": "No voice is installed: a tone marks each call, its words are shown.",
            "text": "Nothing can be played here: the words are shown.",
        }
        self.query_one("#call", Static).update(what[spoken.by])

    @on(Input.Submitted, "#trainee")
    def _trainee_named(self, message: Input.Submitted) -> None:
        trainee = message.value.strip() or None
        if trainee != self.services.trainee:
            # What one trainee agreed to is not another's consent.
            self.query_one(YesNo).value = False
        self.services.trainee = trainee
        self._save(trainee=trainee)
        who = "Nothing is kept" if trainee is None else f"What {trainee} practises is kept"
        self.tell(f"{who} from the next exercise on.")

    @on(Checkbox.Changed, "#consent")
    def _consent_given(self, message: Checkbox.Changed) -> None:
        self.services.consent = message.value
        self._save(consent=message.value)

    def _save(self, **changes: str | bool | None) -> None:
        try:
            save_settings(**changes)
        except ReadbackError as error:
            self.tell(str(error))
