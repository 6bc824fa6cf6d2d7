"""Findings of a drill that no readback has: what was never said, not due, or stands wrong."""

from readback.drills.interlocks import as_text
from readback.drills.matching import Heard, Matcher
from readback.drills.plan import Due, Plan
from readback.drills.ramp import RampState
from readback.judging.findings import make_remark
from readback.judging.model import Finding, Severity, Status
from readback.judging.rules import RuleBook
from readback.phraseology.model import Reading


def missing_finding(due: Due, plan: Plan, rules: RuleBook) -> Finding:
    """Make the finding of what was not said, with the rule that asks for it."""
    first = next(iter(due.say), None)
    if due.part == "catch":
        first = next((one for one in due.say if one.values), first)
    asked = first
    if due.answers is not None:
        asked = next(iter(plan.dues[due.answers].say), None)
    name = first.call if first else due.signal or due.step
    rule = rules.rule(asked.call) if asked else None
    severity = rule.severity if rule else Severity.REQUIRED
    return Finding(
        call=name,
        status=Status.MISSING,
        severity=Severity.CRITICAL if due.part == "catch" else severity,
        expected=" ".join(first.values.values()) or None if first else None,
        rule=rule.says if rule else None,
        source=rules.source(asked.call) if asked and rule else None,
        message=f"{due.station.replace('_', ' ')}: {name.replace('_', ' ')} was not said",
    )


def extra_findings(heard: Heard, rules: RuleBook) -> tuple[Finding, ...]:
    """Find what must not be said where it is not due; a remark where nothing of it matters."""
    found = []
    for item in heard.items:
        rule = rules.rule(item.name)
        if rule is not None and rule.unissued is not None:
            found.append(
                Finding(
                    call=item.name,
                    status=Status.NOT_ISSUED,
                    severity=rule.unissued,
                    readback_span=item.span,
                    rule=rule.says,
                    source=rules.source(item.name),
                    message=f"{item.name.replace('_', ' ')} was said but not due",
                )
            )
    return tuple(found) or (make_remark("transmission", "nothing of this was due"),)


def own_findings(due: Due, heard: Heard, asked: Reading, matcher: Matcher) -> tuple[Finding, ...]:
    """Find wrong values that an answer brings of its own: the side of the signal."""
    kinds = {element.kind for call in asked.calls for element in call.elements}
    return tuple(
        finding
        for finding in matcher.findings(due, heard)
        if finding.status is Status.WRONG
        and finding.element is not None
        and finding.element != "callsign"
        and matcher.element(finding.element, "").kind not in kinds
    )


def end_findings(plan: Plan, ramp: RampState) -> tuple[Finding, ...]:
    """Find where the aircraft does not stand as it must at the end."""
    stands = {name: getattr(ramp, name) for name in plan.end_ramp}
    return tuple(
        Finding(
            call="end",
            element=name,
            status=Status.WRONG,
            severity=Severity.CRITICAL,
            expected=as_text(wanted),
            heard=as_text(stands[name]),
            message=f"at the end {name.replace('_', ' ')} is {as_text(stands[name])}, not"
            f" {as_text(wanted)}",
        )
        for name, wanted in plan.end_ramp.items()
        if stands[name] != wanted
    )
