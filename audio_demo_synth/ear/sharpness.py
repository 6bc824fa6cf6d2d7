"""How sharply the readings of a sound are told apart, fitted to how probable the right one was.

In quiet alone: where speech drowns the readings are no surer than the words, see
`readback.speech.ear.calibration.Calibration.sharpness`.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.speech.ear.calibration import Calibration
from readback.speech.ear.decoder import Heard
from readback.speech.ear.readings import Reading
from readback.transmission import Transmission

GRID = tuple(round(0.3 + 0.05 * step, 2) for step in range(25))
"""What is tried."""


@dataclass(frozen=True)
class Case:
    """The readings of one transmission that was heard, the right one among them."""

    below: npt.NDArray[np.float64]
    """(readings) By how many nats each is less probable than the best."""
    right: npt.NDArray[np.bool_]
    """(readings) Whether it means what was said."""
    noise: float


def make_cases(
    heard: Iterable[tuple[str, float, Sequence[Heard], Sequence[Reading]]],
    calibration: Calibration,
) -> Iterator[Case]:
    """Take the transmissions that are accepted and whose right reading is listed.

    Args:
        heard: The words that were meant, the noise, the best reading and all readings of each.
        calibration: Accepts.
    """
    for text, noise, words, readings in heard:
        if not calibration.accept(words):
            continue
        alike: dict[tuple[bytes, object], list[Reading]] = defaultdict(list)
        for reading in readings:
            alike[reading.sounds, reading.unheard].append(reading)
        below = [readings[0].score - same[0].score for same in alike.values()]
        meant = meaning(text)
        right = [any(meaning(" ".join(one.words)) == meant for one in s) for s in alike.values()]
        if any(right):
            yield Case(np.array(below), np.array(right), noise)


def fit_sharpness(cases: Sequence[Case], calibration: Calibration) -> Calibration:
    """Choose the sharpness under which the right readings are the most probable, all together."""

    def log_loss(tried: Calibration) -> float:
        total = 0.0
        for case in cases:
            weights = np.exp(-tried.sharpness(case.noise) * case.below)
            total -= float(np.log(weights[case.right].sum() / weights.sum()))
        return total

    return min((replace(calibration, sharp=value) for value in GRID), key=log_loss)


@lru_cache(maxsize=100_000)
def meaning(text: str) -> tuple[object, ...]:
    """Give the calls of a text with their values, in any order."""
    calls = parse(Transmission.typed(text), load_grammar()).calls
    return tuple(sorted((c.name, *sorted((e.name, e.value) for e in c.elements)) for c in calls))
