"""Progress of one trainee or a group: what goes wrong, how often, and whether less."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from statistics import median

from pydantic import BaseModel, ConfigDict

from readback.judging.manner import measure_manner
from readback.judging.model import Outcome, Severity, Status
from readback.measure.statistics import Share
from readback.records.model import CorrectionKind, KeptExchange, KeptSession


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
    """One session in the trend."""

    session: int
    training_date: date
    right: Share
    """Exchanges read back right, of those judged; the 95 % interval is in it."""
    seconds_to_answer: float | None
    """Median; None where no times were heard."""


class Progress(_Part):
    """What the sessions of one trainee or group tell."""

    exchanges: Share
    """Right of those judged."""
    elements: tuple[ElementProgress, ...]
    """The most often wrong first."""
    error_kinds: dict[str, int]
    """Status -> count."""
    authorities: dict[str, Share]
    noises: dict[str, Share]
    """By the setting ``noise`` of the sessions; "not stated" where there is none."""
    trend: tuple[Day, ...]
    """In the order of the dates."""


class EngineTrust(_Part):
    """How often people corrected what one recogniser heard and what was judged of it.

    A lower bound: what nobody looked at counts as right.
    """

    words_corrected: Share
    """Transmissions whose words were corrected."""
    verdicts_changed: Share
    """Exchanges whose verdict is another than at first."""
    passed_wrongly: int
    """Of these, first correct and now incorrect or incomplete: the dangerous ones."""
    rejected_wrongly: int
    """Of these, first not correct and now correct."""


def measure_progress(sessions: Iterable[KeptSession]) -> Progress:
    """Count over sessions, whichever they are.

    Verdicts of people count where there are any; elements are counted in the program's findings,
    and not at all where a person gave another verdict.
    """
    kept = sorted(sessions, key=lambda one: (one.head.training_date, one.id))
    statuses: dict[tuple[str, str | None], Counter[str]] = {}
    for session in kept:
        for exchange in session.exchanges:
            for key, status in judged_elements(exchange):
                statuses.setdefault(key, Counter())[status] += 1
    elements = [_element(key, counts) for key, counts in statuses.items()]
    errors = sum((counts for counts in statuses.values()), Counter[str]())
    return Progress(
        exchanges=_share(kept),
        elements=tuple(sorted(elements, key=_urgency)),
        error_kinds={
            status.value: errors[status] for status in Status if status is not Status.CORRECT
        },
        authorities=_by(kept, lambda session: session.head.authority),
        noises=_by(kept, lambda session: str(session.head.settings.get("noise") or "not stated")),
        trend=tuple(map(_day, kept)),
    )


def judged_elements(exchange: KeptExchange) -> list[tuple[tuple[str, str | None], Status]]:
    """List call and element with what became of it, advice left out."""
    if exchange.outcome is not exchange.verdict.verdict:
        return []
    return [
        ((finding.call, finding.element), finding.status)
        for finding in exchange.verdict.findings
        if finding.severity is not Severity.ADVISORY
    ]


def measure_trust(sessions: Iterable[KeptSession]) -> dict[str, EngineTrust]:
    """Measure by recogniser how often it was corrected; typed sessions are left out."""
    by_engine: dict[str, list[KeptSession]] = {}
    for session in sessions:
        if session.head.engine is not None:
            by_engine.setdefault(session.head.engine, []).append(session)
    return {engine: _trust(kept) for engine, kept in sorted(by_engine.items())}


def _trust(sessions: Sequence[KeptSession]) -> EngineTrust:
    transmissions = sum(len(session.transmissions) for session in sessions)
    corrected = sum(
        len({one.target for one in session.corrections if one.kind is CorrectionKind.WORDS})
        for session in sessions
    )
    changes = [change for session in sessions for change in _changes(session)]
    changed = [pair for pair in changes if pair[0] is not pair[1]]
    wrong = (Outcome.INCORRECT, Outcome.INCOMPLETE)
    return EngineTrust(
        words_corrected=Share(count=corrected, total=transmissions),
        verdicts_changed=Share(count=len(changed), total=len(changes)),
        passed_wrongly=sum(old is Outcome.CORRECT and new in wrong for old, new in changed),
        rejected_wrongly=sum(new is Outcome.CORRECT and old is not None for old, new in changed),
    )


def _changes(session: KeptSession) -> list[tuple[Outcome | None, Outcome | None]]:
    """Pair first and present verdict of each instruction; None where it was or is none."""
    first = {one.instruction: one.outcome for one in session.first_exchanges}
    now = {one.instruction: one.outcome for one in session.exchanges}
    return [(first.get(number), now.get(number)) for number in sorted(first.keys() | now.keys())]


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
    groups: dict[str, list[KeptSession]] = {}
    for session in sessions:
        groups.setdefault(name_of(session), []).append(session)
    return {name: _share(group) for name, group in sorted(groups.items())}


def _day(session: KeptSession) -> Day:
    answers = [
        seconds for one in session.exchanges if (seconds := answer_time(session, one)) is not None
    ]
    return Day(
        session=session.id,
        training_date=session.head.training_date,
        right=_share([session]),
        seconds_to_answer=median(answers) if answers else None,
    )


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
