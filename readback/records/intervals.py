"""When recurrent training falls due, under published intervals or one's own."""

import calendar
from collections.abc import Iterable
from datetime import date

from pydantic import BaseModel, ConfigDict

from readback.records.model import KeptSession


class Interval(BaseModel):
    """How often training has to be repeated."""

    model_config = ConfigDict(frozen=True)

    months: int
    early_months: int = 0
    """An assessment this long before the due date counts as on that date."""
    rule: str
    source: str


INTERVALS: dict[str, Interval] = {
    "easa-ground-handling": Interval(
        months=36,
        early_months=3,
        rule="Recurrent training comes at the latest every 36 months and ends with an assessment;"
        " done in the last 3 months it counts as done on the due date. After 3 to 12 months away a"
        " refresher is due, after 12 to 24 requalification, after more the initial training.",
        source="Regulation (EU) 2025/20, Part-ORGH, Subpart TRG (seen)",
    ),
    "uk-aerodrome": Interval(
        months=12,
        early_months=3,
        rule="Recurrent training comes at the latest every 12 months; done in the last 3 months it"
        " counts as done on the due date.",
        source="UK Civil Aviation Authority, acceptable means of compliance to ADR.OR.D.017 (seen)",
    ),
}
"""By the name that the user gives."""


class Due(BaseModel):
    """Whose training falls due when."""

    model_config = ConfigDict(frozen=True)

    trainee: str
    training: str
    last: date | None
    """Date of the last assessment that was passed; None where there is none."""
    due: date | None
    """None where there is none: it is due now."""
    window_from: date | None
    """First day from which it counts as done on the due date."""

    def is_overdue(self, today: date) -> bool:
        """Tell whether the due date is over, or nothing was ever passed."""
        return self.due is None or self.due < today


def own_interval(months: int, early_months: int = 0) -> Interval:
    """Make an interval of the user's own."""
    early = f", done in the last {_months(early_months)} as on the due date" if early_months else ""
    return Interval(
        months=months,
        early_months=early_months,
        rule=f"Every {_months(months)}{early}.",
        source="set by the user, no source",
    )


def _months(count: int) -> str:
    return "month" if count == 1 else f"{count} months"


def find_due(sessions: Iterable[KeptSession], interval: Interval) -> tuple[Due, ...]:
    """Tell for each trainee and training when it falls due next.

    Args:
        sessions: Of any order. Those not assessed, and not passed, renew nothing.
        interval: How often.

    Returns:
        The most urgent first.
    """
    passed: dict[tuple[str, str], list[date]] = {}
    for session in sessions:
        dates = passed.setdefault((session.head.trainee, session.head.training), [])
        if session.head.assessment_date is not None and session.score.result == "passed":
            dates.append(session.head.assessment_date)
    found = [
        _due(trainee, training, sorted(dates), interval)
        for (trainee, training), dates in passed.items()
    ]
    return tuple(sorted(found, key=lambda one: (one.due or date.min, one.trainee, one.training)))


def add_months(day: date, months: int) -> date:
    """Give the same day so many months later, or the last of that month where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def _due(trainee: str, training: str, dates: list[date], interval: Interval) -> Due:
    due: date | None = None
    for day in dates:
        on_time = due is not None and add_months(due, -interval.early_months) <= day <= due
        due = add_months(due if due is not None and on_time else day, interval.months)
    return Due(
        trainee=trainee,
        training=training,
        last=dates[-1] if dates else None,
        due=due,
        window_from=None if due is None else add_months(due, -interval.early_months),
    )
