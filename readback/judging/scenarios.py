"""Instructions that go together, as a controller or a headset would give them in one breath."""

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from readback.phraseology.generator import element_sets
from readback.phraseology.grammar import Grammar
from readback.phraseology.samples import random_value
from readback.phraseology.values import KINDS, same_value

Values = dict[str, str]


@dataclass(frozen=True)
class Part:
    """One call to be said, with its values."""

    call: str
    values: Values = field(default_factory=dict)
    answers: int | None = None
    """Index of the instructed part that it answers; None in an instruction or for a bare word."""


Wanted = tuple[tuple[str, tuple[str, ...]], ...]
"""Calls with the elements that they are to carry."""

# Common practice of ground movement and of the ramp; no source prints these lists.
_RADIO = """
start_up qnh(qnh)
start_up_at(time) qnh(qnh)
expect_start_up(time)
expect_departure(time) start_up qnh(qnh)
push_back push_direction(facing)
push_back push_direction(tail)
push_back push_onto(taxiway) push_direction(facing)
push_and_start push_direction(facing) qnh(qnh)
push_and_start push_onto(taxiway)
push_back give_way(traffic)
push_back_stand_by expect_delay(minutes traffic)
push_back_stand_by expect_delay(minutes)
taxi(holding_point route) hold_short(runway)
taxi(holding_point route) runway(runway) qnh(qnh)
taxi(holding_point) runway(runway) qnh(qnh) time(time)
taxi(holding_point) give_way(traffic) qnh(qnh)
taxi(stand) taxi(route)
taxi(stand) taxi(route) cross(runway)
taxi(place) taxi(route) hold_short(runway)
taxi(hangar)
taxi(origin_stand hangar)
runway(runway) taxi(route) hold_short(runway)
runway(runway) taxi(route) cross(runway)
taxi(route) cross(runway) hold_short(runway)
taxi(route) hold_short(taxiway)
taxi(route) hold_short(holding_point)
taxi(route) follow(traffic)
taxi(route) expedite
slow caution
hold_short(runway)
hold_short(runway) hold_short(runway)
hold_short(runway intersection)
hold_short(holding_point runway)
hold_short(taxiway) give_way(traffic)
hold_short(runway) contact(unit frequency)
cross(runway) report
cross(runway crossing_point)
cross(runway) hold_short(runway)
cross(runway) taxi(route)
cross(runway) expedite
cross(runway) contact(unit frequency)
hold_position
hold_position expect_delay(minutes)
hold_position(direction stand)
hold_position(direction taxiway)
line_up(runway)
line_up(runway intersection)
line_up(runway) be_ready
condition(traffic) line_up(runway)
condition(traffic) taxi(holding_point)
condition(traffic) cross(runway)
number_in_line(place_in_line) line_up(runway)
backtrack(runway) line_up
enter_runway(runway) backtrack
enter_runway(runway intersection)
take_off(runway)
cancel_take_off hold_position
land(runway)
stop
vacate(exit) contact(unit frequency)
vacate(runway exit)
vacate(turn) contact(unit frequency)
vacate(turn) taxi(stand)
contact(unit frequency)
contact(frequency)
monitor(unit frequency)
information(information_letter) qnh(qnh)
altimeter(altimeter)
squawk(squawk)
route_clearance(destination airway departure) squawk(squawk)
route_clearance(destination departure) squawk(squawk)
tow_approved taxi(origin_hangar stand) taxi(route)
tow_approved taxi(stand) hold_short(runway)
ready_question
vacated_question
report
radio_check(frequency)
"""
_INTERPHONE = """
headset_check
chocks(chock_state) doors(door_state)
ground_power(link_state) air_start(link_state)
walk_round doors(door_state)
bypass_pin(pin_state)
bypass_pin(pin_state) brakes_order(brake_state)
tow_vehicle(link_state) bypass_pin(pin_state)
nose_lifted
ready_for_push
which_direction
brakes_order(brake_state)
brakes(brake_state)
brakes(brake_state) push_clearance(facing)
push_clearance(facing)
push_clearance(tail)
hold_push
slow_push
stop_push
stop_push(stop_reason)
push_complete brakes_order(brake_state)
ready_to_start
start_clearance(engine)
starting_engine(engine)
start_sequence(engine_sequence)
start_clearance start_sequence(engine_sequence)
hold_start
engine_hazard(engine hazard)
start_abandoned(engine)
engine_stable(engine) start_clearance(engine)
engines_started disconnect
disconnect
disconnect show_pin
show_pin
visual(side)
communication_lost
communication_restored
"""
_SPEC = re.compile(r"(\w+)(?:\(([^)]*)\))?")
_NOT_INSTRUCTED = frozenset({"callsign", "acknowledge", "read_back", "confirm", "cancel"})
"""Calls that address, or that ask about what was said before."""


def list_scenarios(grammar: Grammar, calls_to_cover: Sequence[str]) -> tuple[Wanted, ...]:
    """List what can be instructed together: the usual combinations, then every call alone.

    Args:
        grammar: The calls; combinations with one that it lacks are left out.
        calls_to_cover: Calls to be instructed alone, with each set of elements they can carry.
    """
    usual = [_read(line) for text in (_RADIO, _INTERPHONE) for line in text.split("\n") if line]
    known = [
        wanted
        for wanted in usual
        if all(
            call in grammar.calls and tuple(sorted(elements)) in element_sets(grammar, call)
            for call, elements in wanted
        )
    ]
    alone = [
        ((call, elements),)
        for call in calls_to_cover
        if call not in _NOT_INSTRUCTED
        for elements in element_sets(grammar, call)
    ]
    return tuple(dict.fromkeys([*known, *alone]))


def _read(line: str) -> Wanted:
    return tuple((call, tuple(elements.split())) for call, elements in _SPEC.findall(line))


def draw_parts(wanted: Wanted, grammar: Grammar, rng: random.Random) -> tuple[Part, ...]:
    """Draw values for calls that go together; no two of a kind are the same."""
    parts: list[Part] = []
    for call, elements in wanted:
        values: Values = {}
        for name in elements:
            values[name] = draw_other(grammar, name, [*parts, Part(call, values)], rng)
        if "facing" in values and "tail" in values:
            values["tail"] = _OPPOSITE[values["facing"]]
        parts.append(Part(call, values))
    return tuple(parts)


_OPPOSITE = {
    "north": "south", "south": "north", "east": "west", "west": "east", "left": "right",
    "right": "left", "north east": "south west", "south west": "north east",
    "north west": "south east", "south east": "north west",
}  # fmt: skip


def draw_other(grammar: Grammar, name: str, parts: Sequence[Part], rng: random.Random) -> str:
    """Draw a value of an element that none of the parts has for an element of that kind."""
    kind = grammar.kind_of(name)
    taken = [
        value
        for part in parts
        for other, value in part.values.items()
        if grammar.kind_of(other) == kind
    ]
    for _ in range(100):
        value = random_value(grammar, name, rng)
        if not any(alike(kind, value, other) for other in taken):
            return value
    return value


def alike(kind: str, a: str, b: str) -> bool:
    """Tell whether two values are one, or one part of the other, as a route's part is."""
    if kind in ("route", "taxiway"):
        return bool(set(a.split()) & set(b.split()))
    if kind == "time":
        # The hour may be left out.
        return a[-2:] == b[-2:]
    return a == b or (kind in KINDS and same_value(kind, a, b))
