"""Exchanges of the catalogue's drills, as texts, laid beside their drill without its seed."""

import random

import pytest

from readback.drills.files import find_drills, load_drill
from readback.judging.model import Outcome
from readback.replay.drill_plan import RecordedDrill
from readback.replay.drilled import judge_drilled
from readback.replay.model import HeardTransmission
from readback.replay.wording import Wording
from tests.drills.planting import CATALOGUE, faithful, plan_of, wrong_value

EVERY_S = 6.0


def recorded(name, plan):
    drill = load_drill(find_drills()[name])
    return RecordedDrill(drill, Wording(plan.setting.authority), plan.seat)


def as_heard(lines, channels=None):
    """Give lines as one mixed channel, or in the channels of their stations."""
    return [
        HeardTransmission(
            number=number,
            transmission=line.transmission.model_copy(
                update={"station": None, "start": number * EVERY_S, "end": number * EVERY_S + 3}
            ),
            track=channels and channels[line.station],
        )
        for number, line in enumerate(lines, start=1)
    ]


def faults(drill):
    return [event.message for event in drill.events if event.is_fault]


@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("seed", [1, 2])
def test_the_drawn_values_and_events_are_found_from_what_was_said(name, seed):
    plan = plan_of(name, seed)
    lines = faithful(plan)

    heard, _, drill = judge_drilled(name, recorded(name, plan), as_heard(lines), None)

    assert faults(drill) == []
    assert {found: drill.values[found] for found in drill.found} == {
        found: plan.values[found] for found in drill.found
    }
    assert [one.transmission.station for one in heard] == [line.station for line in lines]


@pytest.mark.parametrize("name", CATALOGUE)
def test_a_faithful_exchange_of_known_stations_is_judged_as_faithful(name):
    plan = plan_of(name, 1)
    lines = faithful(plan)
    heard = [
        one.spoken_by(line.station, "hand")
        for one, line in zip(as_heard(lines), lines, strict=True)
    ]

    _, _, drill = judge_drilled(name, recorded(name, plan), heard, 1)

    assert faults(drill) == []


def test_nothing_heard_leaves_every_call_missing():
    name = "push_back_tow_bar"
    plan = plan_of(name, 0)

    _, exchanges, drill = judge_drilled(name, recorded(name, plan), [], 0)

    calls = [due.number for due in plan.dues if due.part == "call"]
    assert [event.due for event in drill.events if event.kind == "missing"] == calls
    assert exchanges == ()


@pytest.mark.parametrize("name", CATALOGUE[::3])
def test_a_wrong_readback_is_found_without_the_seed(name):
    plan = plan_of(name, 1)
    lines = faithful(plan)
    tried = [wrong_value(plan, lines, random.Random(f"{name} {n}")) for n in range(30)]
    answers = [one for one in tried if one and plan.dues[min(one.dues)].is_answer]
    if not answers:
        # This drill's answers carry no value that could be wrong.
        assert all(one is None or not plan.dues[min(one.dues)].is_answer for one in tried)
        return
    (due,) = answers[0].dues

    _, exchanges, drill = judge_drilled(
        name, recorded(name, plan), as_heard(answers[0].lines), None
    )

    assert due in {event.due for event in drill.events if event.kind == "wrong"}
    answer = [line.due for line in answers[0].lines].index(due) + 1
    assert (
        any(
            one.readback == answer and one.verdict.verdict is not Outcome.CORRECT
            for one in exchanges
        )
        or plan.dues[due].say != plan.dues[plan.dues[due].answers].say
    )


def test_answers_are_paired_with_what_they_answer():
    plan = plan_of("push_back_tow_bar", 0)
    lines = faithful(plan)
    places = {line.due: number for number, line in enumerate(lines, start=1)}

    _, exchanges, _ = judge_drilled(
        "push_back_tow_bar", recorded("push_back_tow_bar", plan), as_heard(lines), None
    )

    spoken = [due for due in plan.dues if due.is_answer and due.signal is None]
    assert [(one.instruction, one.readback) for one in exchanges] == [
        (places[due.answers], places[due.number]) for due in spoken
    ]
    assert all(one.delivery is not None for one in exchanges)


def test_an_answer_that_never_came_is_an_exchange_without_readback():
    name = "push_back_tow_bar"
    plan = plan_of(name, 0)
    lines = faithful(plan)
    gone = next(due for due in plan.dues if due.step == "approve_push" and due.is_answer)
    kept = [line for line in lines if line.due != gone.number]

    _, exchanges, drill = judge_drilled(name, recorded(name, plan), as_heard(kept), None)

    asked = [line.due for line in kept].index(gone.answers) + 1
    (open_one,) = [one for one in exchanges if one.instruction == asked]
    assert open_one.readback is None
    assert open_one.verdict.verdict is not Outcome.CORRECT
    assert any(event.kind == "missing" and event.due == gone.number for event in drill.events)


def test_a_seed_that_is_given_counts_whatever_was_said():
    name = "push_back_tow_bar"
    said, given = plan_of(name, 0), plan_of(name, 3)
    assert said.values != given.values

    _, _, drill = judge_drilled(name, recorded(name, said), as_heard(faithful(said)), 3)

    assert drill.values == given.values
    assert drill.found == ()
    assert any(event.kind == "wrong" for event in drill.events)


def test_channels_are_named_by_the_drill_and_corrected_by_hand():
    name = "push_back_tow_bar"
    plan = plan_of(name, 0)
    lines = [line for line in faithful(plan) if line.station != "controller"]
    heard = as_heard(lines, {"flight_deck": "left", "headset": "right"})
    heard[0] = heard[0].spoken_by("tow_driver", "hand")

    named, _, drill = judge_drilled(name, recorded(name, plan), heard, 0)

    assert [one.transmission.station for one in named[1:]] == [line.station for line in lines[1:]]
    assert {one.told_by for one in named[1:]} == {"channel"}
    assert named[0].transmission.station == "tow_driver"
    assert any(event.kind == "wrong station" for event in drill.events)
