from datetime import date

import pytest

from readback.records.intervals import INTERVALS, add_months, find_due, own_interval


# The last rows: a month without that day ends earlier (common practice, no source).
@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        (date(2026, 3, 2), 36, date(2029, 3, 2)),
        (date(2026, 3, 2), -3, date(2025, 12, 2)),
        (date(2026, 12, 31), 2, date(2027, 2, 28)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2027, 11, 30), 3, date(2028, 2, 29)),
    ],
)
def test_months_are_added_by_the_calendar(day, months, later):
    assert add_months(day, months) == later


@pytest.mark.parametrize(
    ("name", "due", "window"),
    [
        ("easa-ground-handling", date(2029, 3, 2), date(2028, 12, 2)),
        ("uk-aerodrome", date(2027, 3, 2), date(2026, 12, 2)),
    ],
)
def test_the_published_intervals_run_from_the_assessment(store, keep_session, name, due, window):
    keep_session(result="passed")

    (one,) = find_due(store.sessions(), INTERVALS[name])

    assert (one.due, one.window_from) == (due, window)
    assert one.is_overdue(date(2030, 1, 1))
    assert not one.is_overdue(due)


# Regulation (EU) 2025/20, Subpart TRG: done in the last 3 months counts as done on time.
@pytest.mark.parametrize(
    ("second", "due"),
    [
        (date(2028, 12, 2), date(2032, 3, 2)),
        (date(2028, 12, 1), date(2031, 12, 1)),
        (date(2029, 3, 2), date(2032, 3, 2)),
        (date(2029, 3, 3), date(2032, 3, 3)),
    ],
    ids=["first day of the window", "before it", "last day", "too late"],
)
def test_the_due_date_stays_for_what_is_done_in_the_window(store, keep_session, second, due):
    keep_session(result="passed")
    keep_session(result="passed", training_date=second, assessment_date=second)

    (one,) = find_due(store.sessions(), INTERVALS["easa-ground-handling"])

    assert one.due == due


@pytest.mark.parametrize("changed", [{"assessment_date": None}, {"result": "not passed"}])
def test_what_was_not_assessed_or_not_passed_renews_nothing(store, keep_session, changed):
    keep_session(**{"result": "passed", **changed})

    (one,) = find_due(store.sessions(), own_interval(12))

    assert (one.last, one.due) == (None, None)
    assert one.is_overdue(date(2026, 3, 2))


def test_the_most_urgent_comes_first_and_trainings_are_apart(store, keep_session):
    early = date(2025, 1, 1)
    keep_session(result="passed", trainee="Ada", training="Fire")
    keep_session(result="passed", trainee="Ada", assessment_date=early)
    keep_session(trainee="Bo")

    found = find_due(store.sessions(), own_interval(12))

    assert [(one.trainee, one.last) for one in found] == [
        ("Bo", None),
        ("Ada", early),
        ("Ada", date(2026, 3, 2)),
    ]


@pytest.mark.parametrize(
    ("months", "early", "rule"),
    [
        (1, 0, "Every month."),
        (6, 1, "Every 6 months, done in the last month as on the due date."),
    ],
)
def test_an_interval_of_ones_own_is_said_in_words(months, early, rule):
    assert own_interval(months, early).rule == rule
