from datetime import date, timedelta

import pytest

from readback.measure.statistics import Share
from readback.records.model import CorrectionKind
from readback.records.practice import missed_in_group, plan_practice
from readback.records.progress import difference_of_shares, measure_progress
from readback.records.trust import measure_trust
from tests.records.conftest import CROSS, CROSSED_RIGHT, HELD, HOLD

CROSSED = "crossing runway two seven left larkspur 421"
ICAO_RIGHT = ((HOLD, HELD), (CROSS, CROSSED))


def test_progress_counts_kinds_elements_and_days(store, keep_session):
    keep_session(settings={"noise": "ramp"})
    keep_session(texts=ICAO_RIGHT, training_date=date(2026, 4, 2), authority="uk")

    progress = measure_progress(store.sessions())

    assert (progress.exchanges.count, progress.exchanges.total) == (3, 4)
    assert progress.error_kinds["wrong"] == 1
    worst = progress.elements[0]
    assert (worst.call, worst.element) == ("cross", "runway")
    assert (worst.right.count, worst.right.total, worst.statuses) == (1, 2, {"wrong": 1})
    assert {name: share.count for name, share in progress.noises.items()} == {
        "ramp": 1,
        "not stated": 2,
    }
    assert progress.authorities["uk"].share == 1.0
    assert [day.right.share for day in progress.trend] == [0.5, 1.0]


def test_the_trend_has_wilsons_intervals(store, keep_session):
    keep_session()

    (day,) = measure_progress(store.sessions()).trend

    # Newcombe 1998, method 3: 1 of 2 gives 0.0945 to 0.9055.
    assert day.right.interval == pytest.approx((0.0945, 0.9055), abs=1e-4)


# Newcombe 1998, Statistics in Medicine 17:873-890, example a, method 10 (from memory).
def test_the_difference_of_two_shares_has_newcombes_interval():
    difference, interval = difference_of_shares(
        Share(count=56, total=70), Share(count=48, total=80)
    )

    assert difference == pytest.approx(0.2)
    assert interval == pytest.approx((0.0524, 0.3339), abs=1e-4)


def test_the_change_compares_the_later_days_with_the_earlier(store, keep_session):
    for month, texts in ((3, ((CROSS, CROSSED_RIGHT),)), (4, ICAO_RIGHT), (5, ICAO_RIGHT)):
        keep_session(training_date=date(2026, month, 2), texts=texts)

    change = measure_progress(store.sessions()).change

    assert change.difference == 1.0
    # Of 1 and of 4 exchanges little is known.
    assert change.interval[0] < 0.2


def test_sessions_of_one_day_are_one_point_of_the_trend(store, keep_session):
    first, second = keep_session(), keep_session(trainee="Ada")

    (day,) = measure_progress(store.sessions()).trend

    assert (day.sessions, day.right.total) == ((first, second), 4)


def test_a_group_is_told_trainee_by_trainee(store, keep_session):
    keep_session(trainee="Ada", texts=ICAO_RIGHT)
    keep_session()
    keep_session(training_date=date(2026, 4, 2))

    worse, better = measure_progress(store.sessions()).trainees

    assert (worse.trainee, worse.sessions, worse.last) == ("Tam Oakley", 2, date(2026, 4, 2))
    assert (worse.right.count, worse.right.total, worse.worst) == (2, 4, ("cross", "runway"))
    assert (better.trainee, better.worst) == ("Ada", None)


def test_time_to_answer_is_measured_where_words_have_times(store, head):
    from readback.judging.check import check
    from readback.transmission import Transmission, Word

    said = Transmission(words=(Word(word="stop", start=1.0, end=2.0),))
    answered = Transmission(words=(Word(word="stopping", start=3.5, end=4.0),))
    session_id = store.begin(head())
    first = store.keep_transmission(session_id, said)
    second = store.keep_transmission(session_id, answered)
    store.keep_verdict(session_id, check(said, answered), instruction=first, readback=second)

    (day,) = measure_progress(store.sessions()).trend

    assert day.seconds_to_answer == pytest.approx(1.5)


def test_a_persons_verdict_counts_in_the_progress(store, keep_session):
    session_id = keep_session()
    store.correct(session_id, CorrectionKind.VERDICT, 3, "correct", by="I", why="w")

    progress = measure_progress(store.sessions())

    assert progress.exchanges.share == 1.0
    assert progress.error_kinds["wrong"] == 0


def test_trust_counts_corrections_by_recogniser(store, keep_session):
    session_id = keep_session()
    store.correct(session_id, CorrectionKind.WORDS, 4, CROSSED, by="I", why="w")
    store.correct(session_id, CorrectionKind.WORDS, 2, CROSSED_RIGHT, by="I", why="w")
    keep_session(engine="vosk")
    keep_session(engine=None)

    trust = measure_trust(store.sessions())

    assert set(trust) == {"pocketsphinx", "vosk"}
    one = trust["pocketsphinx"]
    assert (one.words_corrected.count, one.words_corrected.total) == (2, 4)
    assert (one.verdicts_changed.count, one.verdicts_changed.total) == (2, 2)
    # One was correct at first and is wrong now, the other the other way round.
    assert (one.passed.count, one.passed.total) == (1, 1)
    assert (one.rejected.count, one.rejected.total) == (1, 1)
    assert (one.say_again.count, one.say_again.total) == (0, 2)
    assert one.sessions == 1
    assert trust["vosk"].words_corrected.count == 0


def test_what_was_missed_is_due_before_what_was_right(store, keep_session):
    keep_session()

    plan = plan_practice(
        store.sessions(),
        date(2026, 3, 9),
        drills={
            "taxi_out": frozenset({("cross", "runway")}),
            "other_way": frozenset({("cross", "via"), ("cross", None)}),
        },
    )

    assert (plan[0].call, plan[0].element, plan[0].missed) == ("cross", "runway", True)
    assert plan[0].drills == ("taxi_out",)
    right = [one for one in plan if not one.missed]
    assert right
    assert plan[0].due < min(one.due for one in right)
    assert [one.recall for one in plan] == sorted(one.recall for one in plan)


def test_the_schedule_is_that_of_the_library(store, keep_session):
    from fsrs import Card, Rating, Scheduler

    days = [date(2026, 3, 2), date(2026, 3, 5), date(2026, 3, 20)]
    for day, texts in zip(days, [ICAO_RIGHT, ((CROSS, CROSSED_RIGHT),), ICAO_RIGHT], strict=True):
        keep_session(training_date=day, texts=texts)

    plan = plan_practice(store.sessions(), days[-1])

    from datetime import UTC, datetime, time

    scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    card = Card(card_id=7)
    for day, rating in zip(days, [Rating.Good, Rating.Again, Rating.Good], strict=True):
        card, _ = scheduler.review_card(card, rating, datetime.combine(day, time(12), UTC))
    (crossing,) = [one for one in plan if (one.call, one.element) == ("cross", "runway")]
    assert crossing.due == card.due.date()
    assert crossing.due > days[-1] + timedelta(days=1)


def test_what_most_of_a_group_missed_comes_first(store, keep_session):
    keep_session()
    keep_session(trainee="Ada")
    keep_session(trainee="Bo", texts=((HOLD, CROSSED_RIGHT),))
    # What came right since is missed no more.
    keep_session(trainee="Cy")
    keep_session(trainee="Cy", texts=ICAO_RIGHT, training_date=date(2026, 3, 3))

    missed = missed_in_group(store.sessions(), date(2026, 3, 9))

    assert next(iter(missed.items())) == (("cross", "runway"), ("Ada", "Tam Oakley"))
    assert missed["hold_short", "runway"] == ("Bo",)


def test_a_training_date_in_the_far_future_counts_as_today(keep_session, store):
    keep_session(training_date=date(9999, 12, 31))

    plan = plan_practice(store.sessions(), date(2026, 3, 2))

    assert {one.last for one in plan} == {date(2026, 3, 2)}
