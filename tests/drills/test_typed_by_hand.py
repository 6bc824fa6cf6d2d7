"""What trainees say in their own words is taken for what it was said for.

The wordings are common practice, no source; NEGATIVE and the right version of what was wrong: ICAO
Doc 9432, 4th edition 2007, 2.8.3.9.
"""

import pytest

from readback.drills.engine import DrillRun

from .planting import plan_of


def run_to(name: str, seat: str, step: str, part: str = "call", seed: int = 0) -> DrillRun:
    """Play a drill as it is due, up to one of its dues."""
    run = DrillRun(plan_of(name, seed, seat))
    while (due := run.due) is not None and (due.step, due.part) != (step, part):
        run.hear(due.station, run.voice.say(due, instruction=run.instruction_for(due)))
    assert run.due is not None
    return run


def faults_of(run: DrillRun, text: str) -> list[str]:
    """Say the words for what is due now; tell the faults, or that it is still due."""
    due = run.due
    assert due is not None
    values = {**run.plan.values, "cs": run.plan.callsign}
    events = run.hear(due.station, text.format(**values))
    still = ["still due"] if run.due is due else []
    return [event.message for event in events if event.is_fault] + still


@pytest.mark.parametrize(
    "text",
    [
        "{cs}, negative, hold short of runway {runway}",
        "{cs}, negative, I say again, hold short runway {runway}",
        "{cs}, negative, runway {runway}",
        "{cs}, negative, I say again, taxi to holding point {point} via {route}, hold short runway"
        " {runway}",
    ],
)
def test_a_wrong_readback_is_caught_by_what_was_wrong_alone(text):
    run = run_to("hearback_controller", "controller", "taxi", "catch")

    assert faults_of(run, text) == []


@pytest.mark.parametrize(
    "text",
    [
        "{cs}, negative, hold short of runway {wrong}",
        "{cs}, negative, runway {wrong}",
        "{cs}, negative, I say again, taxi to holding point {point} via {route}",
        "{cs}, correct",
    ],
)
def test_a_wrong_readback_is_not_caught_without_the_right_value(text):
    run = run_to("hearback_controller", "controller", "taxi", "catch")

    assert faults_of(run, text) != []


def test_an_instructor_needs_no_callsign_to_catch():
    run = run_to("hearback_instructor", "instructor", "tower", "catch")

    assert faults_of(run, "negative, {frequency}") == []


def test_on_the_interphone_the_bare_direction_catches():
    run = run_to("hearback_interphone", "flight_deck", "clear_push", "catch")

    assert faults_of(run, "negative, nose {nose}") == []


@pytest.mark.parametrize("text", ["brake light off", "brake light is out", "brake light out"])
def test_one_of_several_words_will_do(text):
    run = run_to("downhill", "headset", "brake_lamp")

    assert faults_of(run, text) == []


def test_the_other_word_will_not_do():
    run = run_to("downhill", "headset", "brake_lamp")

    assert faults_of(run, "brake light on") != []


def test_roger_answers_what_was_said_last():
    run = run_to("obstacle_stop", "headset", "first_running", "answer")
    before = run.due

    events = run.hear("headset", "roger")

    assert [event.due for event in events if event.kind == "came"] == [before.number]


def test_words_that_are_also_the_name_of_a_signal_are_taken_as_spoken():
    run = run_to("cable_loose", "flight_deck", "push_done", "answer")

    assert faults_of(run, "brakes are set") == []


@pytest.mark.parametrize(
    ("drill", "seat", "step", "part", "text"),
    [
        ("taxi_one_hold_short", "flight_deck", "ask_taxi", "call",
         "Ellery ground, {cs}, stand {stand}, ready to taxi, information {letter}"),
        ("taxi_one_hold_short", "flight_deck", "at_point", "call", "{cs}, ready"),
        ("push_back_snow", "flight_deck", "slow", "call", "slow down"),
        ("start_order_twin", "headset", "sequence", "answer", "{first} then {second}"),
        ("give_way_to_inbound", "headset", "passed", "call", "traffic clear"),
        ("smoke_or_flames_at_start", "headset", "report_hazard", "call", "fire engine {first}"),
        ("smoke_or_flames_at_start", "flight_deck", "report_hazard", "answer",
         "cutting engine number {first}"),
        ("start_and_push_request", "controller", "wait", "call",
         "{cs}, stand by for push back, {minutes} minutes delay"),
    ],
)  # fmt: skip
def test_usual_wordings_are_right(drill, seat, step, part, text):
    seed = next(
        seed
        for seed in range(50)
        if any(due.step == step and due.part == part for due in plan_of(drill, seed, seat).dues)
    )
    run = run_to(drill, seat, step, part, seed)

    assert faults_of(run, text) == []
