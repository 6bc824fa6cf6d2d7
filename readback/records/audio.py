"""The sound of transmissions: kept as FLAC, cut out of recordings, drawn."""

import io
import os
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from readback.errors import AudioError
from readback.speech.audio import Pcm, Recording
from readback.speech.recogniser import SAMPLE_RATE_HZ

MARGIN_S = 0.2
"""Kept before and after a transmission: its edges are found by the loudest sounds."""


def encode_flac(pcm: Pcm, sample_rate_hz: int = SAMPLE_RATE_HZ) -> bytes:
    """Compress samples without loss.

    Args:
        pcm: 16-bit mono samples, shape (samples,).
        sample_rate_hz: Samples a second.
    """
    import soundfile

    file = io.BytesIO()
    soundfile.write(file, pcm, sample_rate_hz, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def decode_flac(flac: bytes) -> tuple[Pcm, int]:
    """Give back the samples and their rate.

    Raises:
        AudioError: It is no FLAC.
    """
    import soundfile

    try:
        pcm, rate = soundfile.read(io.BytesIO(flac), dtype="int16")
    except soundfile.SoundFileError as error:
        raise AudioError(
            "The kept sound is damaged.", "Restore a backup of the records."
        ) from error
    return pcm, rate


def cut_clips(
    path: str | os.PathLike[str], spans: Sequence[tuple[float, float, str | None]]
) -> list[bytes]:
    """Cut transmissions out of a recording, in one pass and constant memory.

    Args:
        path: The recording.
        spans: For each transmission start and end in seconds and its station as
            `readback.speech.hearing.hear_file` names it.

    Returns:
        One FLAC for each, 16 kHz, `MARGIN_S` longer at both ends where the recording is.

    Raises:
        AudioError: The recording cannot be read.
    """
    recording = Recording(path)
    parts: list[list[Pcm]] = [[] for _ in spans]
    wanted = [
        (
            max(0, round((start - MARGIN_S) * SAMPLE_RATE_HZ)),
            round((end + MARGIN_S) * SAMPLE_RATE_HZ),
            recording.stations.index(station) if station in recording.stations else 0,
        )
        for start, end, station in spans
    ]
    done = 0
    for block in recording.blocks():
        length = len(block[0])
        for part, (first, last, channel) in zip(parts, wanted, strict=True):
            if first < done + length and last > done:
                part.append(block[channel][max(0, first - done) : max(0, last - done)].copy())
        done += length
    return [encode_flac(np.concatenate(part or [np.zeros(0, np.int16)])) for part in parts]


def envelope(pcm: Pcm, points: int) -> npt.NDArray[np.float64]:
    """Give the loudest sample of each of so many equal parts.

    Returns:
        Shape (points,), in [0, 1] of full scale; zeros for no samples.
    """
    edges = np.linspace(0, len(pcm), points + 1).astype(int)
    wide = np.abs(pcm.astype(np.float64)) / 32768.0
    return np.array(
        [wide[first:last].max() if last > first else 0.0 for first, last in pairwise(edges)]
    )
