"""What a rules file holds: rules, reasons for silence, wordings, each with its source."""

from collections.abc import Mapping
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from readback.judging.model import Severity
from readback.phraseology.words import DIGIT_WORD, canonical_words

_ANY_DIGIT = "<digit>"

Answer = Literal["readback", "acknowledge", "reply", "none"]
Need = Literal["required", "optional", "free"]
WordingStatus = Literal["accepted", "tolerated", "wrong"]


class Source(BaseModel):
    """Where a rule is published."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    document: str = Field(min_length=1)
    """With edition: ``ICAO Doc 4444 (PANS-ATM), 16th edition 2016``."""
    paragraph: str = ""
    seen: Literal["seen", "seen (quoted)", "from memory", "no source"]

    def __str__(self) -> str:
        if self.seen == "no source":
            return self.document
        paragraph = f", {self.paragraph}" if self.paragraph else ""
        return f"{self.document}{paragraph} ({self.seen})"


class CallRule(BaseModel):
    """What one call wants for an answer."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    answer: Answer
    """``readback``: the same comes back. ``acknowledge``: a readback or a word such as ROGER.
    ``reply``: one of ``answered_by``. ``none``: nothing is due."""
    answered_by: tuple[str, ...] = ()
    """Calls that answer it beside the same call."""
    echo: bool = True
    """Whether the same call answers it."""
    acknowledged_by: tuple[str, ...] = ("roger", "wilco", "affirm", "okay", "callsign")
    """Calls that acknowledge it, where ``answer`` is ``acknowledge``. With ``callsign`` among them
    the callsign alone, or an answer to the rest, is enough."""
    elements: Mapping[str, Need] = Field(default_factory=dict)
    """``required``: must come back. ``optional``: may be left out, not added. ``free``: either.
    What is said must always agree."""
    reply_elements: tuple[str, ...] = ()
    """Elements that the answering call must carry of its own."""
    carried_by: tuple[str, ...] = ()
    """Calls of a single element that may bring it apart from the verb: a bare runway."""
    stands_for: tuple[str, ...] = ()
    """Calls that it is judged as."""
    severity: Severity = Severity.REQUIRED
    unissued: Severity | None = None
    """How it weighs in a readback where it was not instructed; None: it does not."""
    standard: str | None = None
    """The published words for it: elements in round brackets, what may be left out in square ones;
    None where none are known."""
    standard_answer: str | None = None
    """The authority's words for the answer, likewise."""
    says: str = Field(min_length=1)
    """The rule in one sentence."""
    source: str
    """Key of the file's ``sources``."""


class Silence(BaseModel):
    """Calls that want no answer and may be said freely."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    calls: tuple[str, ...]
    says: str = Field(min_length=1)
    """Why, in one sentence."""
    source: str
    """Key of the file's ``sources``."""


class Wording(BaseModel):
    """One way of saying, and what an authority holds of it; never part of the verdict."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    words: str = Field(min_length=1)
    """Canonical words, one blank between, to be found in a transmission: ``position and hold``. In
    a file ``<digit>`` stands for any digit; in a rule book it is written out."""
    status: WordingStatus
    """``accepted``: as good as the standard, no remark. ``tolerated``: understood, not standard.
    ``wrong``: not to be said."""
    offer: str | None = None
    """The standard words to say instead, in capitals; None where nothing replaces them."""
    says: str = Field(min_length=1)
    """Why, in one sentence."""
    source: str
    """Key of the file's ``sources``; in a rule book the source itself."""
    where: Literal["any", "instruction", "readback"] = "any"
    """In which side's transmission it counts."""
    family: Literal["ground_control", "interphone"] | None = None
    """On the radio or on the interphone only; None: on both."""

    @field_validator("words")
    @classmethod
    def _canonical(cls, words: str) -> str:
        said = words.replace(_ANY_DIGIT, "zero")
        canonical = " ".join(word for part in said.split() for word in canonical_words(part))
        if canonical != said:
            raise ValueError(f"write the words as the grammar has them: {canonical!r}")
        return words


class RuleFile(BaseModel):
    """One rules file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    authority: str
    title: str
    base: str | None = None
    """Rules file that these rules change; theirs count where these say nothing."""
    sources: Mapping[str, Source] = Field(default_factory=dict)
    calls: Mapping[str, CallRule] = Field(default_factory=dict)
    also_in: Mapping[str, tuple[str, ...]] = Field(default_factory=dict)
    """Key of ``sources`` to calls of the base whose rules this authority publishes there."""
    silent: tuple[Silence, ...] = ()
    wording: tuple[Wording, ...] = ()


def written_out(words: str) -> list[str]:
    """Write a wording once for each digit that ``<digit>`` may stand for."""
    if _ANY_DIGIT not in words:
        return [words]
    return [
        ending
        for digit in DIGIT_WORD.values()
        for ending in written_out(words.replace(_ANY_DIGIT, digit, 1))
    ]
