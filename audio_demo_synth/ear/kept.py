"""What the network named in clips, kept: the search around it is fitted to it again and again."""

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True)
class Kept:
    """One clip as it came out of one channel."""

    kind: str
    """As `audio_demo_synth.ear.report.Task`."""
    level: str
    voice: str
    text: str
    phones: npt.NDArray[np.float32]
    """Log-probabilities, (steps, phones); no steps for silence."""
    noise: float = 0.0
    """How much its speech drowns, see `readback.speech.ear.calibration.noise_of`."""


def save_kept(path: Path, clips: Iterable[Kept]) -> None:
    """Write clips to an ``.npz`` file, 4 kB for each second of sound."""
    clips = list(clips)
    starts = np.cumsum([0] + [len(clip.phones) for clip in clips])
    meta = json.dumps(
        [[clip.kind, clip.level, clip.voice, clip.text, clip.noise] for clip in clips]
    )
    phones = [clip.phones for clip in clips if len(clip.phones)]
    with path.open("wb") as file:
        np.savez(file, phones=np.concatenate(phones).astype(np.float16), starts=starts, meta=meta)


def load_kept(path: Path) -> list[Kept]:
    """Read what `save_kept` wrote."""
    with np.load(path) as stored:
        phones, starts = stored["phones"].astype(np.float32), stored["starts"]
        meta = json.loads(str(stored["meta"]))
    if any(len(facts) != 5 for facts in meta):
        sys.exit(f"{path}: was kept without the clips' noise. Make it again: report --phones.")
    spans = zip(starts[:-1], starts[1:], meta, strict=True)
    return [
        Kept(*facts, phones=phones[first:last], noise=noise)
        for first, last, (*facts, noise) in spans
    ]
