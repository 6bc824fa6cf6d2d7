"""Shards of speech: one file with many clips, their texts and their voices."""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt

SAMPLE_RATE_HZ = 16_000

Clip = tuple[npt.NDArray[np.int16], str, str]
"""Samples at 16 kHz, text, voice (``people:fsdd:fsdd-jackson``, ``flite:slt``)."""


def save_shard(path: Path, clips: Sequence[Clip]) -> None:
    """Write clips to an ``.npz`` file; it appears whole, never in part."""
    partial = path.with_name(f".{path.name}")
    starts = np.cumsum([0] + [len(samples) for samples, _, _ in clips])
    meta = json.dumps([[text, voice] for _, text, voice in clips])
    with partial.open("wb") as file:
        np.savez(file, pcm=np.concatenate([c[0] for c in clips]), starts=starts, meta=meta)
    partial.rename(path)


def save_shards(folder: Path, name: str, clips: Sequence[Clip], size: int = 2000) -> None:
    """Write clips to ``NAME_0.npz``, ``NAME_1.npz``, ... of ``size`` clips each."""
    for number, at in enumerate(range(0, len(clips), size)):
        save_shard(folder / f"{name}_{number}.npz", clips[at : at + size])


def load_shard(path: Path) -> list[Clip]:
    """Read what `save_shard` wrote."""
    with np.load(path) as shard:
        pcm, starts = shard["pcm"], shard["starts"]
        meta = json.loads(str(shard["meta"]))
    spans = zip(starts[:-1], starts[1:], meta, strict=True)
    return [(pcm[a:b], text, voice) for a, b, (text, voice) in spans]


def trim(samples: npt.NDArray[np.float32], margin_s: float = 0.08) -> npt.NDArray[np.float32]:
    """Cut what is 36 dB under the loudest 20 ms off both ends, keeping a margin."""
    frame = SAMPLE_RATE_HZ // 50
    count = len(samples) // frame
    if count < 3:
        return samples
    energy = (samples[: count * frame].reshape(count, frame) ** 2).mean(axis=1)
    loud = np.flatnonzero(energy > energy.max() * 10**-3.6)
    margin = int(margin_s * SAMPLE_RATE_HZ)
    return samples[max(0, loud[0] * frame - margin) : (loud[-1] + 1) * frame + margin]
