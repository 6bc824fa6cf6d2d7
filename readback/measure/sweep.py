"""What each least certainty would cost, and the one that costs least."""

import math
from collections import defaultdict
from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Outcome
from readback.measure.certainty import ANY, NOISY
from readback.measure.judged import judge_at
from readback.measure.observe import Observation
from readback.measure.statistics import Share

GRID = (
    *(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.92, 0.94),
    *(0.95, 0.96, 0.97, 0.98, 0.985, 0.99, 0.995, 0.998, 1.0),
)
"""Least certainties that are tried."""
NOISY_DB = 10.0
"""Levels under it are chosen for together, whatever the channel."""
LEAST_CHOSEN = 0.5
"""No less is chosen: a few hundred readbacks cannot show that what is probably wrong may pass."""
MOST_PASSED = 0.005
"""Share of wrong readbacks that may be passed, in each condition."""
MOST_PASSED_IN_NOISE = 0.01
"""The same under `NOISY_DB`."""
MOST_REJECTED = 0.02
"""Share of right readbacks that may be rejected."""
MOST_AGAIN = ((math.inf, 0.04), (20.0, 0.08), (-math.inf, 0.15))
"""Share of readbacks that may be asked for again, from that level of noise up, dB."""
PASSED_WEIGHT = 5.0
"""How much more a wrong readback passed weighs, each in units of what is allowed."""


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
    judges = [judge_at(seen) for seen in observations]
    return tuple(_point(observations, [judge(value) for judge in judges], value) for value in grid)


def choose_thresholds(observations: Sequence[Observation]) -> dict[str, float]:
    """Choose the least certainty of one engine, for each channel and for any.

    Args:
        observations: Of the tuning split alone.

    Returns:
        Channel, or ``any`` -> least certainty.
    """
    by_channel: dict[str, list[Observation]] = defaultdict(list)
    for seen in observations:
        level_db = seen.condition.snr_db
        noisy = level_db is not None and level_db < NOISY_DB
        by_channel[NOISY if noisy else seen.condition.channel].append(seen)
    chosen = {channel: choose(own) for channel, own in by_channel.items()}
    # Where nobody can tell the channel, the strictest is none too strict.
    channels = [least for channel, least in chosen.items() if channel != NOISY]
    return {ANY: max(channels or chosen.values())} | chosen


def choose(observations: Sequence[Observation]) -> float:
    """Choose a least certainty: see `choose_point` and `choose_noisy`."""
    groups: dict[tuple[str, float | None], list[Observation]] = defaultdict(list)
    for seen in observations:
        groups[seen.condition.channel, seen.condition.snr_db].append(seen)
    curves = [(level, sweep(own)) for (_, level), own in groups.items()]
    if all(level is not None and level < NOISY_DB for level, _ in curves):
        return choose_noisy([points for _, points in curves])
    return choose_point(curves)


def choose_noisy(curves: Sequence[Sequence[Point]]) -> float:
    """Choose for much noise, where to ask again is no fault.

    Args:
        curves: Of each condition, all over the same grid.

    Returns:
        The least point at which no condition passes or rejects more than is allowed in noise; the
        strictest where there is none.
    """
    rows: list[tuple[Point, ...]] = list(zip(*curves, strict=True))
    for row in rows:
        passed = max(one.passed.share or 0.0 for one in row)
        rejected = max(one.rejected.share or 0.0 for one in row)
        held = passed <= MOST_PASSED_IN_NOISE and rejected <= MOST_REJECTED
        if held and row[0].point >= LEAST_CHOSEN:
            return row[0].point
    return rows[-1][0].point


def choose_point(curves: Sequence[tuple[float | None, Sequence[Point]]]) -> float:
    """Choose from the curves of all conditions of a channel.

    Each condition costs what it passes, rejects and asks for again, each in units of what is
    allowed, and what it passes `PASSED_WEIGHT` times: one wrong readback in two hundred is as bad
    as to ask for every second one again. The point that costs least over all conditions is chosen;
    of equal ones the strictest; none under `LEAST_CHOSEN`.

    Args:
        curves: The level of noise, dB, None where none is added, and the points, all over the same
            grid.
    """
    levels = [level for level, _ in curves]
    rows: list[tuple[Point, ...]] = list(zip(*(points for _, points in curves), strict=True))
    allowed = [row for row in rows if row[0].point >= LEAST_CHOSEN]

    def cost(row: Sequence[Point]) -> tuple[float, float]:
        total = sum(_cost(one, level) for one, level in zip(row, levels, strict=True))
        return total, -row[0].point

    return min(allowed, key=cost)[0].point


def _cost(point: Point, level_db: float | None) -> float:
    quiet = math.inf if level_db is None else level_db
    most_again = next(most for least_db, most in MOST_AGAIN if quiet >= least_db)
    return (
        PASSED_WEIGHT * (point.passed.share or 0.0) / MOST_PASSED
        + (point.rejected.share or 0.0) / MOST_REJECTED
        + (point.say_again.share or 0.0) / most_again
    )


def _point(observations: Sequence[Observation], outcomes: Sequence[Outcome], value: float) -> Point:
    counts = {"passed": 0, "rejected": 0, "caught": 0, "again": 0}
    right = sum(seen.labelled.faithful for seen in observations)
    for seen, outcome in zip(observations, outcomes, strict=True):
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
