"""The other station speaks: a synthesiser, the channel it is heard through, a loudspeaker.

Without a synthesiser a tone marks the call, without a loudspeaker nothing sounds; the text is then
what the trainee has. The words are always the caller's to show.
"""

import importlib
import importlib.util
import re
import shutil
import struct
import subprocess
import threading
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np

from readback.errors import AudioError
from readback.speech.channel import PEAK, Samples, clean, interphone, vhf_radio
from readback.speech.devices import OPEN_STREAMS, import_sounddevice
from readback.speech.engine_errors import one_line
from readback.speech.live import HalfDuplex
from readback.speech.recogniser import SAMPLE_RATE_HZ

Channel = Literal["radio", "interphone", "clean"]
SNR_DB = 20.0
"""Of the radio and the interphone in practice: plain to hear, yet no studio; our choice."""
TONE_HZ, TONE_S = 1_000.0, 0.25
LONGEST_SPEAKING_S = 20.0
"""A synthesiser that takes longer hangs."""
PIECE_S = 0.1
"""A voice that is cancelled ends within this time."""


@dataclass(frozen=True)
class Manner:
    """How one station speaks."""

    espeak: str
    """Voice and variant of espeak-ng."""
    pitch: int
    """Of espeak-ng, 0 to 99."""
    words_a_minute: int
    semitones: float
    """By which a synthesiser with a single voice is raised or lowered."""


MANNERS: Mapping[str, Manner] = {
    "flight_deck": Manner("en-us+m3", 38, 165, -4.0),
    "headset": Manner("en-gb+m7", 52, 160, -1.0),
    "controller": Manner("en-gb+f3", 55, 170, 0.0),
    "tow_driver": Manner("en-gb-scotland+m2", 45, 160, -5.0),
    "wing_walker": Manner("en-us+m6", 60, 165, -2.0),
    "other_aircraft": Manner("en-us+f4", 50, 175, 1.5),
    "instructor": Manner("en-us+m1", 42, 150, -3.0),
}
"""Stations of a drill; any other has the manner of one of them, always the same."""


class Synthesiser(Protocol):
    """Turns text into speech."""

    name: str

    def speak(self, text: str, station: str) -> Samples:
        """Speak a text in a station's voice.

        Returns:
            Mono samples at 16 kHz, shape (n,), not empty.

        Raises:
            AudioError: The synthesiser broke.
        """
        ...


class Player(Protocol):
    """Lets sound be heard."""

    def play(self, samples: Samples, cancelled: threading.Event) -> None:
        """Play mono samples at 16 kHz; waits until they have been heard or are cancelled.

        Raises:
            AudioError: They cannot be heard here.
        """
        ...


@dataclass(frozen=True)
class Spoken:
    """What was to be heard of a call."""

    by: Literal["voice", "tone", "text"]
    """``text``: nothing sounded."""
    problem: str | None = None
    """One line where something is missing or broke."""


class Speaker:
    """The stations that the program plays.

    Args:
        synthesiser: None: a tone marks each call.
        player: None: nothing sounds.
        duplex: Shared with the microphone, which hears nothing meanwhile.
    """

    def __init__(
        self, synthesiser: Synthesiser | None, player: Player | None, duplex: HalfDuplex
    ) -> None:
        self._synthesiser = synthesiser
        self._player = player
        self._duplex = duplex
        self._cancelled = threading.Event()

    @property
    def name(self) -> str:
        """What speaks, for a status line."""
        if self._player is None:
            return "text only"
        return self._synthesiser.name if self._synthesiser else "tone"

    def cancel(self) -> None:
        """Fall silent; may be called from any thread."""
        self._cancelled.set()

    def say(self, station: str, text: str, channel: Channel = "clean") -> Spoken:
        """Speak a text; waits until it has been heard.

        Args:
            station: Who speaks: one of `MANNERS`, or any other name.
            text: Words, or digits, which are said one by one.
            channel: What it is heard through.
        """
        self._cancelled.clear()
        if self._player is None:
            return Spoken("text")
        samples, problem = None, None
        if self._synthesiser is not None and text.strip():
            try:
                samples = through_channel(self._synthesiser.speak(text, station), channel, text)
            except AudioError as error:
                problem = str(error)
        by: Literal["voice", "tone"] = "tone" if samples is None else "voice"
        try:
            with self._duplex.speaking():
                self._player.play(tone() if samples is None else samples, self._cancelled)
        except AudioError as error:
            return Spoken("text", str(error))
        return Spoken(by, problem)

    def play(self, samples: Samples) -> Spoken:
        """Play what was recorded; waits until it has been heard.

        Raises:
            AudioError: It cannot be played here.
        """
        self._cancelled.clear()
        if self._player is None:
            raise AudioError("Nothing can be played on this machine.", "Read the words instead.")
        with self._duplex.speaking():
            self._player.play(samples, self._cancelled)
        return Spoken("voice")


def through_channel(samples: Samples, channel: Channel, text: str = "") -> Samples:
    """Send speech over a channel.

    Args:
        samples: Mono samples at 16 kHz.
        channel: Which.
        text: Picks the noise: the same words sound the same again.
    """
    seed = zlib.crc32(text.encode())
    if channel == "radio":
        return vhf_radio(samples, SNR_DB, seed)
    if channel == "interphone":
        return interphone(samples, SNR_DB, seed)
    return clean(samples)


def tone() -> Samples:
    """Make the tone that marks a call, with soft edges, 12 dB below the voices."""
    count = round(TONE_S * SAMPLE_RATE_HZ)
    wave = np.sin(2 * np.pi * TONE_HZ * np.arange(count) / SAMPLE_RATE_HZ)
    edge = np.minimum(1.0, np.arange(count) / (0.02 * SAMPLE_RATE_HZ))
    marked: Samples = (PEAK / 4 * wave * edge * edge[::-1]).astype(np.float32)
    return marked


def manner_of(station: str) -> Manner:
    """Give a station's manner; stations of no drill share those of `MANNERS`."""
    known = MANNERS.get(station)
    if known is not None:
        return known
    return list(MANNERS.values())[zlib.crc32(station.encode()) % len(MANNERS)]


def spoken_text(text: str) -> str:
    """Write a text so that no synthesiser reads numbers in groups or letters as words."""
    apart = re.sub(r"(?<=[0-9])(?=[0-9])", " ", text)
    apart = re.sub(r"(?<=[0-9])(?=[A-Za-z])|(?<=[A-Za-z])(?=[0-9])", " ", apart)
    return " ".join(re.sub(r"[^\w\s,.'-]", " ", apart).split())


# ---- synthesisers --------------------------------------------------------------------------------


class EspeakProgram:
    """The program ``espeak-ng``, where the system has it."""

    name = "espeak-ng"

    def __init__(self, path: str) -> None:
        self._path = path

    def speak(self, text: str, station: str) -> Samples:
        """See `Synthesiser.speak`."""
        manner = manner_of(station)
        options = ["-v", manner.espeak, "-p", str(manner.pitch), "-s", str(manner.words_a_minute)]
        try:
            # The text goes in on standard input: in an argument, "-x" would be an option.
            ran = subprocess.run(
                [self._path, *options, "-b", "1", "--stdin", "--stdout"],
                input=spoken_text(text).encode(),
                capture_output=True,
                timeout=LONGEST_SPEAKING_S,
                check=True,
            )
        except (OSError, subprocess.SubprocessError) as error:
            raise AudioError(
                f"espeak-ng did not speak ({one_line(error)}).", "Read the text instead."
            ) from error
        return _read_wav(ran.stdout)


class HibariVoice:
    """The package ``hibari-tts`` (Apache-2.0): one human-like voice, its model in the wheel."""

    name = "hibari"

    def __init__(self) -> None:
        try:
            self._speak: Callable[..., Any] = importlib.import_module("hibari").Hibari()
        except Exception as error:
            # Whatever a foreign engine raises while it loads.
            raise AudioError(
                f"hibari cannot be used ({one_line(error)}).", "Install hibari-tts again."
            ) from error

    def speak(self, text: str, station: str) -> Samples:
        """See `Synthesiser.speak`."""
        import soxr

        ratio = 2 ** (manner_of(station).semitones / 12)
        try:
            # Slower by what the change of pitch makes it faster, and the other way round.
            samples = np.asarray(self._speak(spoken_text(text), speed=1 / ratio), np.float32)
        except Exception as error:
            raise AudioError(
                f"hibari did not speak ({one_line(error)}).", "Read the text instead."
            ) from error
        changed: Samples = soxr.resample(samples.reshape(-1), 24_000 * ratio, SAMPLE_RATE_HZ)
        return _not_empty(changed)


def find_synthesiser() -> Synthesiser | None:
    """Find what can speak on this machine, the most human first; None if nothing can."""
    if importlib.util.find_spec("hibari") is not None:
        try:
            return HibariVoice()
        except AudioError:
            # A damaged extra must not cost the voice that the system has.
            pass
    path = shutil.which("espeak-ng")
    return EspeakProgram(path) if path else None


def _read_wav(data: bytes) -> Samples:
    """Read 16-bit mono WAV whose header was written before its length was known."""
    import soxr

    at = data.find(b"data")
    if not data.startswith(b"RIFF") or at < 0 or len(data) < at + 10:
        raise AudioError("espeak-ng gave no sound.", "Read the text instead.")
    rate = struct.unpack_from("<I", data, 24)[0]
    body = data[at + 8 :]
    samples = np.frombuffer(body[: len(body) // 2 * 2], "<i2").astype(np.float32) / 32768.0
    return _not_empty(soxr.resample(samples, rate, SAMPLE_RATE_HZ))


def _not_empty(samples: Samples) -> Samples:
    if not len(samples) or not np.any(samples):
        raise AudioError("The voice gave no sound.", "Read the text instead.")
    return samples


# ---- the loudspeaker -----------------------------------------------------------------------------


class DevicePlayer:
    """Plays on an output of this machine, opened at its own rate.

    Args:
        device: Its number or name; None takes the system's default.

    Raises:
        AudioError: There is no PortAudio library, or no output.
    """

    def __init__(self, device: int | str | None = None) -> None:
        self._sounddevice = import_sounddevice()
        try:
            found = self._sounddevice.query_devices(device, kind="output")
        except (self._sounddevice.PortAudioError, ValueError) as error:
            raise AudioError(
                f"There is no output for sound ({one_line(error)}).", "Read the text instead."
            ) from error
        self._device = device
        self._rate_hz = round(found["default_samplerate"])

    def play(self, samples: Samples, cancelled: threading.Event) -> None:
        """See `Player.play`."""
        import soxr

        sound = soxr.resample(samples, SAMPLE_RATE_HZ, self._rate_hz).astype(np.float32)
        piece = round(PIECE_S * self._rate_hz)
        OPEN_STREAMS.add()
        try:
            with self._sounddevice.OutputStream(
                samplerate=self._rate_hz, device=self._device, channels=1, dtype="float32"
            ) as stream:
                for start in range(0, len(sound), piece):
                    if cancelled.is_set():
                        stream.abort()
                        return
                    stream.write(np.ascontiguousarray(sound[start : start + piece, None]))
        except self._sounddevice.PortAudioError as error:
            raise AudioError(
                f"The sound cannot be played ({one_line(error)}).", "Read the text instead."
            ) from error
        finally:
            OPEN_STREAMS.remove()
