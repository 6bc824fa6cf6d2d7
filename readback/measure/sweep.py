"""What each least certainty would cost, and the one that costs least."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Outcome
from readback.measure.certainty import ANY
from readback.measure.judged import judge_at
from readback.measure.observe import Observation
from readback.measure.statistics import Share

GRID = (
    *(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.92, 0.94),
    *(0.95, 0.96, 0.97, 0.98, 0.985, 0.99, 0.995, 0.998, 1.0),
)
"""Least certainties that are tried."""
MOST_PASSED = 0.005
"""Share of wrong readbacks that may be passed, in each condition."""
MOST_REJECTED = 0.02
"""Share of right readbacks that may be rejected."""
MOST_AGAIN = 0.08
"""Share of readbacks that may be asked for again, at 20 dB."""


class Point(BaseModel):
    """One point of a curve."""

    model_config = ConfigDict(frozen=True)

    point: float
    """The least certainty; for the baseline, how alike instruction and readback must be."""
    passed: Share
    rejected: Share
    caught: Share
    say_again: Share

    @property
    def coverage(self) -> float:
        """Share of the readbacks that got a verdict."""
        return 1 - (self.say_again.share or 0.0)

    @property
    def error(self) -> float | None:
        """Share of the verdicts that are wrong: passed or rejected; None where there are none."""
        given = self.say_again.total - self.say_again.count
        return (self.passed.count + self.rejected.count) / given if given else None


def sweep(observations: Sequence[Observation], grid: Sequence[float] = GRID) -> tuple[Point, ...]:
    """Judge the same observations at each least certainty.

    Args:
        observations: Of one engine.
        grid: The least certainties.
    """
    return tuple(_point(observations, value) for value in grid)


def choose_thresholds(observations: Sequence[Observation]) -> dict[str, float]:
    """Choose the least certainty of one engine, for each channel and for any.

    Args:
        observations: Of the tuning split alone.

    Returns:
        Channel, or ``any`` -> least certainty.
    """
    by_channel: dict[str, list[Observation]] = defaultdict(list)
    for seen in observations:
        by_channel[seen.condition.channel].append(seen)
    return {ANY: choose(observations)} | {
        channel: choose(own) for channel, own in by_channel.items()
    }


def choose(observations: Sequence[Observation]) -> float:
    """Choose the least certainty that costs least: see `choose_point`."""
    groups: dict[str, list[Observation]] = defaultdict(list)
    for seen in observations:
        groups[seen.condition.name].append(seen)
    return choose_point({name: sweep(own) for name, own in groups.items()})


def choose_point(curves: Mapping[str, Sequence[Point]]) -> float:
    """Choose from the curves of all conditions.

    No condition may pass more wrong readbacks than `MOST_PASSED`. Among the points that hold that,
    the one where right readbacks rejected, in units of `MOST_REJECTED`, and readbacks asked for
    again, in units of `MOST_AGAIN`, add up to the least over all conditions: an accusation weighs
    as much as four repetitions. Where no point holds it, the highest.

    Args:
        curves: Condition -> its points, all over the same grid.
    """
    rows: list[tuple[Point, ...]] = list(zip(*curves.values(), strict=True))
    safe = [row for row in rows if all((one.passed.share or 0) <= MOST_PASSED for one in row)]
    return min(safe, key=_cost)[0].point if safe else rows[-1][0].point


def _cost(row: Sequence[Point]) -> float:
    rejected = _pooled([one.rejected for one in row])
    again = _pooled([one.say_again for one in row])
    return rejected / MOST_REJECTED + again / MOST_AGAIN


def _pooled(shares: Sequence[Share]) -> float:
    total = sum(share.total for share in shares)
    return sum(share.count for share in shares) / total if total else 0.0


def _point(observations: Sequence[Observation], value: float) -> Point:
    counts = {"passed": 0, "rejected": 0, "caught": 0, "again": 0}
    right = sum(seen.labelled.faithful for seen in observations)
    for seen in observations:
        outcome = judge_at(seen, value)
        if outcome is Outcome.SAY_AGAIN:
            counts["again"] += 1
        elif outcome is Outcome.CORRECT:
            counts["passed"] += not seen.labelled.faithful
        else:
            counts["rejected" if seen.labelled.faithful else "caught"] += 1
    wrong = len(observations) - right
    return Point(
        point=value,
        passed=Share(count=counts["passed"], total=wrong),
        rejected=Share(count=counts["rejected"], total=right),
        caught=Share(count=counts["caught"], total=wrong),
        say_again=Share(count=counts["again"], total=len(observations)),
    )
