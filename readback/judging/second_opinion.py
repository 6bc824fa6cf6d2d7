"""Two engines on the same sound: agreement counts for more, contradiction for nothing."""

from readback.judging.model import Finding, Outcome, Severity, Status, Verdict

RELAXED = 0.5
"""How certain a verdict must be where another engine came to the same: more likely than not."""
_MISTAKES = (Status.WRONG, Status.MISSING, Status.NOT_ISSUED)


def heed(first: Verdict, relaxed: Verdict, second: Verdict) -> Verdict:
    """Judge a readback by what two engines heard of it.

    Args:
        first: By the engine in use, at its own threshold.
        relaxed: The same at `RELAXED`.
        second: By the other engine, at its own threshold.

    Returns:
        ``first``, unless the other one contradicts it: then SAY AGAIN, what they differ in not
        certain. Where the first cannot tell but at `RELAXED` comes to the same as the other:
        ``relaxed``.
    """
    if Outcome.SAY_AGAIN in (second.verdict, relaxed.verdict):
        return first
    if first.verdict is Outcome.SAY_AGAIN:
        return relaxed if relaxed.verdict is second.verdict else first
    if first.verdict is Outcome.CORRECT:
        return _doubted(first, [one for one in second.mistakes if _critical(one)])
    if second.verdict is Outcome.CORRECT:
        return _doubted(first, first.mistakes)
    return first


def _critical(finding: Finding) -> bool:
    return finding.severity is Severity.CRITICAL and finding.status in _MISTAKES


def _doubted(verdict: Verdict, doubts: "list[Finding] | tuple[Finding, ...]") -> Verdict:
    """Make the elements that are in doubt not certain; the verdict as it is where none is."""
    if not doubts:
        return verdict
    places = {(one.call, one.element) for one in doubts}
    kept = [one for one in verdict.findings if (one.call, one.element) not in places]
    unsure = [
        one.model_copy(
            update={
                "status": Status.NOT_CERTAIN,
                "message": f"{(one.element or one.call).replace('_', ' ')}: another engine heard"
                " it otherwise",
            }
        )
        for one in doubts
    ]
    return verdict.model_copy(update={"verdict": Outcome.SAY_AGAIN, "findings": (*unsure, *kept)})
