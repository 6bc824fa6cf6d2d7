"""What to practise next, from what was missed and how long ago.

Method: FSRS, the free spaced repetition scheduler, as the package ``fsrs`` has it with its own
parameters (Ye, Su, Cao 2022, "A Stochastic Shortest Path Algorithm for Optimizing Spaced Repetition
Scheduling", KDD, from memory). These come from the recall of flash cards: nobody has measured how
they fit readbacks, so take the dates as an order of urgency.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Status
from readback.records.model import KeptSession
from readback.records.progress import judged_elements
from readback.records.training import Trained


class Practice(BaseModel):
    """One element to practise."""

    model_config = ConfigDict(frozen=True)

    call: str
    element: str | None
    last: date
    """When it was last said or should have been."""
    missed: bool
    """Whether it was wrong or missing then."""
    due: date
    """When to practise it again."""
    recall: float
    """Chance that it comes right now, as FSRS estimates it; in [0, 1]."""
    drills: tuple[str, ...] = ()
    """Those that train exactly this element."""


def plan_practice(
    sessions: Iterable[KeptSession],
    today: date,
    *,
    drills: Mapping[str, frozenset[Trained]] | None = None,
) -> tuple[Practice, ...]:
    """Plan what one trainee practises when.

    One session is one repetition of each element in it: "again" if it was wrong, missing or never
    issued even once, else "good". What was not heard with certainty counts neither way.

    Args:
        sessions: Of one trainee.
        today: The date now.
        drills: Name of a drill -> what it trains, as `what_drills_train` gives it.

    Returns:
        The least likely to come right first.
    """
    from fsrs import Card, Rating, Scheduler

    # Sessions are days apart: no steps of minutes, and the same dates each time.
    scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    cards: dict[tuple[str, str | None], tuple[Card, bool]] = {}
    for session in sorted(sessions, key=lambda one: (one.head.training_date, one.id)):
        for key, right in _repetitions(session).items():
            # The number is of no use here; without one the library waits to make it unique.
            card = cards[key][0] if key in cards else Card(card_id=1)
            rating = Rating.Good if right else Rating.Again
            # A date in the future is a slip: nobody has practised then yet.
            day = min(session.head.training_date, today)
            card, _ = scheduler.review_card(card, rating, _noon(day))
            cards[key] = card, not right
    plan = [
        Practice(
            call=call,
            element=element,
            last=(card.last_review or card.due).date(),
            missed=missed,
            due=card.due.date(),
            recall=scheduler.get_card_retrievability(card, _noon(today)),
            drills=_drills_with((call, element), drills or {}),
        )
        for (call, element), (card, missed) in cards.items()
    ]
    return tuple(sorted(plan, key=lambda one: (one.recall, one.due, one.call, one.element or "")))


def missed_in_group(sessions: Iterable[KeptSession], today: date) -> dict[Trained, tuple[str, ...]]:
    """Tell what was wrong or missing the last time, and with which trainees of a group.

    Returns:
        Call and element -> trainees by name; what most of them missed first.
    """
    by_trainee: dict[str, list[KeptSession]] = {}
    for session in sessions:
        by_trainee.setdefault(session.head.trainee, []).append(session)
    missed: dict[Trained, tuple[str, ...]] = {}
    for trainee, own in sorted(by_trainee.items()):
        for one in plan_practice(own, today):
            if one.missed:
                key = (one.call, one.element)
                missed[key] = (*missed.get(key, ()), trainee)
    return dict(
        sorted(missed.items(), key=lambda item: (-len(item[1]), item[0][0], item[0][1] or ""))
    )


def _repetitions(session: KeptSession) -> dict[tuple[str, str | None], bool]:
    right: dict[tuple[str, str | None], bool] = {}
    for exchange in session.exchanges:
        for key, status in judged_elements(exchange):
            if status is not Status.NOT_CERTAIN:
                right[key] = right.get(key, True) and status is Status.CORRECT
    return right


def _drills_with(wanted: Trained, drills: Mapping[str, frozenset[Trained]]) -> tuple[str, ...]:
    return tuple(sorted(name for name, trained in drills.items() if wanted in trained))


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12), UTC)
