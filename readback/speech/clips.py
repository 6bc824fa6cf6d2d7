"""Parts of a recording, to be heard again."""

import os

import numpy as np

from readback.errors import AudioError
from readback.speech.audio import Recording
from readback.speech.channel import Samples
from readback.speech.recogniser import SAMPLE_RATE_HZ


def read_clip(path: str | os.PathLike[str], start_s: float, end_s: float) -> Samples:
    """Read from one time to another of a recording, all stations together.

    Args:
        path: The recording.
        start_s: Seconds from its start.
        end_s: As well; beyond its end counts as its end.

    Returns:
        Mono samples at 16 kHz, shape (n,), in [-1, 1].

    Raises:
        AudioError: The recording cannot be used, or there is nothing between the times.
    """
    start, end = round(max(0.0, start_s) * SAMPLE_RATE_HZ), round(end_s * SAMPLE_RATE_HZ)
    parts: list[Samples] = []
    at = 0
    for block in Recording(path).blocks():
        mixed = np.sum([channel.astype(np.float32) for channel in block], axis=0) / 32768.0
        parts.append(mixed[max(0, start - at) : max(0, end - at)].astype(np.float32))
        at += len(mixed)
        if at >= end:
            break
    clip: Samples = np.clip(np.concatenate(parts), -1.0, 1.0)
    if not len(clip):
        raise AudioError(f"{path}: nothing from {start_s:.1f} to {end_s:.1f} s.", "Choose another.")
    return clip
