"""The microphone: a device opened at its own rate, heard block by block as recognisers take it.

A driver calls back from a thread of its own, which may not wait: the callback only puts the block
into a queue. All else is done by whoever reads `Microphone.blocks`.
"""

import queue
import time
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from readback.errors import AudioError
from readback.speech.audio import Pcm
from readback.speech.recogniser import SAMPLE_RATE_HZ

BLOCK_S = 0.05
"""Sound in one call of the driver, seconds."""
SILENT_DRIVER_S = 2.0
"""A driver that sends nothing for so long has lost its device, whatever it says."""
STARTING_DRIVER_S = 6.0
"""As long as it has sent nothing at all: a wireless headset takes seconds to change over."""
MOST_JOINED = 4
"""Blocks given as one to a reader that is late: it catches up without a long wait at once."""
LONGEST_QUEUE_S = 60.0
"""A reader that is later than this loses sound, which is counted; memory is not filled."""

_Samples = npt.NDArray[np.float32]

Take = Callable[[_Samples, bool], None]
"""Takes one block, shape (samples,), and whether samples before it were lost."""


@dataclass(frozen=True)
class Block:
    """Sound just taken."""

    pcm: Pcm
    lost: bool = False
    """Whether samples were lost before or in it."""
    began_at: float = 0.0
    """When it began to be recorded, at the latest, in seconds of the microphone's clock."""
    ended_at: float = 0.0
    """When the driver gave the last of it."""


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
        open_stream: Opens the input; see `readback.speech.devices.device_opener`.
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

    def blocks(self) -> Generator[Block | None]:
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
        feed = _Feed(self._clock)
        stream = self._open_stream(feed.take)
        resampler = soxr.ResampleStream(stream.sample_rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
        try:
            stream.start()
            last_at = self._clock()
            longest_s = STARTING_DRIVER_S
            while not self._stopped:
                given = feed.read(BLOCK_S)
                if given is not None:
                    last_at, longest_s = self._clock(), SILENT_DRIVER_S
                    yield from self._blocks_of(given, resampler)
                elif not stream.active or self._clock() - last_at > longest_s:
                    yield from _rest(resampler, last_at)
                    raise AudioError(
                        "The microphone is gone.",
                        "What was recorded until then is kept; plug it in again or choose another.",
                    )
                else:
                    yield None
            while (given := feed.read(0)) is not None:
                yield from self._blocks_of(given, resampler)
            yield from _rest(resampler, last_at)
        finally:
            stream.close()

    def _blocks_of(self, given: "_Given", resampler: Any) -> Iterator[Block]:
        self.overflows += given.losses
        pcm = _pcm(resampler.resample_chunk(given.samples))
        if len(pcm) or given.losses:
            yield Block(pcm, given.losses > 0, given.first_at - BLOCK_S, given.last_at)


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


@dataclass(frozen=True)
class _Given:
    """Blocks that the driver gave, joined."""

    samples: _Samples
    losses: int
    """How often samples were lost in them."""
    first_at: float
    """When the first of them was given."""
    last_at: float


class _Feed:
    """Blocks between the driver's thread and the reader's."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._blocks: queue.SimpleQueue[tuple[_Samples, bool, float]] = queue.SimpleQueue()
        self._dropped = False
        self.most_blocks = round(LONGEST_QUEUE_S / BLOCK_S)

    def take(self, samples: _Samples, lost: bool) -> None:
        """Called by the driver: does nothing that waits."""
        if self._blocks.qsize() >= self.most_blocks:
            self._dropped = True
            return
        self._blocks.put((samples, lost or self._dropped, self._clock()))
        self._dropped = False

    def read(self, wait_s: float) -> _Given | None:
        """Give the next blocks, joined; None if none comes within the time."""
        found: list[tuple[_Samples, bool, float]] = []
        while len(found) < MOST_JOINED:
            try:
                wait = bool(wait_s) and not found
                found.append(self._blocks.get(wait, wait_s if wait else None))
            except queue.Empty:
                break
        if not found:
            return None
        parts, lost, times = zip(*found, strict=True)
        # One sample that is no number would spoil all around it in the resampler.
        whole = np.nan_to_num(np.concatenate(parts), nan=0.0, posinf=1.0, neginf=-1.0)
        return _Given(np.clip(whole, -1.0, 1.0), sum(lost), times[0], times[-1])


def _pcm(samples: _Samples) -> Pcm:
    pcm: Pcm = np.clip(np.rint(samples * 32768.0), -32768, 32767).astype(np.int16)
    return pcm


def _rest(resampler: Any, at: float) -> Iterator[Block]:
    pcm = _pcm(resampler.resample_chunk(np.zeros(0, np.float32), last=True))
    if len(pcm):
        yield Block(pcm, False, at, at)
