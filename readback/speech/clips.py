"""Parts of a recording, to be heard again."""

import os

import numpy as np

from readback.errors import AudioError
from readback.speech.audio import Recording
from readback.speech.channel import Samples
from readback.speech.recogniser import SAMPLE_RATE_HZ

_BEFORE_S = 0.5
"""Read before a clip and thrown away: an MP3 decoder needs some frames to come right again."""


def read_clip(
    path: str | os.PathLike[str],
    start_s: float,
    end_s: float,
    stations: tuple[str | None, ...] | None = None,
) -> Samples:
    """Read from one time to another of a recording, all stations together.

    Args:
        path: The recording.
        start_s: Seconds from its start.
        end_s: As well; beyond its end counts as its end.
        stations: As `Recording` takes them: where they are known nothing but the clip is read.

    Returns:
        Mono samples at 16 kHz, shape (n,), in [-1, 1].

    Raises:
        AudioError: The recording cannot be used, or there is nothing between the times.
    """
    recording = Recording(path, stations=stations)
    # Where the length is not known it is read from the start: it may not reach so far.
    from_s = max(0.0, start_s - _BEFORE_S) if start_s < recording.duration_s else 0.0
    start, end = round(max(0.0, start_s) * SAMPLE_RATE_HZ), round(end_s * SAMPLE_RATE_HZ)
    parts: list[Samples] = []
    at = round(from_s * SAMPLE_RATE_HZ)
    for block in recording.blocks(from_s):
        mixed = np.sum([channel.astype(np.float32) for channel in block], axis=0) / 32768.0
        parts.append(mixed[max(0, start - at) : max(0, end - at)].astype(np.float32))
        at += len(mixed)
        if at >= end:
            break
    clip: Samples = np.clip(np.concatenate(parts), -1.0, 1.0)
    if not len(clip):
        raise AudioError(f"{path}: nothing from {start_s:.1f} to {end_s:.1f} s.", "Choose another.")
    return clip
