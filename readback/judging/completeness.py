"""Whether a readback that still goes on has all that is awaited of it."""

from readback.judging.model import Outcome, Severity, Status, Verdict


def is_complete(verdict: Verdict) -> bool | None:
    """Tell whether nothing more is awaited, so that a short pause is the end.

    Args:
        verdict: On what was heard so far.

    Returns:
        True where all that must be read back is there and right, or where the callsign was said
        after something else: it ends an answer. False while something is missing. None where it
        cannot be told: a last value that is wrong may only be half said.

    Source: ICAO Doc 9432, 4th edition 2007, 2.8.3.7 (the callsign ends a readback).
    """
    if verdict.verdict is Outcome.CORRECT or _ends_with_callsign(verdict):
        return True
    if any(
        finding.status is Status.MISSING and finding.severity is not Severity.ADVISORY
        for finding in verdict.findings
    ):
        return False
    return None


def _ends_with_callsign(verdict: Verdict) -> bool:
    end = len(verdict.readback.words)
    return any(
        finding.call == "callsign"
        and finding.status is Status.CORRECT
        and finding.readback_span is not None
        and finding.readback_span[0] > 0
        and finding.readback_span[1] == end
        for finding in verdict.findings
    )
