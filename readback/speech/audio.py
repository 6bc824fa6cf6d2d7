"""Recordings of any rate, read block by block as what a recogniser takes."""

import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from readback.errors import AudioError
from readback.speech.engine_errors import one_line
from readback.speech.quiet import quiet_standard_error
from readback.speech.recogniser import SAMPLE_RATE_HZ

Pcm = npt.NDArray[np.int16]
"""Mono samples at 16 kHz, shape (samples,)."""

LOWEST_RATE_HZ = 6_000
"""Below it not even the 300 to 3,000 Hz of a radio fit."""
HIGHEST_RATE_HZ = 768_000
"""The highest rate of converters on sale; beyond it a header is damaged."""
SAME_SHARE = 1e-3
"""Two channels are one signal when what one cannot foretell of the other is 30 dB below it: copies
with another level or sign, or one station's leak into an unused channel."""

_BLOCK_S = 1.0
_CONVERT = "Convert it to WAV or FLAC, for example, with one or two channels."
_AGAIN = "Record it again, or copy it again from where it came."

_Block = npt.NDArray[np.float32]


class Recording:
    """A sound file: opened and checked at once, read block by block in constant memory.

    WAV, FLAC, OGG, MP3 and what else libsndfile reads. Samples that are no number count as silence,
    those beyond full scale are clipped. Bytes lost at the end of a WAV or OGG file are no damage
    here, the file then ends earlier: `readback.speech.endings` tells of them.

    Args:
        path: The file.
        progress: Told after each block how many seconds of the recording were read; 0 while it is
            found out first whether two channels are one signal. What it raises comes out of here.
        stations: Those of it, where they are known: two channels need not be compared then.

    Raises:
        AudioError: There is no such file, or it is no recording that can be heard.
    """

    stations: tuple[str | None, ...]
    """One for each channel heard: ``(None,)``, or ``("left", "right")`` where two differ."""

    duration_s: float
    """As its header says; 0 where that tells nothing."""

    def __init__(
        self,
        path: str | os.PathLike[str],
        progress: Callable[[float], None] | None = None,
        stations: tuple[str | None, ...] | None = None,
    ) -> None:
        self.path = Path(path)
        self._progress = progress
        _check_file(self.path)
        with _open(self.path) as file:
            _check_format(self.path, file)
            self.duration_s = _duration_s(file)
            two = file.channels == 2 and stations is None
            two = two and not _is_one_signal(self._looking(file))
        self.stations = stations or (("left", "right") if two else (None,))

    def _looking(self, file: Any) -> Iterator[_Block]:
        for block in _read(self.path, file):
            if self._progress is not None:
                self._progress(0.0)
            yield block

    def blocks(self, from_s: float = 0.0) -> Iterator[tuple[Pcm, ...]]:
        """Read blocks of about a second, in each one array for each station.

        Args:
            from_s: Where it begins, in seconds, before the end.

        Raises:
            AudioError: The file is damaged, and the whole blocks before that have been given; or it
                holds no sound at all, or no sample that is a number.
        """
        import soxr

        empty = True
        done = 0
        with _open(self.path) as file:
            channels = len(self.stations)
            resampler = soxr.ResampleStream(
                file.samplerate, SAMPLE_RATE_HZ, channels, dtype="float32"
            )
            for block in _read(self.path, file, round(from_s * file.samplerate)):
                empty = False
                done += len(block)
                yield _split(resampler.resample_chunk(block[:, :channels]))
                if self._progress is not None:
                    self._progress(from_s + done / file.samplerate)
            if empty:
                raise AudioError(f"{self.path}: holds no sound.", _AGAIN)
            rest = resampler.resample_chunk(np.zeros((0, channels), np.float32), last=True)
            yield _split(rest)


def read_recording(path: str | os.PathLike[str]) -> dict[str | None, Pcm]:
    """Read a whole, short recording: station -> its samples.

    Raises:
        AudioError: As `Recording` and `Recording.blocks`.
    """
    recording = Recording(path)
    parts = list(recording.blocks())
    return {
        station: np.concatenate([part[channel] for part in parts])
        for channel, station in enumerate(recording.stations)
    }


def _split(samples: _Block) -> tuple[Pcm, ...]:
    scaled = np.clip(np.rint(samples * 32768.0), -32768, 32767).astype(np.int16)
    return tuple(np.ascontiguousarray(channel) for channel in scaled.T)


def _duration_s(file: Any) -> float:
    # libsndfile gives its largest number where the length is not known.
    known = 0 < file.frames < 2**62
    return file.frames / file.samplerate if known else 0.0


def _check_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise AudioError(f"{path}: is a folder.", "Give the path of one recording in it.")
        if not path.exists():
            raise AudioError(f"{path}: no such file.", "Give the path of a WAV or FLAC recording.")
        if not path.is_file():
            raise AudioError(f"{path}: is not a file.", "Give the path of a recording.")
        if path.stat().st_size == 0:
            raise AudioError(f"{path}: is empty (0 bytes).", _AGAIN)
        with path.open("rb"):
            pass
    except PermissionError as error:
        raise AudioError(
            f"{path}: you may not read it.", "Change its permissions or copy it elsewhere."
        ) from error
    except (OSError, ValueError) as error:
        # ValueError: a zero byte in the path.
        raise AudioError(
            f"{path!s}: cannot be opened ({one_line(error)}).", "Give the path of a recording."
        ) from error


def _check_format(path: Path, file: Any) -> None:
    if file.channels > 2:
        raise AudioError(
            f"{path}: has {file.channels} channels; one or two can be heard.",
            "Keep the channels of one or two stations.",
        )
    if not LOWEST_RATE_HZ <= file.samplerate <= HIGHEST_RATE_HZ:
        raise AudioError(
            f"{path}: has a sample rate of {file.samplerate} Hz; speech needs "
            f"{LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz.",
            _CONVERT,
        )


@contextmanager
def _open(path: Path) -> Iterator[Any]:
    import soundfile

    if path.suffix.lower() == ".raw":
        raise AudioError(f"{path}: raw samples tell no sample rate.", _CONVERT)
    try:
        with _quiet_decoder(path):
            # As bytes: soundfile refuses a name that is no text.
            file = soundfile.SoundFile(str(path) if os.name == "nt" else os.fsencode(path))
    except (soundfile.SoundFileError, OSError, ValueError, TypeError) as error:
        raise AudioError(f"{path}: is not a recording that can be read.", _CONVERT) from error
    # Else soundfile 0.14 seeks after each read, which costs an MP3 up to 27 ms of sound each time.
    file.seekable = lambda: False
    with file:
        yield file


def _read(path: Path, file: Any, first: int = 0) -> Iterator[_Block]:
    import soundfile

    done = numbers = 0
    while True:
        try:
            with _quiet_decoder(path):
                if first and not done:
                    file.seek(first)
                block: _Block = file.read(
                    int(file.samplerate * _BLOCK_S), dtype="float32", always_2d=True
                )
        except (soundfile.SoundFileError, RuntimeError) as error:
            at_s = (first + done) / file.samplerate
            raise AudioError(
                f"{path}: is damaged about {at_s:.0f} s from its start.", _AGAIN
            ) from error
        if not len(block):
            if done and not numbers:
                raise AudioError(f"{path}: none of its samples is a number.", _AGAIN)
            return
        done += len(block)
        numbers += not np.isnan(block).all()
        # Beyond full scale float files hold anything; silence stands for what is no number.
        yield np.clip(np.nan_to_num(block, nan=0.0, posinf=1.0, neginf=-1.0), -1.0, 1.0)


def _is_one_signal(blocks: Iterator[_Block]) -> bool:
    """Tell whether the second channel only repeats the first, from their covariance."""
    count = 0
    sums = np.zeros(2)
    products = np.zeros((2, 2))
    try:
        for block in blocks:
            wide = block.astype(np.float64)
            count += len(wide)
            sums += wide.sum(axis=0)
            products += wide.T @ wide
    except AudioError:
        # Damaged further on: judged by what came before; reading the blocks reports it.
        pass
    if not count:
        return True
    covariance = products - np.outer(sums, sums) / count
    left, right, both = covariance[0, 0], covariance[1, 1], covariance[0, 1]
    silent = count * 1e-10
    if left < silent or right < silent:
        return bool(left < silent and right < silent)
    return bool(left * right - both * both < SAME_SHARE * left * right)


def _quiet_decoder(path: Path) -> AbstractContextManager[None]:
    """Keep the MP3 decoder's notes on damage off standard error; it tries any unknown file."""
    return quiet_standard_error() if _may_be_mp3(path) else nullcontext()


def _may_be_mp3(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            start = file.read(12)
    except OSError:
        return True
    return not start.startswith((b"RIFF", b"fLaC", b"OggS", b"FORM", b"RF64"))
