"""Whether a readback that still goes on has all that is awaited of it."""

from readback.judging.model import Outcome, Severity, Status, Verdict


def is_complete(verdict: Verdict) -> bool | None:
    """Tell whether all that must be read back was said, so that a short pause is its end.

    Args:
        verdict: On what was heard so far.

    Returns:
        False while something is missing. True where all is there, and right or followed by the
        callsign that ends an answer. None where it cannot be told: a last value that is wrong may
        only be half said.
    """
    if any(
        finding.status is Status.MISSING and finding.severity is not Severity.ADVISORY
        for finding in verdict.findings
    ):
        return False
    if verdict.verdict is Outcome.CORRECT or _ends_with_callsign(verdict):
        return True
    return None


def _ends_with_callsign(verdict: Verdict) -> bool:
    end = len(verdict.readback.words)
    return any(
        finding.call == "callsign"
        and finding.status is Status.CORRECT
        and finding.readback_span is not None
        and finding.readback_span[1] == end
        for finding in verdict.findings
    )
