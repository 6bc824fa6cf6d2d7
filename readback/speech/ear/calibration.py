"""Numbers fitted after training: how the search weighs, and how sure a word is."""

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

from readback.search import OTHER_NAME
from readback.speech.ear.decoder import Heard, Settings

FIT_SHARE = 0.3
"""With certainties alone, 7 of 360 sentences more are refused where as many outsiders pass."""

QUIET_DB, DROWNED_DB = 14.0, 6.0
"""Speech that stands so far above the noise is not hurt by it, and drowned: medians of the tuning
voices over radio and interphone at 10 dB, and about those at 0 dB."""
LEAST_SHARPNESS = 0.1
"""Noise never makes all readings alike."""


@dataclass(frozen=True)
class Calibration:
    """Fitted by ``audio_demo_synth.ear.calibrate``; in the JSON file beside the model."""

    settings: Settings
    bias: float = 0.0
    """Log-odds that a word is right: this, and each feature of `features` times its weight."""
    posterior: float = 1.0
    fit: float = 0.0
    noise: float = 0.0
    """Log-odds where noise is 1, see `noise_of`: this, and the posterior's weight changed by
    ``posterior_noise``. The network is surer in noise than it should be."""
    posterior_noise: float = 0.0
    sharp: float | None = None
    """`sharpness` without noise; None: the posterior's weight."""
    least_worth: float = -100.0
    """A transmission that is `worth` less than this has no words."""

    def certainty(self, heard: Heard, noise: float = 0.0) -> float:
        """Probability that a word was heard right; 0 for a name that is not listened for.

        Args:
            heard: The word.
            noise: Of the transmission, as `noise_of` gives it.
        """
        if heard.word == OTHER_NAME:
            return 0.0
        posterior, fit = features(heard)
        odds = self.bias + self.noise * noise + self._weight(noise) * posterior + self.fit * fit
        return 1 / (1 + math.exp(-max(-50.0, min(50.0, odds))))

    def sharpness(self, noise: float = 0.0) -> float:
        """What log-probabilities of readings are multiplied by before they are compared.

        In quiet a reading as a whole is surer than its words one by one; where speech drowns it is
        no surer.
        """
        words = max(self._weight(noise), LEAST_SHARPNESS)
        quiet = words if self.sharp is None else self.sharp
        return quiet + (words - quiet) * noise

    def _weight(self, noise: float) -> float:
        return self.posterior + self.posterior_noise * noise

    def worth(self, words: Sequence[Heard]) -> float:
        """How much speaks for words being a call: mean certainty, and mean fit at `FIT_SHARE`.

        The noise is left out: in it calls need not be refused for what it does to the certainty.
        """
        fits = sum(features(heard)[1] for heard in words)
        return (sum(map(self.certainty, words)) + FIT_SHARE * fits) / len(words)

    def accept(self, words: Sequence[Heard]) -> tuple[Heard, ...]:
        """Give the words back, or none if they are more like talk that is no call."""
        return tuple(words) if words and self.worth(words) >= self.least_worth else ()


def noise_of(above_db: float | None) -> float:
    """Tell from 0 to 1 how much speech drowns in noise.

    Args:
        above_db: How far it stands above the noise, as `above_noise_db` gives it; None: 0.
    """
    if above_db is None:
        return 0.0
    return min(max((QUIET_DB - above_db) / (QUIET_DB - DROWNED_DB), 0.0), 1.0)


def features(heard: Heard) -> tuple[float, float]:
    """What the certainty rests on: the posterior's log-odds, and how well the phones fit."""
    posterior = min(max(heard.probability, 1e-6), 1 - 1e-6)
    return math.log(posterior / (1 - posterior)), max(heard.fit, -8.0)


def load_calibration(path: Path) -> Calibration:
    """Read the fitted numbers; unfitted ones where there is no file."""
    if not path.is_file():
        return Calibration(Settings())
    stored = json.loads(path.read_text("utf-8"))["calibration"]
    known = {field.name for field in fields(Settings)}
    settings = Settings(**{k: v for k, v in stored["settings"].items() if k in known})
    settings = replace(settings, usual=tuple(settings.usual))
    numbers = {field.name for field in fields(Calibration)} - {"settings"}
    return Calibration(settings, **{k: v for k, v in stored.items() if k in numbers})


def save_calibration(path: Path, calibration: Calibration, card: dict[str, object]) -> None:
    """Write the fitted numbers beside what is known about the model."""
    path.write_text(
        json.dumps({**card, "calibration": asdict(calibration)}, indent=1) + "\n", "utf-8"
    )
