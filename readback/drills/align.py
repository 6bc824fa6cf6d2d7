"""A whole recorded exchange laid beside a drill, even where calls are missing, repeated or extra.

The alignment is global and optimal: Needleman and Wunsch, "A general method applicable to the
search for similarities in the amino acid sequence of two proteins", Journal of Molecular Biology 48
(1970), 443-453, with two neighbours in the wrong order as one more step: Lowrance and Wagner, "An
extension of the string-to-string correction problem", Journal of the ACM 22 (1975), 177-183. What
is left over, said twice or far from its place, is then given to what it fits best.
"""

from collections.abc import Sequence
from itertools import permutations

from readback.drills.engine import DrillRun
from readback.drills.matching import FITS
from readback.drills.model import Station
from readback.transmission import Transmission

# Our choice: a match is worth up to 1.6, so leaving both out is dearer than a match whose values
# are wrong, and two neighbours that fit the other way round are dearer than in their order.
_LEFT_OUT = -0.2
_EXTRA = -0.3
_SWAPPED = -0.3
_OWN = 1.2
_FAR = 0.01
_FREE = 0.2
_RATHER_A_CALL = 0.01


def align(run: DrillRun, transmissions: Sequence[Transmission]) -> tuple[int | None, ...]:
    """Find what each transmission was said for.

    Args:
        run: Any run through the plan; it is not changed.
        transmissions: In the order spoken, ``station`` set where it is known.

    Returns:
        For each the number of the due; None for what belongs to none. Two may have the same number:
        it was said twice.
    """
    scores = [_told_apart(run, spoken) for spoken in transmissions]
    placed = needleman_wunsch(scores, len(run.plan.dues))
    return _place_rest(scores, placed, run)


def name_stations(run: DrillRun, transmissions: Sequence[Transmission]) -> dict[str, Station]:
    """Find which station spoke in which channel of a recording.

    Args:
        run: Any run through the plan; it is not changed.
        transmissions: Each ``station`` is the name of its channel.

    Returns:
        Channel to station, by what was said in all; no two channels are one station.
    """
    channels = sorted({one.station for one in transmissions if one.station is not None})
    stations = sorted({due.station for due in run.plan.dues})
    gains = {
        (channel, station): sum(
            max(
                (
                    gain
                    for due, gain in zip(run.plan.dues, run.fits(station, one), strict=True)
                    if due.station == station
                ),
                default=0.0,
            )
            for one in transmissions
            if one.station == channel
        )
        for channel in channels
        for station in stations
    }
    ways = _pairings(channels, stations)
    return dict(max(ways, key=lambda way: sum(gains[pair] for pair in way)))


def _pairings(
    channels: Sequence[str], stations: Sequence[Station]
) -> list[tuple[tuple[str, Station], ...]]:
    """List the ways to give each channel a station of its own, or the other way round."""
    if len(channels) <= len(stations):
        ways = permutations(stations, len(channels))
        return [tuple(zip(channels, way, strict=True)) for way in ways]
    return [tuple(zip(way, stations, strict=True)) for way in permutations(channels, len(stations))]


def _told_apart(run: DrillRun, spoken: Transmission) -> list[float]:
    """Score with everything due; what fits a due of its own station was not said for another's."""
    scores = run.fits(spoken.station, spoken)
    if spoken.station is None:
        # Of a call and an answer in the same words it is rather the answer that is left out.
        return [
            score - _RATHER_A_CALL * due.is_answer
            for score, due in zip(scores, run.plan.dues, strict=True)
        ]
    own = [
        score if spoken.station == due.station else 0.0
        for score, due in zip(scores, run.plan.dues, strict=True)
    ]
    return scores if max(own, default=0.0) < _OWN else own


def needleman_wunsch(scores: Sequence[Sequence[float]], dues: int) -> list[int | None]:
    """Align by dynamic programming.

    Args:
        scores: Of each transmission with each due.
        dues: How many dues there are.

    Returns:
        For each transmission its due, None where it is left over; in the order of the dues but for
        neighbours that were said in the wrong order.
    """
    best = [[_LEFT_OUT * due for due in range(dues + 1)]]
    for row, gains in enumerate(scores):
        best.append(_next_row(best, gains, scores[row - 1] if row else None))
    return _trace_back(best, scores)


def _next_row(
    best: Sequence[Sequence[float]], gains: Sequence[float], before: Sequence[float] | None
) -> list[float]:
    """Work out one row; what `_steps` lists, written out for speed."""
    above = best[-1]
    line = [above[0] + _EXTRA]
    for due, gain in enumerate(gains):
        value = max(line[due] + _LEFT_OUT, above[due + 1] + _EXTRA)
        if gain >= FITS:
            value = max(value, above[due] + gain)
        if before is not None and due and gains[due - 1] >= FITS and before[due] >= FITS:
            value = max(value, best[-2][due - 1] + before[due] + gains[due - 1] + _SWAPPED)
        line.append(value)
    return line


def _steps(
    best: Sequence[Sequence[float]], scores: Sequence[Sequence[float]], row: int, due: int
) -> list[tuple[float, str]]:
    """List the ways to a place, the preferred one of equals first."""
    steps = []
    gain = scores[row - 1][due - 1]
    if gain >= FITS:
        steps.append((best[row - 1][due - 1] + gain, "match"))
    if row > 1 and due > 1:
        one, other = scores[row - 2][due - 1], scores[row - 1][due - 2]
        if one >= FITS and other >= FITS:
            steps.append((best[row - 2][due - 2] + one + other + _SWAPPED, "swap"))
    steps.append((best[row][due - 1] + _LEFT_OUT, "left out"))
    steps.append((best[row - 1][due] + _EXTRA, "extra"))
    return steps


def _trace_back(
    best: Sequence[Sequence[float]], scores: Sequence[Sequence[float]]
) -> list[int | None]:
    placed: list[int | None] = [None] * len(scores)
    row, due = len(scores), len(best[0]) - 1
    while row and due:
        steps = _steps(best, scores, row, due)
        _, step = max(steps, key=lambda option: option[0])
        if step == "match":
            placed[row - 1] = due - 1
        elif step == "swap":
            placed[row - 2], placed[row - 1] = due - 1, due - 2
        row -= {"match": 1, "swap": 2, "left out": 0, "extra": 1}[step]
        due -= {"match": 1, "swap": 2, "left out": 1, "extra": 0}[step]
    return placed


def _place_rest(
    scores: Sequence[Sequence[float]], placed: Sequence[int | None], run: DrillRun
) -> tuple[int | None, ...]:
    """Give what was left over to what it fits best: first what nobody said, then the nearest."""
    free = set(range(len(run.plan.dues))) - {one for one in placed if one is not None}
    result = list(placed)
    for row, number in enumerate(placed):
        if number is not None:
            continue
        near = _neighbour(placed, row)
        options = [
            (gain + (_FREE if due in free else 0.0) - _FAR * abs(due - near), due)
            for due, gain in enumerate(scores[row])
            if gain >= FITS
        ]
        if options:
            result[row] = max(options)[1]
            free.discard(max(options)[1])
    return tuple(result)


def _neighbour(placed: Sequence[int | None], row: int) -> int:
    before = [number for number in placed[:row] if number is not None]
    return before[-1] if before else 0
