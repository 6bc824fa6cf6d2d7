"""What a transmission says, once parsed: calls that carry elements."""

from pydantic import BaseModel, ConfigDict, Field

from readback.transmission import Word

Span = tuple[int, int]
"""[start, end) in words of the transmission."""


class Element(BaseModel):
    """One value that a call carries."""

    model_config = ConfigDict(frozen=True)

    name: str
    """The grammar's rule: ``runway``, ``engine``."""
    kind: str
    """How its value is read and compared: ``taxiway`` for an ``exit``."""
    value: str
    """As a chart writes it: ``27L``, ``118.700``, ``A B C1``."""
    span: Span
    certainty: float | None = Field(default=None, ge=0, le=1)
    """Of its least certain word; None for typed words."""
    doubtful: bool = False
    """True where a word was repaired and another value is as near: not to be judged."""


class Call(BaseModel):
    """One thing said: an instruction, an answer, a state, a callsign."""

    model_config = ConfigDict(frozen=True)

    name: str
    """The grammar's rule: ``hold_short``."""
    family: str
    """The grammar it stands in: ``ground_control``, ``interphone``."""
    span: Span
    elements: tuple[Element, ...] = ()
    certainty: float | None = Field(default=None, ge=0, le=1)
    """Of its least certain word; None for typed words."""

    def element(self, name: str) -> Element | None:
        """Find the element of that name, None where the call does not carry it."""
        for element in self.elements:
            if element.name == name:
                return element
        return None


class Repair(BaseModel):
    """A word that the grammar does not know, taken for one that it does."""

    model_config = ConfigDict(frozen=True)

    span: Span
    said: str
    taken_as: str


class Slip(BaseModel):
    """Words that the speaker took back himself."""

    model_config = ConfigDict(frozen=True)

    span: Span
    """The words taken back and the word that did so."""
    said: str


class Reading(BaseModel):
    """One transmission, parsed."""

    model_config = ConfigDict(frozen=True)

    text: str
    calls: tuple[Call, ...] = ()
    words: tuple[Word, ...] = ()
    unparsed: tuple[Span, ...] = ()
    """Runs of words that belong to no call."""
    repairs: tuple[Repair, ...] = ()
    slips: tuple[Slip, ...] = ()
