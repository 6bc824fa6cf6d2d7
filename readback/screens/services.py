"""What the screens are given: ears, a voice and settings, each made when first used."""

import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from readback.errors import AudioError, InputError, ReadbackError
from readback.speech.devices import import_sounddevice
from readback.speech.duplex import HalfDuplex
from readback.speech.live import LiveListener
from readback.speech.microphone import Microphone
from readback.speech.recogniser import Recogniser
from readback.speech.voice import Speaker
from readback.transmission import Transmission

if TYPE_CHECKING:
    from readback.drills.model import Seat
    from readback.judging.local import LocalWording
    from readback.listener import Listener
    from readback.records.model import SessionHead
    from readback.records.store import Store
    from readback.replay.model import Replayed, ReplaySettings
    from readback.replay.recording import Replayer
    from readback.screens.keeping import Keeper
    from readback.speech.devices import Device

CHANNELS = ("clean", "radio", "interphone", "noisy")


@dataclass
class Services:
    """The parts behind the screens.

    Each function raises a `ReadbackError` where its part cannot work here; all else still does.
    """

    make_recogniser: Callable[[], Recogniser]
    make_microphone: Callable[[], tuple[Microphone, str]]
    """The microphone and its name."""
    make_speaker: Callable[[HalfDuplex], Speaker]
    make_listener: "Callable[[], Listener] | None" = None
    """What hears recordings, as ``readback replay`` does; None: the recogniser that hears takes."""
    list_microphones: "Callable[[], Sequence[Device]]" = tuple
    """Lists the inputs that there are now."""
    device: str | None = None
    """The input that was chosen, as `readback.speech.devices.choose_device` takes it."""
    authority: str = "icao"
    seed: int = 0
    least_certainty: float = 0.0
    """What is heard with less is not judged; typed words have none and always are."""
    by_channel: Mapping[str, float] = field(default_factory=dict)
    """The same where the channel was found by its sound."""
    hands_free: bool = False
    """Whether listening begins by itself after a call; else with the key."""
    timed: bool = False
    """Whether a drill judges too how long the trainee takes."""
    open_store: "Callable[[], Store] | None" = None
    """Opens the training records; None: there are none, and no screen for them."""
    trainee: str | None = None
    """Whose practice is kept in the records; None keeps nothing."""
    consent: bool = False
    """Whether the trainee agreed that the voice is kept as well."""
    duplex: HalfDuplex = field(default_factory=HalfDuplex)
    _recogniser: Recogniser | None = None
    _live: LiveListener | None = None
    _speaker: Speaker | None = None
    _store: "Store | None" = None
    _listener: "Listener | None" = None
    _replayer: "Replayer | None" = None
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _replaying: threading.Lock = field(default_factory=threading.Lock)
    microphone_name: str = "not opened"
    recogniser_name: str = "not started"

    @property
    def voice_name(self) -> str:
        """What speaks, for the status line."""
        return self._speaker.name if self._speaker else "not started"

    def recogniser(self) -> Recogniser:
        """Give the recogniser, started at first use; waits, so call it from a thread."""
        with self._lock:
            if self._recogniser is None:
                try:
                    self._recogniser = self.make_recogniser()
                except ReadbackError:
                    self.recogniser_name = "none"
                    raise
                self.recogniser_name = self._recogniser.name
            return self._recogniser

    def live(self) -> LiveListener:
        """Give the ears, opened at first use; waits, so call it from a thread."""
        recogniser = self.recogniser()
        with self._lock:
            if self._live is None:
                try:
                    microphone, self.microphone_name = self.make_microphone()
                except ReadbackError:
                    self.microphone_name = "none"
                    raise
                self._live = LiveListener(microphone, recogniser, self.duplex)
            return self._live

    def choose_another_microphone(self) -> None:
        """Forget the microphone: the next take opens what there is then."""
        with self._lock:
            self._live = None

    def choose_microphone(self, device: str) -> None:
        """Have the next take open this input."""
        self.device = device
        self.microphone_name = device
        self.choose_another_microphone()

    def speaker(self) -> Speaker:
        """Give the voice, found at first use; waits, so call it from a thread."""
        with self._lock:
            if self._speaker is None:
                self._speaker = self.make_speaker(self.duplex)
            return self._speaker

    def least_certainty_of(self, *heard: "Transmission | str") -> float:
        """Tell how certain a verdict on these must be: the strictest of their channels."""
        channels = {one.channel for one in heard if isinstance(one, Transmission)} - {None}
        least = [self.by_channel.get(str(one), self.least_certainty) for one in channels]
        return max(least, default=self.least_certainty)

    @property
    def open_ears(self) -> LiveListener | None:
        """The ears where they are open; never waits."""
        return self._live

    def fall_silent(self) -> None:
        """End what is spoken and listened to; never waits."""
        if self._speaker is not None:
            self._speaker.cancel()
        if self._live is not None:
            self._live.cancel()

    def store(self) -> "Store":
        """Give the training records, opened at first use; waits, so call it from a thread."""
        with self._lock:
            if self._store is None:
                if self.open_store is None:
                    raise InputError("There are no training records here.", "Go on without.")
                self._store = self.open_store()
            return self._store

    def keeper(
        self,
        training: str,
        *,
        authority: str | None = None,
        drill: str | None = None,
        settings: dict[str, str | int] | None = None,
    ) -> "Keeper | None":
        """Give what keeps one session; None where nothing is kept.

        Args:
            training: Name of the training.
            authority: Whose rules count; None: as everywhere here.
            drill: Name of the drill.
            settings: What else was set.
        """
        trainee = self.trainee
        if trainee is None or self.open_store is None:
            return None
        from readback.screens.keeping import Keeper, make_head

        def head(store: "Store") -> "SessionHead":
            return make_head(
                store,
                trainee=trainee,
                training=training,
                authority=authority or self.authority,
                engine=None if self._recogniser is None else self._recogniser.name,
                least_certainty=self.least_certainty,
                consent=self.consent,
                drill=drill,
                settings=settings,
            )

        return Keeper(self.store, head)

    def replay_settings(
        self, drill: str | None = None, seat: "Seat | None" = None
    ) -> "ReplaySettings":
        """Give what a replay here asks.

        Args:
            drill: Name of the drill that the recording is laid beside; None: of none. Its rules
                count unless others were asked for.
            seat: Of the trainee in it.

        Raises:
            ReadbackError: There is no such drill, or its file holds a mistake.
        """
        from readback.drills.files import find_drill, load_drill
        from readback.replay.model import ReplaySettings

        authority = self.authority
        if drill is not None and authority == "icao":
            authority = load_drill(find_drill(drill)).setting.authority
        return ReplaySettings(authority=authority, drill=drill, seat=seat)

    def replay(
        self,
        path: Path,
        settings: "ReplaySettings",
        progress: Callable[[float, float], None],
    ) -> "Replayed":
        """Hear and judge a recording as ``readback replay`` does; see `Replayer.replay`.

        Waits, so call it from a thread; the next one waits until one that was given up is.

        Args:
            path: The recording.
            settings: As `replay_settings` gives them.
            progress: As `Replayer.replay` takes it.
        """
        from readback.replay.recording import Replayer

        with self._replaying:
            if self._listener is None:
                self._listener = self._make_listener()
            listener = self._listener
            if self._replayer is None or self._replayer.settings != settings:
                self._replayer = Replayer(settings, listener)
            started = False

            def on_read(read_s: float, whole_s: float) -> None:
                nonlocal started
                progress(read_s, whole_s)
                if read_s and not started:
                    started, self.recogniser_name = True, listener.recogniser.name

            try:
                return self._replayer.replay(path, progress=on_read)
            except ReadbackError:
                self.recogniser_name = "none"
                raise

    @property
    def local(self) -> "LocalWording | None":
        """The operator's own wording by which recordings are judged."""
        return None if self._listener is None else self._listener.local

    def _make_listener(self) -> "Listener":
        if self.make_listener is not None:
            return self.make_listener()
        from readback.listener import Listener

        return Listener(recogniser=self.recogniser(), authority=self.authority)

    def close(self) -> None:
        """Give back what is open."""
        self.fall_silent()
        with self._lock:
            if self._recogniser is not None:
                self._recogniser.close()
                self._recogniser = None
            if self._listener is not None:
                self._listener.close()
                self._listener = self._replayer = None
            if self._store is not None:
                self._store.close()
                self._store = None


def open_services(
    *,
    engine: str | None = None,
    vosk_model: Path | None = None,
    device: str | None = None,
    authority: str = "icao",
    seed: int = 0,
    trainee: str | None = None,
    consent: bool = False,
    hands_free: bool = False,
    timed: bool = False,
    records: str | Path | None = None,
    local: Path | None = None,
) -> Services:
    """Give the parts of this machine; none of them is started yet.

    Args:
        engine: Recogniser; None takes the default.
        vosk_model: Folder of a Vosk model.
        device: Input, as `readback.speech.devices.choose_device` takes it.
        authority: Whose rules count.
        seed: Draws what is practised.
        trainee: Whose practice is kept in the records; None keeps nothing.
        consent: Whether the trainee agreed that the voice is kept as well.
        hands_free: Whether listening begins by itself after a call.
        timed: Whether a drill judges too how long the trainee takes.
        records: Where the records are; None: there are none.
        local: Directory of an operator's own wording, by which recordings are judged.
    """
    from readback.measure.certainty import load_thresholds
    from readback.speech import engines

    name = engine or engines.default_engine(vosk_model)
    thresholds = load_thresholds()

    def make_recogniser() -> Recogniser:
        from readback.phraseology.forms import NAMES
        from readback.phraseology.grammar import load_grammar
        from readback.phraseology.names import pronunciations

        grammar = load_grammar()
        # Those that exercises are made with: the same in every one.
        names = {said.name: said.phones for said in pronunciations(NAMES, grammar).values()}
        search = grammar.search(
            grouped_numbers=authority == "faa", names=names if name == "ear" else None
        )
        return engines.make_recogniser(name, search, vosk_model=vosk_model)

    def make_microphone() -> tuple[Microphone, str]:
        from readback.speech.devices import choose_device, device_opener, list_devices

        chosen = choose_device(list_devices(), services.device)
        return Microphone(device_opener(chosen)), chosen.name

    with suppress(AudioError):
        # Before the screen takes the terminal; what is missing is told when it is wanted.
        import_sounddevice()

    def open_store() -> "Store":
        from readback.records.store import Store

        return Store(str(records))

    def make_listener() -> "Listener":
        from readback.judging.local import load_local
        from readback.listener import Listener

        wording = None if local is None else load_local(local)
        return Listener(name, vosk_model, authority=authority, local=wording)

    def list_microphones() -> "Sequence[Device]":
        from readback.speech.devices import list_devices

        return list_devices()

    services = Services(
        make_recogniser,
        make_microphone,
        make_speaker,
        make_listener=make_listener,
        list_microphones=list_microphones,
        device=device,
        authority=authority,
        seed=seed,
        least_certainty=thresholds.least_certainty(name),
        by_channel={one: thresholds.least_certainty(name, one) for one in CHANNELS},
        open_store=None if records is None else open_store,
        trainee=trainee,
        consent=consent,
        hands_free=hands_free,
        timed=timed,
    )
    return services


def make_speaker(duplex: HalfDuplex) -> Speaker:
    """Make the voice of this machine: with less where something is missing."""
    from readback.speech.synthesisers import find_synthesiser
    from readback.speech.voice import DevicePlayer

    try:
        player = DevicePlayer()
    except AudioError:
        return Speaker(None, None, duplex)
    return Speaker(find_synthesiser(), player, duplex)
