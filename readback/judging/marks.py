"""Which words of the two sides a face marks."""

from collections.abc import Sequence

from readback.judging.model import Finding, Severity, Status
from readback.phraseology.model import Span


def marks_of(findings: Sequence[Finding], attribute: str) -> list[tuple[Span, Status]]:
    """Choose what to mark on one side: the shortest spans first, none over another.

    Args:
        findings: Of one verdict.
        attribute: ``"instruction_span"`` or ``"readback_span"``.

    Returns:
        (span, status) in the order of the words; correct and advisory findings mark nothing.
    """
    wanted: list[tuple[Span, Status]] = []
    for finding in findings:
        span: Span | None = getattr(finding, attribute)
        if span is None or span[0] == span[1] or finding.severity is Severity.ADVISORY:
            continue
        if finding.status is not Status.CORRECT:
            wanted.append((span, finding.status))
    chosen: list[tuple[Span, Status]] = []
    for span, status in sorted(wanted, key=lambda mark: mark[0][1] - mark[0][0]):
        if all(span[1] <= other[0] or other[1] <= span[0] for other, _ in chosen):
            chosen.append((span, status))
    return sorted(chosen)
