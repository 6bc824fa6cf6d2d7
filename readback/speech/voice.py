"""The other station speaks: a synthesiser, the channel it is heard through, a loudspeaker.

Without a synthesiser a tone marks the call, without a loudspeaker nothing sounds; the text is then
what the trainee has. The words are always the caller's to show.
"""

import threading
import zlib
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from readback.errors import AudioError
from readback.speech.channel import PEAK, Samples, clean, interphone, vhf_radio
from readback.speech.devices import OPEN_STREAMS, import_sounddevice
from readback.speech.duplex import HalfDuplex
from readback.speech.engine_errors import one_line
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.speech.synthesisers import Synthesiser

Channel = Literal["radio", "interphone", "clean"]
SNR_DB = 20.0
"""Of the radio and the interphone in practice: plain to hear, yet no studio; our choice."""
TONE_HZ, TONE_S = 1_000.0, 0.25
PIECE_S = 0.1
"""A voice that is cancelled ends within this time."""


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
            station: Who speaks: one of `readback.speech.synthesisers.MANNERS`, or any other name.
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
