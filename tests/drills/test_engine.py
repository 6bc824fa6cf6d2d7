"""The engine live: order, stations, time, readbacks, events, the state of the aircraft."""

import pytest

from readback.drills.engine import DrillRun
from readback.drills.files import find_drills, load_drill
from readback.drills.plan import make_plan
from readback.drills.ramp import RampState, describe_ramp
from readback.errors import InputError
from readback.judging.model import Outcome, Severity
from readback.phraseology.grammar import load_grammar
from readback.transmission import Transmission, Word

from .planting import faithful, plan_of

NAME = "push_back_tow_bar"
INSTRUCTION = "larkspur 421, hold short of runway 27 left"


def kinds(events) -> list[str]:
    return [event.kind for event in events if event.kind != "caution"]


def test_a_right_readback_is_correct_and_the_next_call_is_due(run_of):
    run = run_of()

    run.hear("controller", INSTRUCTION)
    (event,) = run.hear("flight_deck", "holding short runway 27 left, larkspur 421")

    assert (event.kind, event.verdict.verdict) == ("came", Outcome.CORRECT)
    assert run.due.name == "cross"


def test_a_wrong_readback_is_judged_with_rule_and_source(run_of):
    run = run_of()

    run.hear("controller", INSTRUCTION)
    (event,) = run.hear("flight_deck", "holding short runway 27 right, larkspur 421")

    assert (event.kind, event.step, event.part) == ("wrong", "hold", "answer")
    assert event.severity is Severity.CRITICAL
    assert event.findings[0].source.startswith("ICAO Doc 4444")


def test_a_correction_by_the_controller_makes_the_readback_due_again(run_of):
    run = run_of()
    run.hear("controller", INSTRUCTION)
    run.hear("flight_deck", "holding short runway 27 right, larkspur 421")

    again = run.hear("controller", "negative, i say again, hold short of runway 27 left")
    right = run.hear("flight_deck", "holding short runway 27 left, larkspur 421")

    assert kinds(again) == ["repeated"]
    assert kinds(right) == ["came"]
    assert run.due.name == "cross"


def test_the_readback_is_compared_with_what_was_said_not_with_the_plan(run_of):
    run = run_of()

    (said,) = run.hear("controller", "larkspur 421, hold short of runway 27 right")
    (answer,) = run.hear("flight_deck", "holding short runway 27 right, larkspur 421")

    assert said.kind == "wrong"
    assert said.findings[0].source is None, "the rule of a readback is none of the instruction"
    assert (answer.kind, answer.verdict.verdict) == ("came", Outcome.CORRECT)


def test_say_again_leaves_the_readback_due(run_of):
    run = run_of()

    run.hear("controller", INSTRUCTION)
    (event,) = run.hear("flight_deck", "say again, larkspur 421")

    assert event.kind == "say again"
    assert run.due.name == "hold: answer"


def test_a_skipped_readback_is_missing_when_the_next_call_comes(run_of):
    run = run_of()

    run.hear("controller", INSTRUCTION)
    events = run.hear("controller", "larkspur 421, cross runway 27 left")

    assert kinds(events) == ["missing", "came"]
    assert (events[0].step, events[0].part) == ("hold", "answer")
    assert events[0].severity is Severity.CRITICAL


def test_a_call_after_its_turn_is_out_of_order(run_of):
    run = run_of()

    run.hear("controller", "larkspur 421, cross runway 27 left")
    events = run.hear("controller", INSTRUCTION)

    assert kinds(events) == ["out of order", "came"]
    assert run.state_of(0) == "said"


def test_the_wrong_station_is_told_and_the_call_is_taken(run_of):
    run = run_of()

    events = run.hear("flight_deck", "hold short of runway 27 left, larkspur 421")

    assert kinds(events) == ["wrong station", "came"]
    assert "for the controller to say" in events[0].message


@pytest.mark.parametrize(
    ("waited", "expected"), [(1, ["early", "came"]), (5, ["came"]), (21, ["late", "came"])]
)
def test_time_is_judged_only_from_the_times_given(run_of, waited, expected):
    run = run_of()
    run.hear("flight_deck", "good morning", 0.0)

    events = run.hear("controller", INSTRUCTION, float(waited))

    assert kinds(events) == expected


def test_the_time_of_an_answer_counts_from_the_end_of_the_call(run_of):
    run = run_of()
    spoken = Transmission.typed(INSTRUCTION).model_copy(update={"start": 10.0, "end": 14.0})

    run.hear("controller", spoken, 10.0)
    in_time = run.hear("flight_deck", "holding short runway 27 left, larkspur 421", 18.5)

    assert kinds(in_time) == ["came"]


def test_an_uncertain_word_is_not_judged(run_of):
    run = run_of(least_certainty=0.5)
    words = [Word(word=w, certainty=0.9) for w in "holding short runway two seven".split()]
    words += [Word(word="right", certainty=0.2)]
    words += [Word(word=w, certainty=0.9) for w in "larkspur four two one".split()]

    run.hear("controller", INSTRUCTION)
    (event,) = run.hear("flight_deck", Transmission(words=tuple(words)))

    assert event.verdict.verdict is Outcome.SAY_AGAIN
    assert (event.kind, event.is_fault) == ("not certain", False)


def test_an_uncertain_call_accuses_nobody(run_of):
    run = run_of(least_certainty=0.5)
    words = [Word(word=w, certainty=0.9) for w in "larkspur 421 hold short of runway 27".split()]
    words += [Word(word="right", certainty=0.2)]

    (event,) = run.hear("controller", Transmission(words=tuple(words)))

    assert (event.kind, event.is_fault) == ("not certain", False)


def test_an_uncertain_call_breaks_no_interlock():
    run = DrillRun(plan_of(NAME, 0), least_certainty=0.5)
    faint = tuple(Word(word=w, certainty=0.2) for w in "commencing push back".split())
    clear = tuple(Word(word=w, certainty=0.9) for w in "commencing push back".split())

    assert "interlock" not in kinds(run.hear("headset", Transmission(words=faint), due=None))
    assert "interlock" in kinds(run.hear("headset", Transmission(words=clear), due=None))


def test_a_call_to_another_callsign_is_not_right(run_of):
    run = run_of()

    (event,) = run.hear("controller", "northgate 421, hold short of runway 27 left")

    assert event.kind == "wrong"
    assert [finding.element for finding in event.findings] == ["callsign"]


def test_what_nobody_asked_for_is_not_due(run_of):
    run = run_of()

    (event,) = run.hear("controller", "larkspur 421, line up and wait runway 27 left")

    assert event.kind == "not due"
    assert event.severity is Severity.CRITICAL
    assert run.due.name == "hold"


# ---- a wrong readback to be caught ---------------------------------------------------------------

WRONG = "holding short runway 27 right, larkspur 421"


def test_a_planted_wrong_readback_is_no_fault_and_has_to_be_caught(run_of):
    run = run_of(seat="controller")

    run.hear("controller", INSTRUCTION)
    (event,) = run.hear("flight_deck", WRONG)

    assert event.kind == "wrong readback"
    assert (run.due.part, run.due.station) == ("catch", "controller")


def test_a_wrong_readback_that_is_caught_is_no_fault(run_of):
    run = run_of(seat="controller")
    run.hear("controller", INSTRUCTION)
    run.hear("flight_deck", WRONG)

    caught = run.hear("controller", "larkspur 421, negative, hold short of runway 27 left")
    again = run.hear("flight_deck", "holding short runway 27 left, larkspur 421")

    assert (kinds(caught), kinds(again)) == (["came"], ["came"])


def test_a_wrong_readback_that_is_not_caught_is_critical(run_of):
    run = run_of(seat="controller")
    run.hear("controller", INSTRUCTION)
    run.hear("flight_deck", WRONG)

    events = run.hear("controller", "larkspur 421, cross runway 27 left")

    assert (events[0].kind, events[0].severity) == ("missing", Severity.CRITICAL)
    assert events[0].message == (
        "The wrong readback was not caught: hold short: runway 27L, said 27R."
    )
    # SERA.14075(d): NEGATIVE, I SAY AGAIN and the right version (seen).
    assert "SERA.14075(d)" in events[0].findings[0].source


def test_nothing_is_planted_where_the_trainee_answers(run_of):
    assert [due.part for due in run_of().plan.dues] == ["call", "answer"] * 2


# ---- events --------------------------------------------------------------------------------------

EVENT = """\
steps:
  - id: push
    from: headset
    to: flight_deck
    say: [{call: commencing_push}]
  - id: done
    from: headset
    to: flight_deck
    say: [{call: push_complete}]
branches:
  person:
    event: obstacle
    at: [push]
    announce: A person behind the tail.
    ramp: {push_motion: stopped}
    steps:
      - id: stop
        from: headset
        to: flight_deck
        say: [{call: stop_push}]
        answer: {from: flight_deck, say: [{call: stop_push}]}
    then: end
"""


def test_an_event_follows_its_step_and_changes_the_aircraft(run_of):
    run = run_of(EVENT)

    events = run.hear("headset", "commencing push back")

    assert [event.message for event in events if event.kind == "event"] == [
        "A person behind the tail."
    ]
    assert run.ramp.push_motion == "stopped"
    assert [due.step for due in run.plan.dues] == ["push", "stop", "stop"]


def test_an_event_without_chance_does_not_happen(run_of):
    run = run_of(EVENT.replace("    ramp:", "    chance: 0\n    ramp:"))

    assert run.plan.happenings == ()
    assert [due.step for due in run.plan.dues] == ["push", "done"]


# ---- plans ---------------------------------------------------------------------------------------


def test_equal_seeds_make_equal_plans_and_others_differ():
    drill = load_drill(find_drills()[NAME])
    plans = [make_plan(drill, load_grammar(), seed=seed) for seed in (1, 1, 2, 3, 4, 5)]

    assert plans[0] == plans[1]
    assert len({tuple(plan.values.items()) for plan in plans}) > 1


def test_a_seat_that_the_drill_has_not_is_an_input_error():
    with pytest.raises(InputError, match="Use one of headset, flight_deck"):
        make_plan(load_drill(find_drills()[NAME]), load_grammar(), seat="controller")


def test_the_end_of_the_drill_asks_how_the_aircraft_stands():
    plan = plan_of(NAME, 0)
    run = DrillRun(plan.model_copy(update={"end_ramp": {"brakes": "released"}}))

    for line in faithful(plan):
        run.hear(line.station, line.text)
    wrong, ended = run.finish()

    assert wrong.findings[0].message == "at the end brakes is set, not released"
    assert (ended.kind, run.finish()) == ("ended", ())


def test_the_aircraft_is_described_in_words():
    state = RampState(engines_running=(2, 1), push_direction="north")

    assert "engines running: 2, 1" in describe_ramp(state)
    assert describe_ramp(state, RampState(engines_running=(2, 1))) == ("nose to face north",)


def test_every_field_of_the_state_has_words():
    other = RampState(
        **{
            "brakes": "released", "brake_lamp": "set", "chocks": "out", "bypass_pin": "installed",
            "pin_shown": True, "doors": "closed", "ground_power": "connected",
            "air_start": "connected", "tow_vehicle": "connected", "tow_bar": "connected",
            "nose_lifted": True, "headset_link": "lost", "beacon": "on", "push_approval": "held",
            "push_clearance": "given", "push_direction": "east", "push_motion": "moving",
            "start_approval": "given", "start_clearance": "given", "engine_starting": 1,
            "engines_running": (2,), "hazard": "smoke", "hazard_engine": 1, "thumbs_up": False,
            "signal_side": "left", "signal_given": True, "taxi_clearance": True,
        }
    )  # fmt: skip

    assert len(describe_ramp(other, RampState())) == len(RampState.model_fields)
