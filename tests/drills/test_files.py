"""Drill files: the catalogue loads, its schema is fresh, a mistake is told in one line."""

import json
from pathlib import Path

import pytest

from readback.drills.files import find_drills, load_drill
from readback.drills.schema import drill_schema
from readback.errors import GrammarError

ROOT = Path(__file__).parents[2]
FIRST = find_drills()["push_back_tow_bar"].read_text(encoding="utf-8")


@pytest.mark.parametrize("name", find_drills())
def test_each_drill_of_the_catalogue_loads(name):
    drill = load_drill(find_drills()[name])

    assert drill.title
    assert set(drill.seats) <= set(drill.stations)


def test_the_schema_in_docs_is_that_of_the_model():
    written = json.loads((ROOT / "docs" / "drill.schema.json").read_text(encoding="utf-8"))

    assert written == drill_schema(), "run python -m readback.drills.schema docs/drill.schema.json"


MISTAKES = [
    ("aircraft: twin_narrow", "aircraft: biplane", "setting.aircraft", "'twin_wide'"),
    ("  stand:", "  gate: 5\n  stand:", "setting.gate", "aircraft, stand, weather"),
    ("call: request", "call: requests", "steps.2.say.0.call", "docs/phraseology.md"),
    (
        "brake_state: released",
        "brake_state: loose",
        "with.brake_state",
        "Use one of released, set.",
    ),
    ("{pin_state: installed}", '{engine: "1"}', "with.engine", "It carries pin_state."),
    ("facing: $nose", "facing: $turn", "with.facing", "Name one that is a value of facing."),
    ("facing: $nose", "facing: $tail", "with.facing", "Known here: nose, turn."),
    ("from: headset", "from: tower", "steps.0.from", "'flight_deck'"),
    ("id: pin_in", "id: check_headset", "steps.1.id", "Rename one."),
    ("start_order: 2 1", "start_order: one two", "setting.start_order", "Write one like '2 1'."),
    ("turn: $turn", "turn: up", "setting.turn", "Use one of left, right."),
    ("turn: $turn", "turn: $nose", "setting.turn", "Name one that is a value of side."),
    ("callsign: LARKSPUR 421", "callsign: LARKSPUR 4", "callsign", "The roster has LARKSPUR 421"),
    ('ramp: {beacon: "on"}', "ramp: {beacon: dim}", "ramp.beacon", "'off' or 'on'"),
    ('ramp: {beacon: "on"}', 'ramp: {beakon: "on"}', "ramp.beakon", "brakes, brake_lamp"),
    ("seats: [headset, flight_deck]", "seats: []", "seats: is empty", "Give at least one."),
    ("seats: [headset", "seats: [instructor", "seats.0", "flight_deck, headset, controller"),
]


@pytest.mark.parametrize(("old", "new", "place", "allowed"), MISTAKES)
def test_a_mistake_is_told_with_file_line_field_and_what_is_allowed(
    tmp_path, old, new, place, allowed
):
    assert old in FIRST
    text = FIRST.replace(old, new, 1)
    path = tmp_path / "drill.yaml"
    path.write_text(text, encoding="utf-8")
    line = FIRST[: FIRST.index(old)].count("\n") + 1

    with pytest.raises(GrammarError) as raised:
        load_drill(path)

    message = str(raised.value)
    assert message.startswith(f"{path}, line {line}: ")
    assert place in message
    assert allowed in message
    assert "\n" not in message


def test_a_file_of_a_billion_laughs_is_refused(tmp_path):
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    path = tmp_path / "laughs.yaml"
    path.write_text("\n".join(rows), encoding="utf-8")

    with pytest.raises(GrammarError, match="stands for more than"):
        load_drill(path)
