"""The state of the aircraft on the ramp, as its calls make it known."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Brakes = Literal["set", "released"]
Lamp = Literal["not seen", "set", "released"]
Link = Literal["away", "connected"]
HeadsetLink = Literal["none", "connected", "lost", "disconnected"]
Leave = Literal["none", "given", "held"]
PushMotion = Literal["none", "moving", "stopped", "complete"]


class RampState(BaseModel):
    """What is known of the aircraft and of what stands at it.

    The defaults are those of an aircraft parked at its stand with nothing attached.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    brakes: Brakes = "set"
    """As last told by word."""
    brake_lamp: Lamp = "not seen"
    """What the brake lamp was last said to show."""
    chocks: Literal["in", "out"] = "in"
    bypass_pin: Literal["installed", "removed"] = "removed"
    """The steering bypass pin of the nose gear."""
    pin_shown: bool = False
    """Whether the pin was shown to the flight deck after it was removed."""
    doors: Literal["open", "closed"] = "open"
    ground_power: Link = "away"
    air_start: Link = "away"
    tow_vehicle: Link = "away"
    tow_bar: Link = "away"
    """Stays away in a push without tow bar."""
    nose_lifted: bool = False
    """Whether a tow vehicle without tow bar holds the nose wheel."""
    headset_link: HeadsetLink = "none"
    beacon: Literal["off", "on"] = "off"
    push_approval: Leave = "none"
    """The controller's."""
    push_clearance: Leave = "none"
    """The flight deck's, given to the headset; ``held`` after HOLD THE PUSH."""
    push_direction: str = ""
    """Where the nose is to face; empty where nobody said it."""
    push_motion: PushMotion = "none"
    start_approval: Leave = "none"
    """The controller's."""
    start_clearance: Leave = "none"
    """The ground's; ``held`` after HOLD THE START."""
    engine_starting: int | None = Field(default=None, ge=1, le=4)
    """The engine being started; None between starts."""
    engines_running: tuple[int, ...] = ()
    """In the order in which they were started."""
    hazard: str = ""
    """``smoke``, ``flames``, ``fire`` ... until the flight deck has acted; else empty."""
    hazard_engine: int | None = Field(default=None, ge=1, le=4)
    thumbs_up: bool = True
    """False from the loss of the headset link until it is said to be restored."""
    signal_side: Literal["", "left", "right"] = ""
    """Where the visual signal was announced."""
    signal_given: bool = False
    """Whether the departure signal was given."""
    taxi_clearance: bool = False
    """The controller's."""


_WORDS: dict[str, str] = {
    "brakes": "brakes {}",
    "brake_lamp": "brake lamp {}",
    "chocks": "chocks {}",
    "bypass_pin": "bypass pin {}",
    "pin_shown": "pin shown: {}",
    "doors": "doors {}",
    "ground_power": "ground power {}",
    "air_start": "air start unit {}",
    "tow_vehicle": "tow vehicle {}",
    "tow_bar": "tow bar {}",
    "nose_lifted": "nose wheel lifted: {}",
    "headset_link": "headset {}",
    "beacon": "beacon {}",
    "push_approval": "controller's push-back approval: {}",
    "push_clearance": "flight deck's clearance to push: {}",
    "push_direction": "nose to face {}",
    "push_motion": "push: {}",
    "start_approval": "controller's start-up approval: {}",
    "start_clearance": "ground's clearance to start: {}",
    "engine_starting": "engine being started: {}",
    "engines_running": "engines running: {}",
    "hazard": "hazard: {}",
    "hazard_engine": "hazard at engine {}",
    "thumbs_up": "thumbs up: {}",
    "signal_side": "signal on the {}",
    "signal_given": "departure signal given: {}",
    "taxi_clearance": "taxi clearance given: {}",
}


def describe_ramp(state: RampState, before: RampState | None = None) -> tuple[str, ...]:
    """Say a state in words.

    Args:
        state: What is known now.
        before: Say only what is other than here; None says everything that is known.
    """
    return tuple(
        _WORDS[name].format(_in_words(getattr(state, name)))
        for name in RampState.model_fields
        if (before is None and getattr(state, name) not in ("", None))
        or (before is not None and getattr(state, name) != getattr(before, name))
    )


def _in_words(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(map(str, value)) or "none"
    return "none" if value in (None, "") else str(value)
