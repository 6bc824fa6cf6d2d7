"""Shares with their uncertainty, precision and recall, calibration."""

import math
from collections.abc import Sequence
from itertools import pairwise

from pydantic import BaseModel, ConfigDict, computed_field

_Z_95 = 1.959963984540054
"""Standard normal quantile of 0.975."""
BINS = 15
"""Bins of equal mass in which calibration is measured."""


class Share(BaseModel):
    """So many of so many."""

    model_config = ConfigDict(frozen=True)

    count: int
    total: int

    @computed_field  # type: ignore[prop-decorator]
    @property
    def share(self) -> float | None:
        """``count / total``; None of nothing."""
        return self.count / self.total if self.total else None

    @computed_field  # type: ignore[prop-decorator]
    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval, as `wilson` gives it."""
        return wilson(self.count, self.total)


class Retrieval(BaseModel):
    """How much of what was said was heard, and how much of what was heard was said."""

    model_config = ConfigDict(frozen=True)

    right: int
    heard: int
    said: int

    @property
    def precision(self) -> Share:
        """Of what was heard, what was said."""
        return Share(count=self.right, total=self.heard)

    @property
    def recall(self) -> Share:
        """Of what was said, what was heard."""
        return Share(count=self.right, total=self.said)

    @computed_field  # type: ignore[prop-decorator]
    @property
    def f1(self) -> float | None:
        """Harmonic mean of precision and recall; None where nothing was heard or said."""
        both = self.heard + self.said
        return 2 * self.right / both if both else None

    def __add__(self, other: "Retrieval") -> "Retrieval":
        return Retrieval(
            right=self.right + other.right,
            heard=self.heard + other.heard,
            said=self.said + other.said,
        )


class Bin(BaseModel):
    """The values between two quantiles of the certainty."""

    model_config = ConfigDict(frozen=True)

    certainty: float
    """Mean of what was claimed."""
    right: float
    """Share that was right."""
    count: int


def wilson(count: int, total: int, z: float = _Z_95) -> tuple[float, float]:
    """Give the score interval of a share.

    Args:
        count: Of ``total``, how many.
        total: Independent trials. Clips of one voice are less independent than that: the interval
            is then too narrow.
        z: Standard normal quantile; 1.96 for 95 %.

    Returns:
        Lower and upper bound in [0, 1]; (0, 1) of nothing.

    Source: Wilson 1927, J. Am. Stat. Assoc. 22:209-212; the form without continuity correction of
    Newcombe 1998, Statist. Med. 17:857-872, method 3.
    """
    if total == 0:
        return 0.0, 1.0
    share = count / total
    middle = share + z * z / (2 * total)
    spread = z * math.sqrt(share * (1 - share) / total + z * z / (4 * total * total))
    scale = 1 + z * z / total
    low = 0.0 if count == 0 else (middle - spread) / scale
    high = 1.0 if count == total else (middle + spread) / scale
    return low, high


def calibration_bins(
    certainties: Sequence[float], right: Sequence[bool], bins: int = BINS
) -> tuple[Bin, ...]:
    """Sort by certainty and cut into bins of equal mass.

    Args:
        certainties: What was claimed of each value.
        right: Whether it was right; as many.
        bins: How many; with fewer values, one bin each.

    Returns:
        The bins that hold something, the least certain first; sizes differ by one at most.
    """
    ranked = sorted(zip(certainties, right, strict=True), key=lambda pair: pair[0])
    parts = min(bins, len(ranked))
    edges = [len(ranked) * number // parts for number in range(parts + 1)] if parts else []
    return tuple(
        Bin(
            certainty=math.fsum(pair[0] for pair in ranked[first:last]) / (last - first),
            right=sum(pair[1] for pair in ranked[first:last]) / (last - first),
            count=last - first,
        )
        for first, last in pairwise(edges)
    )


def expected_calibration_error(bins: Sequence[Bin]) -> float | None:
    """Average by how much claim and truth differ, bins weighted by what they hold.

    Returns:
        In [0, 1]; None without any value.

    Source: Naeini, Cooper, Hauskrecht 2015 (AAAI), from memory; there the bins have equal width.
    """
    total = sum(one.count for one in bins)
    if not total:
        return None
    return math.fsum(one.count * abs(one.certainty - one.right) for one in bins) / total
