"""Over what a clean recording is heard: nothing, a radio, an interphone, and how noisy."""

import math
import zlib
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict

from readback.errors import InputError
from readback.speech.channel import clean, interphone, vhf_radio

CHANNELS = ("recorded", "clean", "radio", "interphone")
"""``recorded`` takes the file as it is; the others take it for a clean recording."""
_NOISY = {"radio": vhf_radio, "interphone": interphone}


class Condition(BaseModel):
    """One channel at one level of noise."""

    model_config = ConfigDict(frozen=True)

    channel: str
    """One of `CHANNELS`."""
    snr_db: float | None = None
    """Speech against noise, dB, see `readback.speech.channel`; None where none is added."""

    @property
    def name(self) -> str:
        """``clean``, ``radio 20 dB``."""
        return self.channel if self.snr_db is None else f"{self.channel} {self.snr_db:g} dB"

    def seed(self, name: str) -> int:
        """Pick the noise of a clip: another one for each clip and level, the same in each run."""
        return zlib.crc32(f"{name} {self.name}".encode())

    def send(self, samples: NDArray[np.floating], name: str) -> NDArray[np.floating]:
        """Send a clean clip over the channel.

        Args:
            samples: Shape ``(n,)``, 16 kHz.
            name: Of the clip; picks the noise.

        Raises:
            AudioError: The clip is silent.
        """
        if self.channel == "recorded":
            return samples
        if self.snr_db is None:
            return clean(samples)
        return _NOISY[self.channel](samples, self.snr_db, self.seed(name))


def make_conditions(channels: Sequence[str], levels_db: Iterable[float]) -> tuple[Condition, ...]:
    """List the conditions that are asked for.

    Args:
        channels: Of `CHANNELS`.
        levels_db: Signal-to-noise ratios of the channels that have noise.

    Raises:
        InputError: There is no such channel or level.
    """
    levels = tuple(dict.fromkeys(levels_db))
    conditions: list[Condition] = []
    for channel in dict.fromkeys(channels):
        if channel not in CHANNELS:
            raise InputError(f'There is no channel "{channel}".', f"Use {', '.join(CHANNELS)}.")
        if channel not in _NOISY:
            conditions.append(Condition(channel=channel))
            continue
        for level in levels:
            if not math.isfinite(level) or not -40 <= level <= 80:
                raise InputError(f"{level} dB cannot be made.", "Give --snr from -40 to 80.")
            conditions.append(Condition(channel=channel, snr_db=level))
    return tuple(conditions)
