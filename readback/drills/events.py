"""What the engine tells: one event for each thing that came, was due or was wrong."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Finding, Severity, Status, Verdict

Kind = Literal[
    "came",
    "wrong",
    "not certain",
    "missing",
    "early",
    "late",
    "out of order",
    "wrong station",
    "repeated",
    "put right",
    "not due",
    "say again",
    "wrong readback",
    "interlock",
    "caution",
    "event",
    "ended",
]
FAULTS: frozenset[Kind] = frozenset(
    {"wrong", "missing", "early", "late", "out of order", "wrong station", "not due", "interlock"}
)
"""Kinds that are mistakes of somebody in the exchange."""


class DrillEvent(BaseModel):
    """One thing that the engine has to tell."""

    model_config = ConfigDict(frozen=True)

    kind: Kind
    message: str
    """In one sentence, for the people in the drill."""
    step: str | None = None
    due: int | None = None
    """The number of what was due; None where nothing was."""
    part: str | None = None
    station: str | None = None
    text: str = ""
    """What was said; empty where nothing was."""
    at_s: float | None = None
    """Seconds from the start of the drill; None where nobody measured it."""
    findings: tuple[Finding, ...] = ()
    verdict: Verdict | None = None
    """Of an answer that was judged as a readback."""
    why: str | None = None

    @property
    def is_fault(self) -> bool:
        """Tell whether it is a mistake."""
        return self.kind in FAULTS

    @property
    def severity(self) -> Severity:
        """How much it weighs: as its gravest finding, else required."""
        order = list(Severity)
        wrong = [one.severity for one in self.findings if one.status is not Status.CORRECT]
        return min(wrong, key=order.index, default=Severity.REQUIRED)
