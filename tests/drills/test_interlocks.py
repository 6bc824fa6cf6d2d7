"""Each interlock of the ramp: a test that breaks it, and the same call where it holds."""

import pytest

from readback.drills.engine import DrillRun
from readback.drills.interlocks import ENGINES
from readback.drills.ramp import RampState
from readback.drills.ramp_rules import load_ramp_rules, read_ramp_rules
from readback.errors import GrammarError
from readback.judging.model import Severity

from .planting import plan_of

RULES = load_ramp_rules()
READY = RampState(
    brakes="released",
    brake_lamp="released",
    chocks="out",
    bypass_pin="installed",
    doors="closed",
    tow_vehicle="connected",
    tow_bar="connected",
    headset_link="connected",
    beacon="on",
    push_approval="given",
    push_clearance="given",
    start_approval="given",
    start_clearance="given",
)
"""Ready to be pushed and started."""
MOVING = {"push_motion": "moving"}
SET = {"brakes": "set", "push_motion": "complete"}
LEFT = {
    **SET,
    "tow_vehicle": "away",
    "tow_bar": "away",
    "headset_link": "disconnected",
    "bypass_pin": "removed",
    "pin_shown": True,
    "signal_side": "left",
}
START = "starting number two"
PUSH = "commencing push back"

# Interlock, setting, state where it holds, what breaks it, who says what.
ROWS = [
    ("push_approved_by_controller", {}, {}, {"push_approval": "none"}, "headset", PUSH),
    ("push_approved_by_controller", {}, {}, {"push_approval": "held"}, "flight_deck",
     "cleared to push facing north"),
    ("push_cleared_by_flight_deck", {}, {}, {"push_clearance": "none"}, "headset", PUSH),
    ("push_cleared_by_flight_deck", {}, {}, {"push_clearance": "held"}, "headset", PUSH),
    ("doors_closed_before_push", {}, {}, {"doors": "open"}, "headset", PUSH),
    ("beacon_after_doors_and_approval", {}, {}, {"doors": "open"}, "flight_deck", "beacon on"),
    ("beacon_after_doors_and_approval", {}, {}, {"push_approval": "none"}, "flight_deck",
     "beacon on"),
    ("beacon_before_push", {}, {}, {"beacon": "off"}, "headset", PUSH),
    ("pin_installed_before_push", {}, {}, {"bypass_pin": "removed"}, "headset", PUSH),
    ("equipment_away_before_chocks", {}, {}, {"ground_power": "connected"}, "headset",
     "chocks removed"),
    ("equipment_away_before_chocks", {}, {}, {"air_start": "connected"}, "headset",
     "chocks removed"),
    ("chocks_away_before_push", {}, {}, {"chocks": "in"}, "headset", PUSH),
    ("tow_vehicle_before_brakes_released", {}, {}, {"tow_vehicle": "away"}, "headset",
     "confirm brakes released"),
    ("tow_vehicle_before_brakes_released", {}, {}, {"tow_vehicle": "away"}, "flight_deck",
     "brakes released"),
    ("brakes_released_by_word", {}, {}, {"brakes": "set"}, "headset", PUSH),
    ("brakes_released_by_lamp", {}, {}, {"brake_lamp": "not seen"}, "headset", PUSH),
    ("brakes_released_by_lamp", {}, {}, {"brake_lamp": "set"}, "headset", PUSH),
    ("tow_bar_before_push", {}, {}, {"tow_bar": "away"}, "headset", PUSH),
    ("nose_lifted_before_push", {"tow_bar": False}, {"nose_lifted": True, "tow_bar": "away"},
     {"nose_lifted": False}, "headset", PUSH),
    ("doors_closed_before_lift", {"tow_bar": False}, {}, {"doors": "open"}, "headset",
     "nose wheel lifted"),
    ("start_approved_by_controller", {}, SET, {"start_approval": "none"}, "flight_deck", START),
    ("start_cleared_by_ground", {}, SET, {"start_clearance": "none"}, "flight_deck", START),
    ("start_cleared_by_ground", {}, SET, {"start_clearance": "held"}, "flight_deck", START),
    ("beacon_before_start", {}, SET, {"beacon": "off"}, "flight_deck", START),
    ("one_start_at_a_time", {}, SET, {"engine_starting": 1}, "flight_deck", START),
    ("one_engine_during_push", {"aircraft": "twin_wide"}, MOVING, {"engines_running": (1,)},
     "flight_deck", START),
    ("one_engine_during_push", {"aircraft": "four_engine"}, MOVING, {"engines_running": (1,)},
     "flight_deck", START),
    ("no_start_during_push_on_slippery_ground", {"weather": "rain"}, SET, MOVING, "flight_deck",
     START),
    ("no_start_during_push_on_slippery_ground", {"weather": "snow"}, SET, MOVING, "headset",
     "cleared to start engines"),
    ("no_start_during_push_on_slippery_ground", {"weather": "ice"}, SET, MOVING, "flight_deck",
     START),
    ("jet_blast", {"nearby": ("terminal_behind",)}, SET, {"push_motion": "none"}, "flight_deck",
     START),
    ("jet_blast", {"nearby": ("refuelling_beside",)}, SET, {"push_motion": "none"}, "headset",
     "cleared to start engines"),
    ("brakes_set_for_start_at_stand", {}, {"brakes": "set", "chocks": "in"},
     {"brakes": "released"}, "flight_deck", START),
    ("hazard_then_captain_only", {}, {}, {"hazard": "smoke"}, "headset", PUSH),
    ("nobody_hears", {}, {}, {"headset_link": "lost"}, "headset", PUSH),
    ("nobody_hears", {}, SET, {"headset_link": "disconnected"}, "flight_deck", "disconnect"),
    ("stopped_before_reconnection", {}, {"brakes": "set", "push_motion": "stopped"}, MOVING,
     "headset", "interphone restored"),
    ("stopped_before_reconnection", {}, {"brakes": "set", "push_motion": "stopped"},
     {"brakes": "released"}, "headset", "interphone restored"),
    ("thumbs_up_before_going_on", {}, {}, {"thumbs_up": False}, "headset", PUSH),
    ("brakes_set_before_disconnect", {}, SET, {"brakes": "released"}, "flight_deck", "disconnect"),
    ("brakes_set_before_disconnect", {}, SET, {"brakes": "released"}, "headset",
     "disconnecting, stand by for visual at your left"),
    ("brakes_set_before_disconnect", {}, SET, MOVING, "headset", "tow bar removed"),
    ("no_disconnect_during_start", {}, SET, {"engine_starting": 1}, "flight_deck", "disconnect"),
    ("tow_bar_away_before_pin_out", {}, {**SET, "tow_vehicle": "away", "tow_bar": "away"},
     {"tow_bar": "connected"}, "headset", "bypass pin removed"),
    ("pin_shown_from_outside", {}, LEFT, {"headset_link": "connected"}, "headset", "pin shown"),
    ("pin_shown_from_outside", {}, LEFT, {"bypass_pin": "installed"}, "headset", "pin shown"),
    ("signal_on_side_of_turn", {"turn": "left"}, LEFT, {"signal_side": "right"}, "headset",
     "dispatch aircraft"),
    ("all_away_before_signal", {}, LEFT, {"tow_bar": "connected"}, "headset", "dispatch aircraft"),
    ("all_away_before_signal", {}, LEFT, {"headset_link": "connected"}, "headset",
     "dispatch aircraft"),
    ("all_away_before_signal", {}, LEFT, {"bypass_pin": "installed"}, "headset",
     "dispatch aircraft"),
    ("pin_shown_before_signal", {}, LEFT, {"pin_shown": False}, "headset", "dispatch aircraft"),
]  # fmt: skip
# Interlock, setting, state, words that keep it, words that break it.
WORDS = [
    ("engine_of_the_class", {}, SET, "starting number two", "starting number three"),
    ("engine_order", {"start_order": "2 1"}, SET, "starting number two", "starting number one"),
    ("engine_order", {"start_order": "4 3 2 1", "aircraft": "four_engine"},
     {**SET, "engines_running": (4,)}, "starting number three", "starting number two"),
]  # fmt: skip


def broken(setting: dict, ramp: dict, station: str, text: str):
    """Give the interlocks that one call breaks, by their names in the messages."""
    plan = plan_of("push_back_tow_bar", 0)
    changes = {"start_order": None, "turn": None, **setting}
    run = DrillRun(
        plan.model_copy(
            update={
                "start": READY.model_copy(update=ramp),
                "setting": plan.setting.model_copy(update=changes),
            }
        )
    )
    events = run.hear(station, text, due=None)
    return {
        finding.message.split(":")[0].removeprefix("interlock ").replace(" ", "_"): finding
        for event in events
        if event.kind == "interlock"
        for finding in event.findings
    }


@pytest.mark.parametrize(("name", "setting", "holds", "breaks", "station", "text"), ROWS)
def test_an_interlock_is_broken_by_its_state_alone(name, setting, holds, breaks, station, text):
    kept = broken(setting, holds, station, text)
    found = broken(setting, {**holds, **breaks}, station, text)

    assert kept == {}
    assert name in found
    assert found[name].severity is Severity.CRITICAL
    assert text in found[name].message
    assert found[name].rule == RULES.interlocks[name].says
    assert found[name].source


@pytest.mark.parametrize(("name", "setting", "ramp", "right", "wrong"), WORDS)
def test_an_interlock_is_broken_by_the_engine_named(name, setting, ramp, right, wrong):
    assert broken(setting, ramp, "flight_deck", right) == {}
    assert name in broken(setting, ramp, "flight_deck", wrong)


def test_smoke_is_reported_with_the_number_of_the_engine():
    assert broken({}, SET, "headset", "smoke engine number two") == {}
    assert "hazard_names_engine" in broken({}, SET, "headset", "smoke")


def test_every_interlock_has_a_test_that_breaks_it():
    tested = {row[0] for row in (*ROWS, *WORDS)} | {"hazard_names_engine"}

    assert tested == set(RULES.interlocks)


def test_every_interlock_names_a_source_of_the_file_or_that_there_is_none():
    for interlock in RULES.interlocks.values():
        assert RULES.sources[interlock.source].document


@pytest.mark.parametrize("aircraft", ENGINES)
def test_all_engines_run_after_the_report_that_they_do(aircraft):
    plan = plan_of("push_back_tow_bar", 0)
    setting = plan.setting.model_copy(update={"aircraft": aircraft, "start_order": None})
    run = DrillRun(plan.model_copy(update={"start": READY, "setting": setting}))

    run.hear("flight_deck", "all engines running", due=None)

    assert sorted(run.ramp.engines_running) == list(range(1, ENGINES[aircraft] + 1))


BAD = [
    ("source: push_article", "source: hearsay", "no source is named 'hearsay'"),
    ("{push_approval: [given]}", "{push_aproval: [given]}", "is no field of RampState"),
    ("signals: [dispatch]", "signals: [wave]", "no signal 'wave' is known"),
    ("calls: [commencing_push]", "calls: [comencing_push]", "'comencing_push' is no call"),
    ("check: engine_order", "check: engine_ordr", "check: 'engine_ordr' is not allowed. Use "),
    ("set: {push_approval: given}", "set: {push_approval: hoped}", "'hoped' is not allowed. Use "),
    ("sources:", "sauces: {}\nsources:", "sauces: is no field here. Mend that field."),
]


@pytest.mark.parametrize(("old", "new", "message"), BAD)
def test_a_mistake_in_the_rules_of_the_ramp_is_told_with_its_line(tmp_path, old, new, message):
    from readback.data import data_directory

    text = (data_directory("grammars") / "rules" / "interlocks.yaml").read_text(encoding="utf-8")
    path = tmp_path / "interlocks.yaml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")

    with pytest.raises(GrammarError, match=message) as raised:
        read_ramp_rules(path)

    assert f"{path}, line " in str(raised.value)
