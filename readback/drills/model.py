"""What a drill file holds (``grammars/drills/*.yaml``): a scripted exchange of stations."""

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from readback.drills.ramp import RampState
from readback.judging.rule_model import Source

Station = Literal[
    "flight_deck",
    "headset",
    "controller",
    "tow_driver",
    "wing_walker",
    "other_aircraft",
    "instructor",
]
Seat = Literal["flight_deck", "headset", "controller", "tow_driver", "instructor"]
AircraftClass = Literal["twin_narrow", "twin_wide", "four_engine"]
Weather = Literal["dry", "rain", "snow", "ice", "extreme_cold"]
Authority = Literal["icao", "easa", "faa", "uk"]
EventKind = Literal[
    "cable_loose",
    "engine_fire",
    "obstacle",
    "inbound_aircraft",
    "amended_instruction",
    "faulty_readback",
    "weather_change",
    "other",
]
Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,39}$")]
Text = Annotated[str, StringConstraints(min_length=1, max_length=600)]
Value = Annotated[str, StringConstraints(min_length=1, max_length=60)]
"""As a chart writes it (``27L``, ``A B C1``, ``released``), or ``$name`` of one of ``values``."""
Seconds = Annotated[float, Field(gt=0, le=600)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Setting(_Part):
    """Where and with what the drill is flown."""

    aircraft: AircraftClass
    stand: Value
    weather: Weather = "dry"
    tow_bar: bool = True
    """False: a tow vehicle that lifts the nose wheel."""
    headset: Literal["wired", "wireless", "none"] = "wired"
    slope: Literal["level", "downhill", "uphill"] = "level"
    nearby: tuple[Literal["terminal_behind", "loading_beside", "refuelling_beside"], ...] = ()
    """What jet blast or an engine start at the stand would reach."""
    turn: Value | None = None
    """``left`` or ``right`` as the flight deck sees it: the side of the first turn, on which the
    departure signal is given; None where the side does not matter."""
    start_order: Value | None = None
    """Engines in the order in which they are started (``2 1``); None: any order of the class."""
    authority: Authority = "icao"


class DrillValue(_Part):
    """One value that several steps share: fixed, or drawn when the drill is started.

    Exactly one of ``value``, ``one_of``, ``between`` and ``any`` is given.
    """

    element: Name
    """The grammar's element: ``runway``, ``facing``; ``callsign`` for a callsign."""
    value: Value | None = None
    one_of: tuple[Value, ...] = ()
    between: tuple[int, int] | None = None
    """Whole numbers, both ends included."""
    any: bool = False
    """Any value that the element can have."""
    unlike: tuple[Name, ...] = ()
    """Names of values from which it must differ."""

    @model_validator(mode="after")
    def _one_way(self) -> "DrillValue":
        given = (self.value is not None, bool(self.one_of), self.between is not None, self.any)
        if sum(given) != 1:
            raise ValueError("needs exactly one of value, one_of, between, any: true")
        if self.between and self.between[0] > self.between[1]:
            raise ValueError("between needs the smaller number first")
        return self


class SaidCall(_Part):
    """One call to be said."""

    call: Name
    """The grammar's call."""
    values: Mapping[Name, Value] = Field(default_factory=dict, alias="with")
    """Element to value; no others may be said."""
    free: tuple[Name, ...] = ()
    """Elements of which any value is right; the program says the given one."""
    instead: tuple[Name, ...] = Field(default=(), alias="or")
    """Calls that do as well, with the same values."""
    saying: Annotated[str, StringConstraints(pattern=r"^[a-z]+( [a-z]+)*$")] | None = None
    """A word that must be among the call's, where one call says several things: ``push`` or
    ``taxi`` of a request; of several words (``off out``) one."""
    optional: bool = False
    """May be left out, but must be right if said."""


class Fault(_Part):
    """A wrong readback played by the program, for the one who asked to catch.

    Played only where another than the trainee answers.
    """

    call: Name
    """Call of the answer that is wrong."""
    element: Name | None = None
    """Its element; None: the whole call is left out."""
    value: Value | None = None
    """What is said instead; None: it is left out."""
    catch_by: Station | None = None
    """Who has to catch it; None: the one who asked."""
    catch: tuple[SaidCall, ...] = ()
    """How it is put right; empty: NEGATIVE, I SAY AGAIN and the calls of the step."""
    within_s: Seconds = 10


class Answer(_Part):
    """The answer due to a step, judged as a readback of what was said."""

    station: Station = Field(alias="from")
    say: tuple[SaidCall, ...] = ()
    """What must be said beside the readback, and what the program says; empty: the same again."""
    signal: Name | None = None
    """A hand signal instead of words (``grammars/hand_signals.yaml``)."""
    within_s: Seconds = 10
    fault: Fault | None = None
    prompt: Text | None = None
    """What the trainee in that seat is told; None: nothing, as the answer follows from the call."""


class Step(_Part):
    """One thing said or shown, and the answer due to it."""

    id: Name
    station: Station = Field(alias="from")
    to: Station
    """With the controller on either end the callsign is due."""
    say: tuple[SaidCall, ...] = ()
    signal: Name | None = None
    """A hand signal instead of words (``grammars/hand_signals.yaml``)."""
    words: Text | None = None
    """The words in which the program says it, where they matter: ``taxi via alfa, correction,
    via bravo``; must parse to ``say``."""
    callsign: Value | None = None
    """Whom the controller addresses, or who calls; None: the drill's own."""
    within_s: Seconds | None = None
    """How long after what came before; None: as long as it takes."""
    not_before_s: Seconds | None = None
    """How long to wait after what came before."""
    optional: bool = False
    ramp: RampState = Field(default_factory=RampState)
    """What changes when it is done beside what its calls change: only the fields that are written
    count."""
    prompt: Text | None = None
    """What the trainee in that seat is told; None: said from the calls."""
    why: Text | None = None
    """Shown with a finding at this step."""
    answer: Answer | None = None

    @model_validator(mode="after")
    def _said_or_shown(self) -> "Step":
        if bool(self.say) == bool(self.signal):
            raise ValueError("needs either say or signal")
        return self


class Branch(_Part):
    """An event of the instructor and what it calls for."""

    event: EventKind
    at: tuple[Name, ...] = Field(min_length=1)
    """Steps after which it may happen; one is drawn."""
    announce: Text
    """What is told to both seats; ``$name`` stands for a value."""
    chance: Annotated[float, Field(ge=0, le=1)] = 1
    """How often it happens; not at all in the other drills."""
    ramp: RampState = Field(default_factory=RampState)
    """What it changes in the state of the aircraft: only the fields that are written count."""
    steps: tuple[Step, ...] = ()
    then: Name | Literal["resume", "end"] = "resume"
    """``resume``: go on where it happened; ``end``; or the step to go on with."""


class End(_Part):
    """What ends the drill."""

    says: Text
    """In one sentence."""
    ramp: RampState = Field(default_factory=RampState)
    """How the aircraft must stand then: only the fields that are written count."""


class Drill(_Part):
    """One drill file."""

    title: Text
    purpose: Text
    sources: Mapping[Name, Source] = Field(min_length=1)
    """Where its words and its order are published."""
    setting: Setting
    callsign: Value
    """The own aircraft's or vehicle's, of the roster."""
    roster: tuple[Value, ...] = Field(min_length=1)
    """Callsigns on the frequency; fictional."""
    stations: Mapping[Station, Text] = Field(min_length=2)
    """Who takes part, each with its name in words."""
    seats: tuple[Seat, ...] = Field(min_length=1)
    """Seats a trainee can take; the first unless another is asked for."""
    values: Mapping[Name, DrillValue] = Field(default_factory=dict)
    start: RampState = Field(default_factory=RampState)
    """How the aircraft stands at the start; the rest as parked with nothing attached."""
    steps: tuple[Step, ...] = Field(min_length=1)
    branches: Mapping[Name, Branch] = Field(default_factory=dict)
    end: End
