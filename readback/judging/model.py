"""Findings and the verdict."""

from enum import StrEnum

from pydantic import BaseModel, ConfigDict, Field

from readback.phraseology.model import Call, Reading, Span
from readback.transmission import Word


class Outcome(StrEnum):
    """The verdict in one word."""

    CORRECT = "correct"
    INCORRECT = "incorrect"
    INCOMPLETE = "incomplete"
    SAY_AGAIN = "say again"


class Status(StrEnum):
    """What became of one element."""

    CORRECT = "correct"
    WRONG = "wrong"
    MISSING = "missing"
    NOT_ISSUED = "not issued"
    NOT_CERTAIN = "not certain"


class Severity(StrEnum):
    """How much a finding weighs."""

    CRITICAL = "critical"
    REQUIRED = "required"
    ADVISORY = "advisory"


class Finding(BaseModel):
    """One element compared, or one remark on wording."""

    model_config = ConfigDict(frozen=True)

    call: str
    """The grammar's call: ``hold_short``; ``callsign`` for the callsign."""
    element: str | None = None
    """The grammar's element: ``runway``; None where the whole call is meant."""
    status: Status
    severity: Severity
    expected: str | None = None
    """The value instructed; None where nothing was."""
    heard: str | None = None
    """The value read back; None where nothing was."""
    instruction_span: Span | None = None
    """[start, end) in words of the instruction."""
    readback_span: Span | None = None
    """[start, end) in words of the readback."""
    certainty: float | None = Field(default=None, ge=0, le=1)
    """Of the heard value, from the audio; None for typed words."""
    rule: str | None = None
    """What the rules ask for, in one sentence."""
    source: str | None = None
    """Where that is published, with paragraph and how it was seen."""
    message: str
    """The finding in words for the person who spoke."""


class Said(BaseModel):
    """One side of the exchange, as it was understood."""

    model_config = ConfigDict(frozen=True)

    text: str
    calls: tuple[Call, ...] = ()
    words: tuple[Word, ...] = ()

    @classmethod
    def of(cls, reading: Reading) -> "Said":
        """Keep of a reading what the verdict shows."""
        return cls(text=reading.text, calls=reading.calls, words=reading.words)


class Verdict(BaseModel):
    """The judgement of one readback against its instruction."""

    model_config = ConfigDict(frozen=True)

    verdict: Outcome
    findings: tuple[Finding, ...] = ()
    """Correct ones too, in the order of the instruction; advisory ones last."""
    authority: str
    instruction: Said
    readback: Said

    @property
    def mistakes(self) -> tuple[Finding, ...]:
        """The findings that made the verdict: neither correct nor advisory."""
        return tuple(
            finding
            for finding in self.findings
            if finding.status is not Status.CORRECT and finding.severity is not Severity.ADVISORY
        )
