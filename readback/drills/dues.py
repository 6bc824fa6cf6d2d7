"""What is due in one run of a drill, in its order: the data of a plan."""

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict

from readback.drills.model import Seat, Setting, Station
from readback.drills.ramp import RampState


class Expected(BaseModel):
    """One call that is due, its values drawn."""

    model_config = ConfigDict(frozen=True)

    call: str
    values: Mapping[str, str] = {}
    free: tuple[str, ...] = ()
    """Elements of which any value is right."""
    instead: tuple[str, ...] = ()
    saying: str | None = None
    """Words of which one must be among the call's."""
    optional: bool = False

    def is_said_by(self, words: Iterable[str]) -> bool:
        """Tell whether a call of these words has one that it must have."""
        return self.saying is None or not set(self.saying.split()).isdisjoint(words)


class Due(BaseModel):
    """One transmission that is due."""

    model_config = ConfigDict(frozen=True)

    number: int
    """Its place in the plan, from 0."""
    step: str
    part: str
    """``call``, ``answer``, ``catch`` (of a wrong readback) or ``answer again``."""
    station: Station
    to: Station
    say: tuple[Expected, ...] = ()
    signal: str | None = None
    words: str | None = None
    """The words in which the program says it, where they matter."""
    callsign: str | None = None
    """On the radio whom it addresses or who speaks; None on the interphone."""
    within_s: float | None = None
    not_before_s: float | None = None
    optional: bool = False
    answers: int | None = None
    """The number of what it answers; None for a call."""
    faulty: bool = False
    """A wrong readback that the program plays."""
    fault: str = ""
    """What is wrong with it, in words."""
    put_right: str | None = None
    """The element that a catch has to put right; with it the rest may be left out."""
    ramp: Mapping[str, Any] = {}
    prompt: str | None = None
    why: str | None = None

    @property
    def is_answer(self) -> bool:
        """Tell whether it answers something."""
        return self.answers is not None

    @property
    def name(self) -> str:
        """The step in words: ``clear push``, ``clear push: answer``."""
        step = self.step.replace("_", " ")
        return step if self.part == "call" else f"{step}: {self.part}"


class Happening(BaseModel):
    """An event of the instructor, after the due before it."""

    model_config = ConfigDict(frozen=True)

    branch: str
    event: str
    announce: str
    after: int
    """The number of the due after which it happens."""
    ramp: Mapping[str, Any] = {}


class Plan(BaseModel):
    """One run of a drill, laid out."""

    model_config = ConfigDict(frozen=True)

    title: str
    seed: int
    seat: Seat
    callsign: str
    roster: tuple[str, ...]
    setting: Setting
    values: Mapping[str, str]
    start: RampState
    dues: tuple[Due, ...]
    happenings: tuple[Happening, ...]
    end_says: str
    end_ramp: Mapping[str, Any]
