"""Verdicts on sound with a known fault: told, and never passed as correct."""

from readback.judging.model import Outcome, Verdict


def hold_back(verdict: Verdict) -> Verdict:
    """Turn a verdict on a take with lost samples into SAY AGAIN, its findings kept.

    A word that was lost may be the one that was wrong, or the one that is reported missing: neither
    `correct` nor an accusation can be trusted.
    """
    return verdict.model_copy(update={"verdict": Outcome.SAY_AGAIN})
