"""Progress of one trainee or a group: what goes wrong, how often, and whether less."""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from statistics import median
from typing import TypeVar

from pydantic import BaseModel, ConfigDict

from readback.judging.manner import measure_manner
from readback.judging.model import Severity, Status
from readback.measure.statistics import Share
from readback.records.model import KeptExchange, KeptSession

_T = TypeVar("_T")


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True)


class ElementProgress(_Part):
    """How one element came back."""

    call: str
    element: str | None
    """None where the whole call is meant."""
    right: Share
    """Of those that were due and could be judged."""
    statuses: dict[str, int]
    """What became of the others."""


class Day(_Part):
    """The sessions of one day in the trend."""

    training_date: date
    sessions: tuple[int, ...]
    """Their numbers."""
    right: Share
    """Exchanges read back right, of those judged; the 95 % interval is in it."""
    seconds_to_answer: float | None
    """Median; None where no times were heard."""


class Change(_Part):
    """The share read back right on the later half of the days, less that on the earlier half."""

    difference: float
    interval: tuple[float, float]
    """Its 95 % interval, in [-1, 1]."""


class TraineeProgress(_Part):
    """One trainee of a group."""

    trainee: str
    sessions: int
    last: date
    """Date of the last training."""
    right: Share
    worst: tuple[str, str | None] | None
    """Call and element that went wrong most often; None where none did."""


class Progress(_Part):
    """What the sessions of one trainee or group tell."""

    exchanges: Share
    """Right of those judged."""
    trainees: tuple[TraineeProgress, ...]
    """The one with the fewest right first."""
    elements: tuple[ElementProgress, ...]
    """The most often wrong first."""
    error_kinds: dict[str, int]
    """Status -> count."""
    authorities: dict[str, Share]
    noises: dict[str, Share]
    """By the setting ``noise`` of the sessions; "not stated" where there is none."""
    seconds_to_answer: float | None
    """Median of all; None where no times were heard."""
    trend: tuple[Day, ...]
    """In the order of the dates."""
    change: Change | None
    """None where fewer than two days were judged."""


def measure_progress(sessions: Iterable[KeptSession]) -> Progress:
    """Count over sessions, whichever they are.

    Verdicts of people count where there are any; elements are counted in the program's findings,
    and not at all where a person gave another verdict.
    """
    kept = sorted(sessions, key=lambda one: (one.head.training_date, one.id))
    elements = _elements(kept)
    trend = tuple(map(_day, _grouped(kept, lambda one: one.head.training_date).values()))
    trainees = _grouped(kept, lambda one: one.head.trainee)
    errors = sum((Counter(one.statuses) for one in elements), Counter[str]())
    return Progress(
        exchanges=_share(kept),
        trainees=tuple(sorted(map(_trainee, trainees.values()), key=_least_right)),
        elements=elements,
        error_kinds={
            status.value: errors[status] for status in Status if status is not Status.CORRECT
        },
        authorities=_by(kept, lambda session: session.head.authority),
        noises=_by(kept, lambda session: str(session.head.settings.get("noise") or "not stated")),
        seconds_to_answer=_median_answer(kept),
        trend=trend,
        change=_change(trend),
    )


def _elements(sessions: Iterable[KeptSession]) -> tuple[ElementProgress, ...]:
    statuses: dict[tuple[str, str | None], Counter[str]] = {}
    for session in sessions:
        for exchange in session.exchanges:
            for key, status in judged_elements(exchange):
                statuses.setdefault(key, Counter())[status] += 1
    return tuple(sorted((_element(key, counts) for key, counts in statuses.items()), key=_urgency))


def _trainee(sessions: Sequence[KeptSession]) -> TraineeProgress:
    worst = next((one for one in _elements(sessions) if one.right.count < one.right.total), None)
    return TraineeProgress(
        trainee=sessions[0].head.trainee,
        sessions=len(sessions),
        last=sessions[-1].head.training_date,
        right=_share(sessions),
        worst=(worst.call, worst.element) if worst else None,
    )


def _least_right(one: TraineeProgress) -> tuple[float, str]:
    return (1.0 if one.right.share is None else one.right.share, one.trainee)


def _change(trend: Sequence[Day]) -> Change | None:
    judged = [day.right for day in trend if day.right.total]
    if len(judged) < 2:
        return None
    middle = len(judged) // 2
    before, after = _sum(judged[:middle]), _sum(judged[middle:])
    difference, interval = difference_of_shares(after, before)
    return Change(difference=difference, interval=interval)


def _sum(shares: Iterable[Share]) -> Share:
    counts = [(one.count, one.total) for one in shares]
    return Share(count=sum(count for count, _ in counts), total=sum(total for _, total in counts))


def difference_of_shares(one: Share, other: Share) -> tuple[float, tuple[float, float]]:
    """Give ``one - other`` and its 95 % interval; neither may be of nothing.

    Source: Newcombe 1998, Statistics in Medicine 17:873-890, method 10 (from memory).
    """
    assert one.share is not None
    assert other.share is not None
    difference = one.share - other.share
    (low1, high1), (low2, high2) = one.interval, other.interval
    return difference, (
        difference - math.hypot(one.share - low1, high2 - other.share),
        difference + math.hypot(high1 - one.share, other.share - low2),
    )


def judged_elements(exchange: KeptExchange) -> list[tuple[tuple[str, str | None], Status]]:
    """List call and element with what became of it, advice left out."""
    if exchange.overruled:
        return []
    return [
        ((finding.call, finding.element), finding.status)
        for finding in exchange.verdict.findings
        if finding.severity is not Severity.ADVISORY
    ]


def _element(key: tuple[str, str | None], counts: Counter[str]) -> ElementProgress:
    judged = counts.total() - counts[Status.NOT_CERTAIN]
    return ElementProgress(
        call=key[0],
        element=key[1],
        right=Share(count=counts[Status.CORRECT], total=judged),
        statuses={
            status.value: counts[status]
            for status in Status
            if status is not Status.CORRECT and counts[status]
        },
    )


def _urgency(progress: ElementProgress) -> tuple[int, str, str]:
    return (progress.right.count - progress.right.total, progress.call, progress.element or "")


def _share(sessions: Iterable[KeptSession]) -> Share:
    scores = [session.score for session in sessions]
    correct = sum(score.correct for score in scores)
    return Share(count=correct, total=correct + sum(score.wrong for score in scores))


def _by(sessions: Iterable[KeptSession], name_of: Callable[[KeptSession], str]) -> dict[str, Share]:
    return {name: _share(group) for name, group in sorted(_grouped(sessions, name_of).items())}


def _grouped(
    sessions: Iterable[KeptSession], key_of: Callable[[KeptSession], _T]
) -> dict[_T, list[KeptSession]]:
    groups: dict[_T, list[KeptSession]] = {}
    for session in sessions:
        groups.setdefault(key_of(session), []).append(session)
    return groups


def _day(sessions: Sequence[KeptSession]) -> Day:
    return Day(
        training_date=sessions[0].head.training_date,
        sessions=tuple(session.id for session in sessions),
        right=_share(sessions),
        seconds_to_answer=_median_answer(sessions),
    )


def _median_answer(sessions: Iterable[KeptSession]) -> float | None:
    times = [answer_time(session, one) for session in sessions for one in session.exchanges]
    answers = [seconds for seconds in times if seconds is not None]
    return median(answers) if answers else None


def answer_time(session: KeptSession, exchange: KeptExchange) -> float | None:
    """Give the seconds from the instruction's last word to the answer's first.

    Returns:
        Below zero for an answer into the instruction; None where nothing was heard with times.
    """
    if exchange.readback is None:
        return None
    answered = session.transmission(exchange.readback).current
    asked = session.transmission(exchange.instruction).current
    return measure_manner(answered, instruction=asked).seconds_to_answer
