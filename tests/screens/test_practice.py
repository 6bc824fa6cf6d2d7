"""A drill practised without a screen: whose turn, another try, told after too many."""

import itertools

import pytest

from readback.drills.engine import DrillRun
from readback.drills.files import find_drill, load_drill
from readback.drills.plan import make_plan
from readback.drills.practice import MOST_TRIES, Practice
from readback.phraseology.grammar import load_grammar

NONSENSE = "lovely weather today"


@pytest.fixture
def practice() -> Practice:
    drill = load_drill(find_drill("push_back_tow_bar"))
    clock = itertools.count(0.0, 1.0)
    run = DrillRun(make_plan(drill, load_grammar(), seed=7, seat="flight_deck"))
    return Practice(run, lambda: next(clock))


def to_my_turn(practice: Practice) -> None:
    while practice.advance() is not None:
        pass


def test_the_others_speak_until_it_is_the_trainees_turn(practice):
    lines = []
    while (said := practice.advance()) is not None:
        lines.append(said[0].station)

    assert lines
    assert "flight_deck" not in lines
    assert practice.turn.station == "flight_deck"


def test_what_is_due_said_as_it_is_due_is_no_fault(practice):
    to_my_turn(practice)
    due = practice.turn

    reply = practice.answer(practice.hint())

    assert not any(event.is_fault for event in reply.events)
    assert practice.run.state_of(due.number) == "said"
    assert not reply.once_more


def test_after_too_many_tries_the_words_are_told_and_the_drill_goes_on(practice):
    to_my_turn(practice)
    due, hint = practice.turn, practice.hint()

    replies = [practice.answer(NONSENSE) for _ in range(MOST_TRIES)]

    assert [reply.as_due for reply in replies] == [None] * (MOST_TRIES - 1) + [hint]
    assert [reply.once_more for reply in replies] == [True] * (MOST_TRIES - 1) + [False]
    assert practice.turn is not due


def test_a_wrong_answer_is_put_right_by_who_asked_and_is_due_again(practice):
    to_my_turn(practice)
    while practice.hint() != "brakes released":
        practice.answer(practice.hint())
        to_my_turn(practice)
    due = practice.turn

    reply = practice.answer("brakes set")

    (again,) = reply.said
    assert reply.once_more
    assert (again.station, practice.turn) == ("headset", due)
    assert again.text.startswith("negative, i say again, confirm brakes released")


def test_a_drill_broken_off_says_so_and_ends(practice):
    to_my_turn(practice)

    reply = practice.finish()

    assert practice.run.ended
    assert reply.events[-1].kind == "ended"


def test_on_the_radio_and_on_the_interphone_are_told_apart(practice):
    channels = set()
    while not practice.run.ended:
        while (said := practice.advance()) is not None:
            channels.add((said[0].station == "controller", said[0].radio))
        if practice.turn is None:
            break
        practice.answer(practice.hint())

    assert (True, False) not in channels
    assert (False, False) in channels


def test_without_a_clock_no_time_is_judged():
    drill = load_drill(find_drill("push_back_tow_bar"))
    practice = Practice(DrillRun(make_plan(drill, load_grammar(), seed=7, seat="flight_deck")))

    to_my_turn(practice)
    practice.answer(practice.hint())

    assert {event.at_s for event in practice.run.events} == {None}
