"""The one way from a screen to the judge."""

from readback.judging.check import check
from readback.judging.doubtful import hold_back
from readback.judging.model import Verdict
from readback.transmission import Transmission

LONGEST_TYPED = 1000
"""Characters of one line; nobody says more in one transmission."""


def judge_said(
    instruction: str | Transmission,
    readback: str | Transmission,
    authority: str,
    *,
    least_certainty: float = 0.0,
    losses: int = 0,
) -> Verdict:
    """Judge a readback; one with lost samples is never passed as correct."""
    verdict = check(instruction, readback, authority=authority, least_certainty=least_certainty)
    return hold_back(verdict) if losses else verdict
