"""A small drill of the radio."""

import pytest

from readback.drills.engine import DrillRun
from readback.drills.files import load_drill
from readback.drills.plan import make_plan
from readback.phraseology.grammar import load_grammar

HEAD = """\
title: A small drill
purpose: For this test.
sources: {practice: {document: "common practice, no source", seen: no source}}
setting: {aircraft: twin_narrow, stand: "24"}
callsign: LARKSPUR 421
roster: [LARKSPUR 421, NORTHGATE 421]
stations: {flight_deck: flight deck, headset: headset, controller: Port Ellery ground}
seats: [controller, flight_deck]
values:
  runway: {element: runway, value: 27L}
  wrong: {element: runway, value: 27R}
end: {says: That is all.}
"""
HOLD = """\
steps:
  - id: hold
    from: controller
    to: flight_deck
    say: [{call: hold_short, with: {runway: $runway}}]
    within_s: 20
    not_before_s: 2
    answer:
      from: flight_deck
      within_s: 5
      fault: {call: hold_short, element: runway, value: $wrong}
  - id: cross
    from: controller
    to: flight_deck
    say: [{call: cross, with: {runway: $runway}}]
    answer: {from: flight_deck}
"""


@pytest.fixture
def run_of(tmp_path):
    def make(steps: str = HOLD, seat: str = "flight_deck", **options) -> DrillRun:
        path = tmp_path / "drill.yaml"
        path.write_text(HEAD + steps, encoding="utf-8")
        return DrillRun(make_plan(load_drill(path), load_grammar(), seat=seat), **options)

    return make
