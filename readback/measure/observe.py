"""Labelled recordings sent over channels and heard: what came out, and what it cost."""

import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict

from readback.errors import InputError, RecogniserError
from readback.measure.conditions import Condition
from readback.measure.labels import Labelled
from readback.speech.audio import Recording
from readback.speech.hearing import hear_transmission
from readback.speech.recogniser import SAMPLE_RATE_HZ, Recogniser
from readback.transmission import Transmission

_FULL_SCALE = 32768


class Observation(BaseModel):
    """One recording, heard once by one engine under one condition."""

    model_config = ConfigDict(frozen=True)

    labelled: Labelled
    engine: str
    condition: Condition
    heard: Transmission
    """Without words where the engine broke."""
    failure: str | None = None
    """Why the engine broke; None where it did not."""
    audio_s: float
    """Length of the sound that was heard, seconds."""
    wall_s: float
    """From the recording to the words, seconds: finding the speech, and waiting for the engine."""
    cpu_s: float | None = None
    """Time of processors that the engine's process took; None where this system does not tell."""


def observe(
    labelled: Sequence[Labelled],
    conditions: Sequence[Condition],
    recogniser: Recogniser,
    american: Recogniser | None = None,
) -> Iterator[Observation]:
    """Hear every recording under every condition, as ``readback check --heard`` would.

    Args:
        labelled: The recordings.
        conditions: Those that do not take them as they are send them over a channel first.
        recogniser: What hears; a break of it is an observation, not an error.
        american: The same engine, listening for numbers in group form too: it hears the readbacks
            under the FAA's rules. None: ``recogniser`` hears them.

    Raises:
        AudioError: A recording cannot be used.
        InputError: A recording holds two stations.
    """
    with tempfile.TemporaryDirectory() as scratch:
        sent = Path(scratch) / "sent.wav"
        for one in labelled:
            samples = read_samples(one.file)
            hearing = american if american and one.authority == "faa" else recogniser
            for condition in conditions:
                received = condition.send(samples, one.file.name)
                path = one.file
                if condition.channel != "recorded":
                    write_samples(sent, received)
                    path = sent
                yield _hear(one, condition, path, len(received) / SAMPLE_RATE_HZ, hearing)


def read_samples(path: Path) -> NDArray[np.float32]:
    """Read a recording of one station.

    Returns:
        Shape ``(n,)``, in [-1, 1], at 16 kHz.

    Raises:
        AudioError: The recording cannot be used.
        InputError: It holds two stations.
    """
    recording = Recording(path)
    if len(recording.stations) > 1:
        raise InputError(f"{path}: holds two stations.", "Cut the readback out of it.")
    pcm = np.concatenate([block[0] for block in recording.blocks()])
    return (pcm / _FULL_SCALE).astype(np.float32)


def write_samples(path: Path, samples: NDArray[np.floating]) -> None:
    """Write a recording of 16 bit at 16 kHz."""
    import soundfile

    soundfile.write(path, samples, SAMPLE_RATE_HZ, "PCM_16")


def peak_memory_mb(recogniser: Recogniser) -> float | None:
    """Ask the system for the most memory that the engine's process ever had, MiB (Linux only)."""
    return _status(getattr(recogniser, "pid", None), "VmHWM")


def _hear(
    one: Labelled, condition: Condition, path: Path, audio_s: float, recogniser: Recogniser
) -> Observation:
    heard, failure = Transmission(), None
    pid = getattr(recogniser, "pid", None)
    cpu_before, before = _cpu_s(pid), time.perf_counter()
    try:
        heard = hear_transmission(path, recogniser)
    except RecogniserError as error:
        failure = str(error)
    wall_s = time.perf_counter() - before
    cpu_after = _cpu_s(pid) if failure is None else None
    cpu_s = None if cpu_before is None or cpu_after is None else cpu_after - cpu_before
    return Observation(
        labelled=one,
        engine=recogniser.name,
        condition=condition,
        heard=heard,
        failure=failure,
        audio_s=audio_s,
        wall_s=wall_s,
        cpu_s=cpu_s,
    )


def _status(pid: int | None, field: str) -> float | None:
    if pid is None:
        return None
    with suppress(OSError, ValueError, IndexError):
        for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
            if line.startswith(f"{field}:"):
                return int(line.split()[1]) / 1024
    return None


def _cpu_s(pid: int | None) -> float | None:
    """Read the user and system time of a process, fields 14 and 15 of proc(5)'s stat."""
    if pid is None:
        return None
    with suppress(OSError, ValueError, IndexError):
        import os

        after_name = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2]
        fields = after_name.split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return None
