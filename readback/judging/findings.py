"""Findings made from what was compared, and the verdict of them."""

from collections.abc import Sequence

from readback.judging.messages import describe
from readback.judging.model import Finding, Outcome, Severity, Status
from readback.judging.rules import CallRule, RuleBook
from readback.phraseology.model import Element, Span

_NAMED_KINDS = frozenset({"runway", "taxiway", "holding_point", "stand", "hangar", "engine"})


def make_finding(
    rules: RuleBook,
    call: str,
    element: str | None,
    status: Status,
    *,
    expected: Element | None = None,
    heard: Element | None = None,
    issued_span: Span | None = None,
    answered_span: Span | None = None,
    severity: Severity | None = None,
    instead: str | None = None,
) -> Finding:
    """Make the finding of one element, or of a whole call.

    Args:
        rules: Must have a rule for the call; its sentence, source and severity are the finding's.
        call: The grammar's call.
        element: The grammar's element, None for the whole call.
        status: What became of it.
        expected: The element instructed, its span empty if nobody said it; None without one.
        heard: The element read back; None without one.
        issued_span: Where the instruction has it, if not at ``expected``.
        answered_span: Where the readback has it, if not at ``heard``.
        severity: Where it is not the rule's.
        instead: An acknowledgement that came in its place.
    """
    rule: CallRule = rules.calls[call]
    if expected and expected.span[0] < expected.span[1]:
        issued_span = expected.span
    wanted = expected.value if expected else None
    got = heard.value if heard else None
    return Finding(
        call=call,
        element=element,
        status=status,
        severity=severity or rule.severity,
        expected=wanted,
        heard=got,
        instruction_span=issued_span,
        readback_span=answered_span or (heard.span if heard else None),
        certainty=heard.certainty if heard else None,
        rule=rule.says,
        source=rules.source(call),
        message=describe(call, element, status, wanted, _in_full(element, heard), instead),
    )


def _in_full(element: str | None, heard: Element | None) -> str | None:
    """Write a value with its name where the finding is of the whole call: ``runway 27L``."""
    if heard is None or element is not None or heard.kind not in _NAMED_KINDS:
        return heard.value if heard else None
    return f"{heard.kind.replace('_', ' ')} {heard.value}"


def make_remark(call: str, message: str, span: Span | None = None) -> Finding:
    """Make a remark that says why something was not judged."""
    return Finding(
        call=call,
        status=Status.NOT_CERTAIN,
        severity=Severity.ADVISORY,
        readback_span=span,
        message=message,
    )


def outcome_of(findings: Sequence[Finding]) -> Outcome:
    """Make the verdict of findings: what is wrong outweighs what is uncertain or missing."""
    counted = {item.status for item in findings if item.severity is not Severity.ADVISORY}
    if Status.WRONG in counted or Status.NOT_ISSUED in counted:
        return Outcome.INCORRECT
    if Status.NOT_CERTAIN in counted:
        return Outcome.SAY_AGAIN
    if Status.MISSING in counted:
        return Outcome.INCOMPLETE
    return Outcome.CORRECT
