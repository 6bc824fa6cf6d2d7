"""Synthesisers: text into speech, each station in a voice of its own."""

import importlib
import importlib.util
import re
import shutil
import struct
import subprocess
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from readback.errors import AudioError
from readback.speech.channel import Samples
from readback.speech.engine_errors import one_line
from readback.speech.recogniser import SAMPLE_RATE_HZ

LONGEST_SPEAKING_S = 20.0
"""A synthesiser that takes longer hangs."""


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
