"""A microphone and a clock without hardware."""

import threading
import time
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import soundfile

from readback.data import data_directory
from readback.errors import AudioError
from readback.speech.microphone import Block, Microphone, Take

RECORDINGS = data_directory("audio_demo_synth") / "recordings"


class FakeStream:
    """An input that gives blocks as fast as they are taken, then is quiet, or goes away."""

    def __init__(self, take: Take, blocks: Sequence, sample_rate_hz: int, *, unplugged: bool):
        self.sample_rate_hz = sample_rate_hz
        self.closed = 0
        self._take = take
        self._blocks = blocks
        self._unplugged = unplugged
        self._thread = threading.Thread(target=self._run, daemon=True)

    @property
    def active(self) -> bool:
        return not self._unplugged or self._thread.is_alive()

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self.closed += 1

    def _run(self) -> None:
        for block in self._blocks:
            if callable(block):
                block()
            elif isinstance(block, tuple):
                self._take(*block)
            else:
                self._take(block, False)


def fake_microphone(
    blocks: Sequence,
    *,
    sample_rate_hz: int = 16_000,
    unplugged: bool = False,
    clock: Callable[[], float] = time.monotonic,
) -> Microphone:
    """Make a microphone that records these blocks each time it is opened.

    A block is an array, an array with whether samples were lost before it, or a function that is
    called when its turn has come.
    """

    def open_stream(take: Take) -> FakeStream:
        return FakeStream(take, blocks, sample_rate_hz, unplugged=unplugged)

    return Microphone(open_stream, clock=clock)


class AtOnce:
    """A microphone whose blocks come as fast as they are read, each by itself."""

    def __init__(self, samples: np.ndarray) -> None:
        self.blocks_read = 0
        self._pcm = [np.rint(block * 32_767).astype(np.int16) for block in in_blocks(samples)]

    def blocks(self) -> Iterator[Block | None]:
        for pcm in self._pcm:
            self.blocks_read += 1
            now = time.monotonic()
            yield Block(pcm, False, now, now)

    def stop(self) -> None:
        """A pause ends what is heard here."""


def broken_microphone(message: str = "The device cannot be opened.") -> Microphone:
    def open_stream(_: Take) -> FakeStream:
        raise AudioError(message, "Choose another.")

    return Microphone(open_stream)


def in_blocks(samples: np.ndarray, length: int = 800) -> list[np.ndarray]:
    wide = np.asarray(samples, np.float32)
    return [wide[start : start + length] for start in range(0, len(wide), length)]


def quiet(seconds: float, sample_rate_hz: int = 16_000, seed: int = 0) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, 1e-4, round(seconds * sample_rate_hz))
    return noise.astype(np.float32)


def read_speech(file: str) -> np.ndarray:
    samples, rate = soundfile.read(RECORDINGS / file, dtype="float32")
    assert rate == 16_000
    return samples if samples.ndim == 1 else samples[:, 0]


def spoken(file: str = "gc01_hold_short.flac", after_s: float = 1.2) -> list[np.ndarray]:
    """One recorded transmission with quiet around it, as blocks."""
    return in_blocks(np.concatenate([quiet(1.0), read_speech(file), quiet(after_s)]))


def wait_until(condition: Callable[[], bool], seconds: float = 10.0) -> bool:
    """Wait for something another thread does; False if it was not done in time."""
    done = threading.Event()
    for _ in range(round(seconds / 0.02)):
        if condition():
            return True
        done.wait(0.02)
    return condition()
