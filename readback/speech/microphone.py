"""The microphone: a device opened at its own rate, heard block by block as recognisers take it.

A driver calls back from a thread of its own, which may not wait: the callback only puts the block
into a queue. All else is done by whoever reads `Microphone.blocks`.
"""

import ctypes
import queue
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from readback.errors import AudioError, InputError
from readback.speech.audio import Pcm
from readback.speech.engine_errors import one_line
from readback.speech.quiet import quiet_standard_error
from readback.speech.recogniser import SAMPLE_RATE_HZ

BLOCK_S = 0.05
"""Sound in one call of the driver, seconds."""
SILENT_DRIVER_S = 2.0
"""A driver that sends nothing for so long has lost its device, whatever it says."""
MOST_JOINED = 4
"""Blocks given as one to a reader that is late: it catches up without a long wait at once."""
LONGEST_QUEUE_S = 60.0
"""A reader that is later than this loses sound, which is counted; memory is not filled."""

Take = Callable[[npt.NDArray[np.float32], bool], None]
"""Takes one block, shape (samples,), and whether samples before it were lost."""


@dataclass(frozen=True)
class Device:
    """One input that sound can be taken from."""

    number: int
    name: str
    """With the sound system it is reached through."""
    sample_rate_hz: int
    """Its own rate."""
    is_default: bool = False


@dataclass(frozen=True)
class Block:
    """Sound just taken."""

    pcm: Pcm
    lost: bool = False
    """Whether samples were lost before or in it."""


class InputStream(Protocol):
    """One opened input, not yet started."""

    sample_rate_hz: int
    """Of the blocks that it gives."""

    @property
    def active(self) -> bool:
        """Whether it still gives blocks; False once its device is gone."""
        ...

    def start(self) -> None:
        """Begin to give blocks.

        Raises:
            AudioError: The device cannot be started.
        """
        ...

    def close(self) -> None:
        """Give the device back; safe to call twice."""
        ...


OpenStream = Callable[[Take], InputStream]
"""Opens an input that gives its blocks to the function; raises AudioError."""


class Microphone:
    """A microphone, heard at 16 kHz.

    Args:
        open_stream: Opens the input; see `device_opener`.
        clock: Gives seconds, for `SILENT_DRIVER_S`.
    """

    def __init__(
        self, open_stream: OpenStream, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._open_stream = open_stream
        self._clock = clock
        self._stopped = True
        self.overflows = 0
        """How often samples were lost since it was made."""

    def stop(self) -> None:
        """End `blocks` after what was recorded until now; may be called from any thread."""
        self._stopped = True

    def blocks(self) -> Iterator[Block | None]:
        """Open the device and give its sound as it comes.

        Yields:
            A block, empty where only a loss is told; None where nothing came for a twentieth of a
            second, so that whoever reads can look whether to stop.

        Raises:
            AudioError: The device cannot be opened; or it was lost, after all that was recorded
                has been given.
        """
        import soxr

        self._stopped = False
        feed = _Feed()
        stream = self._open_stream(feed.take)
        feed.most_blocks = round(LONGEST_QUEUE_S / BLOCK_S)
        resampler = soxr.ResampleStream(stream.sample_rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
        try:
            stream.start()
            last_at = self._clock()
            while not self._stopped:
                samples, lost = feed.read(BLOCK_S)
                self.overflows += lost
                if samples is not None:
                    last_at = self._clock()
                    yield from _block(resampler.resample_chunk(samples), lost > 0)
                elif not stream.active or self._clock() - last_at > SILENT_DRIVER_S:
                    yield from _block(_rest(resampler), False)
                    raise AudioError(
                        "The microphone is gone.",
                        "What was recorded until then is kept; plug it in again or choose another.",
                    )
                else:
                    yield None
            while (waiting := feed.read(0))[0] is not None:
                self.overflows += waiting[1]
                yield from _block(resampler.resample_chunk(waiting[0]), waiting[1] > 0)
            yield from _block(_rest(resampler), False)
        finally:
            stream.close()


def record(microphone: Microphone, seconds: float) -> Pcm:
    """Record for some seconds, as for a level check; waits until they are over.

    Raises:
        AudioError: As `Microphone.blocks`.
    """
    parts = [np.zeros(0, np.int16)]
    wanted = round(seconds * SAMPLE_RATE_HZ)
    silent = 0
    for block in microphone.blocks():
        if block is not None:
            parts.append(block.pcm)
        else:
            silent += 1
        if sum(map(len, parts)) >= wanted or silent * BLOCK_S > seconds:
            microphone.stop()
    return np.concatenate(parts)


class _Feed:
    """Blocks between the driver's thread and the reader's."""

    def __init__(self) -> None:
        self._blocks: queue.SimpleQueue[tuple[npt.NDArray[np.float32], bool]] = queue.SimpleQueue()
        self._dropped = False
        self.most_blocks = 1200

    def take(self, samples: npt.NDArray[np.float32], lost: bool) -> None:
        """Called by the driver: does nothing that waits."""
        if self._blocks.qsize() >= self.most_blocks:
            self._dropped = True
            return
        self._blocks.put((samples, lost or self._dropped))
        self._dropped = False

    def read(self, wait_s: float) -> tuple[npt.NDArray[np.float32] | None, int]:
        """Give the next blocks, joined, and how often samples were lost in them."""
        parts: list[npt.NDArray[np.float32]] = []
        lost = 0
        while len(parts) < MOST_JOINED:
            try:
                wait = bool(wait_s) and not parts
                samples, gap = self._blocks.get(wait, wait_s if wait else None)
            except queue.Empty:
                break
            parts.append(samples)
            lost += gap
        if not parts:
            return None, 0
        # One sample that is no number would spoil all around it in the resampler.
        whole = np.nan_to_num(np.concatenate(parts), nan=0.0, posinf=1.0, neginf=-1.0)
        return np.clip(whole, -1.0, 1.0), lost


def _block(samples: npt.NDArray[np.float32], lost: bool) -> Iterator[Block]:
    if len(samples) or lost:
        pcm = np.clip(np.rint(samples * 32768.0), -32768, 32767).astype(np.int16)
        yield Block(pcm, lost)


def _rest(resampler: Any) -> npt.NDArray[np.float32]:
    rest: npt.NDArray[np.float32] = resampler.resample_chunk(np.zeros(0, np.float32), last=True)
    return rest


# ---- PortAudio -----------------------------------------------------------------------------------


@cache
def _start_sounddevice() -> Any:
    """Import it once; an error that says what is missing is remembered as well."""
    _quieten_alsa()
    try:
        # PortAudio asks every sound system there might be, and they complain on standard error.
        with quiet_standard_error():
            import sounddevice
    except ImportError:
        return AudioError("The package sounddevice is not there.", "Install readback again.")
    except OSError:
        return AudioError("The PortAudio library is not there.", _how_to_install())
    return sounddevice


def import_sounddevice() -> Any:
    """Import the library that records and plays, which starts it.

    Before a screen takes the terminal: meanwhile nothing of standard error is seen.

    Raises:
        AudioError: It is not there; says what to install on this system.
    """
    library = _start_sounddevice()
    if isinstance(library, AudioError):
        raise AudioError(library.what, library.remedy)
    return library


@cache
def _quieten_alsa() -> object:
    """Keep ALSA from writing into a screen whenever a device is late.

    Source: ALSA library API, ``snd_lib_error_set_handler``.
    """
    if sys.platform != "linux":
        return None
    ignore = ctypes.CFUNCTYPE(None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p)
    handler = ignore(lambda *_: None)
    with suppress(OSError, AttributeError):
        ctypes.CDLL("libasound.so.2").snd_lib_error_set_handler(handler)
    # Kept by the cache: ALSA calls it as long as the process lives.
    return handler


def list_devices() -> tuple[Device, ...]:
    """List the inputs of this machine, the default one marked.

    Raises:
        AudioError: The PortAudio library is not there, or does not answer.
    """
    sounddevice = import_sounddevice()
    try:
        found = sounddevice.query_devices()
        systems = sounddevice.query_hostapis()
        default = sounddevice.default.device[0]
    except sounddevice.PortAudioError as error:
        raise _device_error("The devices cannot be listed", error) from error
    return tuple(
        Device(
            number=number,
            name=f"{entry['name']} ({systems[entry['hostapi']]['name']})",
            sample_rate_hz=round(entry["default_samplerate"]),
            is_default=number == default,
        )
        for number, entry in enumerate(found)
        if entry["max_input_channels"] > 0
    )


def choose_device(devices: tuple[Device, ...], wanted: str | None = None) -> Device:
    """Choose an input.

    Args:
        devices: See `list_devices`.
        wanted: Its number, its name, or a part of the name that no other has; None takes the
            system's default, or the only one.

    Raises:
        AudioError: There is no input.
        InputError: None, or more than one, is meant.
    """
    if not devices:
        raise AudioError("This machine has no microphone.", "Plug one in, or type instead.")
    if wanted is None:
        return next((device for device in devices if device.is_default), devices[0])
    text = wanted.strip().casefold()
    exact = [one for one in devices if text in (str(one.number), one.name.casefold())]
    found = exact or [one for one in devices if text and text in one.name.casefold()]
    names = "; ".join(f"{one.number} {one.name}" for one in (found or devices))
    if not found:
        raise InputError(f'There is no input "{wanted}".', f"Choose one of: {names}.")
    if len(found) > 1:
        raise InputError(f'"{wanted}" is more than one input.', f"Choose one of: {names}.")
    return found[0]


def device_opener(device: Device) -> OpenStream:
    """Make what opens a device with PortAudio."""

    def open_stream(take: Take) -> InputStream:
        return _PortAudioStream(device, take)

    return open_stream


class _PortAudioStream:
    """An input opened by sounddevice; see `InputStream`."""

    def __init__(self, device: Device, take: Take) -> None:
        self._sounddevice = import_sounddevice()
        self.sample_rate_hz = device.sample_rate_hz
        self._device = device

        def callback(samples: Any, _frames: int, _times: Any, status: Any) -> None:
            take(samples[:, 0].copy(), bool(status.input_overflow))

        try:
            most = self._sounddevice.query_devices(device.number)["max_input_channels"]
            self._stream = self._open(1, callback)
            if self._stream is None:
                # Some drivers give a device whole or not at all.
                self._stream = self._open(most, callback)
        except self._sounddevice.PortAudioError as error:
            raise _device_error(f"{device.name} cannot be opened", error) from error
        if self._stream is None:
            raise AudioError(f"{device.name} cannot be opened.", _CHOOSE)

    def _open(self, channels: int, callback: Any) -> Any:
        try:
            return self._sounddevice.InputStream(
                samplerate=self.sample_rate_hz,
                blocksize=round(self.sample_rate_hz * BLOCK_S),
                device=self._device.number,
                channels=channels,
                dtype="float32",
                callback=callback,
            )
        except self._sounddevice.PortAudioError:
            if channels == 1:
                return None
            raise

    @property
    def active(self) -> bool:
        """See `InputStream.active`."""
        return bool(self._stream.active)

    def start(self) -> None:
        """See `InputStream.start`."""
        try:
            self._stream.start()
        except self._sounddevice.PortAudioError as error:
            raise _device_error(f"{self._device.name} cannot be started", error) from error

    def close(self) -> None:
        """See `InputStream.close`."""
        # Errors while closing tell nothing: the device may be gone.
        self._stream.close(ignore_errors=True)


_CHOOSE = "Close other programs that use it, or choose another with --device."


def _device_error(what: str, error: Exception) -> AudioError:
    return AudioError(f"{what} ({one_line(error)}).", _CHOOSE)


def _how_to_install() -> str:
    if sys.platform == "linux":
        return (
            "Install it (Debian and Ubuntu: apt-get install libportaudio2); typing works without."
        )
    if sys.platform == "darwin":
        return "Install it (brew install portaudio); typing works without."
    return "Install the package sounddevice again, which brings it; typing works without."
