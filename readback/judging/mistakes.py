"""The kinds of mistakes in readbacks, each planted alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from readback.judging import altered
from readback.judging.drafts import Draft, Planted
from readback.judging.planting import (
    Alter,
    Plant,
    acknowledge,
    add_clearance,
    alter_value,
    drop_call,
    drop_element,
    no_callsign,
    other_callsign,
    say_instead,
)
from readback.judging.scenarios import Wanted


class ErrorKind(StrEnum):
    """What can be wrong with a readback."""

    RUNWAY_DIGIT = "wrong runway digit"
    RUNWAY_SIDE = "wrong runway side"
    RUNWAY_SIDE_LEFT_OUT = "runway side left out"
    CROSS_FOR_HOLD_SHORT = "cross for hold short"
    HOLD_SHORT_FOR_CROSS = "hold short for cross"
    DROPPED_HOLD_SHORT = "hold short dropped"
    DROPPED_CROSSING = "crossing dropped"
    DROPPED_LINE_UP = "line-up dropped"
    DROPPED_CONDITION = "condition dropped"
    DROPPED_SETTING = "frequency, code or setting dropped"
    DROPPED_INSTRUCTION = "another instruction dropped"
    DROPPED_ELEMENT = "required element dropped"
    ROUTE_TAXIWAY = "wrong taxiway in the route"
    ROUTE_SWAPPED = "taxiways swapped"
    ROUTE_SHORTENED = "taxiway dropped from the route"
    TAXIWAY = "wrong taxiway"
    HOLDING_POINT = "wrong holding point"
    STAND = "wrong stand or hangar"
    PLACE = "wrong place or turn"
    FREQUENCY = "wrong frequency digit"
    UNIT = "wrong unit"
    QNH = "wrong altimeter setting"
    SQUAWK = "wrong squawk"
    TIME = "wrong time"
    INFORMATION = "wrong letter or number"
    CLEARANCE = "wrong route clearance"
    TRAFFIC = "wrong traffic"
    WRONG_CALLSIGN = "wrong callsign"
    NO_CALLSIGN = "callsign missing"
    ACKNOWLEDGED = "acknowledged instead of read back"
    UNISSUED = "clearance added that was not issued"
    ENGINE = "wrong engine"
    SEQUENCE = "start sequence swapped"
    BRAKES = "wrong brake state"
    PIN = "wrong pin state"
    STATE = "wrong state of chocks, doors or power"
    PUSH_DIRECTION = "wrong push direction"
    SIDE = "wrong side or direction"
    HAZARD = "wrong hazard"


@dataclass(frozen=True)
class _Mistake:
    plant: Plant
    needs: frozenset[str] = frozenset()
    """Elements or calls of which the instruction must have one; empty where any will do."""


def plant(kind: ErrorKind, draft: Draft) -> Planted | None:
    """Draw a readback with exactly one error.

    Args:
        kind: What is to be wrong.
        draft: The instruction, and whose rules count.

    Returns:
        None where that instruction gives no room for such an error, or it would be none.
    """
    return _MISTAKES[kind].plant(draft)


def may_hold(kind: ErrorKind, wanted: Wanted) -> bool:
    """Tell from the calls of an instruction whether an error of a kind may fit."""
    needs = _MISTAKES[kind].needs
    return not needs or any(
        call in needs or not needs.isdisjoint(elements) for call, elements in wanted
    )


def _wrong(elements: str, alter: Alter) -> _Mistake:
    names = frozenset(elements.split())
    return _Mistake(alter_value(names, alter), names)


def _dropped(calls: str) -> _Mistake:
    names = frozenset(calls.split())
    return _Mistake(drop_call(names), names)


_SETTINGS = "contact monitor qnh altimeter squawk"
_DROPPED_BY_NAME = frozenset(f"hold_short cross line_up condition {_SETTINGS}".split())
_MISTAKES: Mapping[ErrorKind, _Mistake] = {
    ErrorKind.RUNWAY_DIGIT: _wrong("runway", altered.other_digit),
    ErrorKind.RUNWAY_SIDE: _wrong("runway", altered.another_side),
    ErrorKind.RUNWAY_SIDE_LEFT_OUT: _wrong("runway", altered.without_side),
    ErrorKind.CROSS_FOR_HOLD_SHORT: _Mistake(
        say_instead("hold_short", "cross"), frozenset({"hold_short"})
    ),
    ErrorKind.HOLD_SHORT_FOR_CROSS: _Mistake(
        say_instead("cross", "hold_short"), frozenset({"cross"})
    ),
    ErrorKind.DROPPED_HOLD_SHORT: _dropped("hold_short"),
    ErrorKind.DROPPED_CROSSING: _dropped("cross"),
    ErrorKind.DROPPED_LINE_UP: _dropped("line_up"),
    ErrorKind.DROPPED_CONDITION: _dropped("condition"),
    ErrorKind.DROPPED_SETTING: _dropped(_SETTINGS),
    ErrorKind.DROPPED_INSTRUCTION: _Mistake(drop_call(_DROPPED_BY_NAME, others=True)),
    ErrorKind.DROPPED_ELEMENT: _Mistake(drop_element),
    ErrorKind.ROUTE_TAXIWAY: _wrong("route", altered.another_taxiway),
    ErrorKind.ROUTE_SWAPPED: _wrong("route", altered.swapped),
    ErrorKind.ROUTE_SHORTENED: _wrong("route", altered.shortened),
    ErrorKind.TAXIWAY: _wrong("taxiway intersection crossing_point exit", altered.another_value),
    ErrorKind.HOLDING_POINT: _wrong("holding_point", altered.another_value),
    ErrorKind.STAND: _wrong("stand origin_stand hangar origin_hangar", altered.another_value),
    ErrorKind.PLACE: _wrong("place turn", altered.another_value),
    ErrorKind.FREQUENCY: _wrong("frequency", altered.other_digit),
    ErrorKind.UNIT: _wrong("unit", altered.another_value),
    ErrorKind.QNH: _wrong("qnh altimeter", altered.other_digit),
    ErrorKind.SQUAWK: _wrong("squawk", altered.other_digit),
    ErrorKind.TIME: _wrong("time minutes", altered.another_value),
    ErrorKind.INFORMATION: _wrong("information_letter place_in_line", altered.another_value),
    ErrorKind.CLEARANCE: _wrong("destination airway departure", altered.another_value),
    ErrorKind.TRAFFIC: _wrong("traffic", altered.another_value),
    ErrorKind.WRONG_CALLSIGN: _Mistake(other_callsign(altered.misheard_callsign)),
    ErrorKind.NO_CALLSIGN: _Mistake(no_callsign),
    ErrorKind.ACKNOWLEDGED: _Mistake(acknowledge),
    ErrorKind.UNISSUED: _Mistake(add_clearance),
    ErrorKind.ENGINE: _wrong("engine", altered.another_value),
    ErrorKind.SEQUENCE: _wrong("engine_sequence", altered.swapped),
    ErrorKind.BRAKES: _wrong("brake_state", altered.another_value),
    ErrorKind.PIN: _wrong("pin_state", altered.another_value),
    ErrorKind.STATE: _wrong("chock_state door_state link_state", altered.another_value),
    ErrorKind.PUSH_DIRECTION: _wrong("facing tail", altered.another_value),
    ErrorKind.SIDE: _wrong("side direction", altered.another_value),
    ErrorKind.HAZARD: _wrong("hazard stop_reason", altered.another_value),
}
