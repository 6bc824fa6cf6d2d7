"""The table of drills in ``docs`` is fresh, and the catalogue has every situation that it must."""

from pathlib import Path

import pytest

from readback.drills.catalogue import main, render_catalogue
from readback.drills.files import find_drills, load_drill

PAGE = Path(__file__).parents[2] / "docs" / "drill_catalogue.md"
DRILLS = {name: load_drill(path) for name, path in find_drills().items()}


def test_the_page_is_made_from_the_drills_as_they_are():
    hint = "run python -m readback.drills.catalogue docs/drill_catalogue.md"

    assert PAGE.read_text(encoding="utf-8") == render_catalogue(DRILLS), hint


def test_the_page_can_be_written_anew(tmp_path):
    assert main([str(tmp_path / "page.md")]) == 0

    assert (tmp_path / "page.md").read_text(encoding="utf-8") == render_catalogue(DRILLS)


@pytest.mark.parametrize("name", DRILLS)
def test_each_drill_has_a_row_with_its_purpose_and_its_sources(name):
    page = PAGE.read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith(f"| `{name}` |")]

    assert len(rows) == 1
    assert DRILLS[name].purpose in rows[0]
    for source in DRILLS[name].sources.values():
        (row,) = [line for line in page.splitlines() if line.startswith(f"| {source} |")]
        assert f"`{name}`" in row


# Field of the setting and value, or event, that at least one drill must have.
SITUATIONS = [
    ("aircraft", "twin_narrow"),
    ("aircraft", "twin_wide"),
    ("aircraft", "four_engine"),
    ("weather", "rain"),
    ("weather", "snow"),
    ("weather", "extreme_cold"),
    ("tow_bar", True),
    ("tow_bar", False),
    ("headset", "wired"),
    ("headset", "wireless"),
    ("headset", "none"),
    ("slope", "downhill"),
    ("nearby", ("terminal_behind",)),
    ("nearby", ("loading_beside", "refuelling_beside")),
    ("authority", "icao"),
    ("authority", "easa"),
    ("authority", "faa"),
    ("authority", "uk"),
]
EVENTS = [
    "cable_loose",
    "engine_fire",
    "obstacle",
    "inbound_aircraft",
    "amended_instruction",
    "faulty_readback",
]


@pytest.mark.parametrize(("field", "value"), SITUATIONS)
def test_each_setting_is_trained(field, value):
    assert any(getattr(drill.setting, field) == value for drill in DRILLS.values())


@pytest.mark.parametrize("event", EVENTS)
def test_each_event_is_trained(event):
    branches = [branch for drill in DRILLS.values() for branch in drill.branches.values()]

    assert any(branch.event == event for branch in branches)


@pytest.mark.parametrize(
    "seat", ["flight_deck", "headset", "controller", "tow_driver", "instructor"]
)
def test_each_seat_has_a_drill(seat):
    assert any(seat in drill.seats for drill in DRILLS.values())


def test_only_the_fictional_operators_and_vehicles_take_part():
    names = {
        callsign.rpartition(" ")[0]
        for drill in DRILLS.values()
        for callsign in drill.roster
        if not callsign.startswith("$")
    }

    assert names == {"LARKSPUR", "NORTHGATE", "BLUEFIN", "TUG"}
