from datetime import date, timedelta

import pytest

from readback.records.model import CorrectionKind
from readback.records.practice import plan_practice
from readback.records.progress import measure_progress, measure_trust
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
    assert (one.passed_wrongly, one.rejected_wrongly) == (1, 1)
    assert trust["vosk"].words_corrected.count == 0


def test_what_was_missed_is_due_before_what_was_right(store, keep_session):
    keep_session()

    plan = plan_practice(
        store.sessions(),
        date(2026, 3, 9),
        drills={"taxi_out": frozenset({"cross"}), "push": frozenset({"push_back"})},
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
