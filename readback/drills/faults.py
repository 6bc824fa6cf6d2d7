"""Findings of a drill that no readback has: what was never said, not due, or stands wrong."""

from collections.abc import Iterable

from readback.drills.interlocks import as_text
from readback.drills.matching import Heard, Matcher
from readback.drills.plan import Due, Plan
from readback.drills.ramp import RampState
from readback.judging.findings import make_remark
from readback.judging.model import Finding, Severity, Status
from readback.judging.rules import RuleBook
from readback.phraseology.model import Reading

_CATCH_RULE = "A wrong readback is put right at once: NEGATIVE, I SAY AGAIN and the right version."
_CATCH_SOURCE = "ICAO Annex 11, 3.7.3; SERA.14075(d) (seen)"


def missing_finding(due: Due, plan: Plan, rules: RuleBook) -> Finding:
    """Make the finding of what was not said; an answer's has the rule that asks for it."""
    if due.part == "catch":
        return _not_caught(plan.dues[due.number - 1])
    first = next(iter(due.say), None)
    asked = first
    if due.answers is not None:
        asked = next(iter(plan.dues[due.answers].say), None)
    name = first.call if first else due.signal or due.step
    rule = rules.rule(asked.call) if asked else None
    cited = rule if due.is_answer else None
    return Finding(
        call=name,
        status=Status.MISSING,
        severity=rule.severity if rule else Severity.REQUIRED,
        expected=" ".join(first.values.values()) or None if first else None,
        rule=cited.says if cited else None,
        source=rules.source(asked.call) if asked and cited else None,
        message=f"{due.station.replace('_', ' ')}: {name.replace('_', ' ')} was not said",
    )


def _not_caught(faulty: Due) -> Finding:
    return Finding(
        call="negative",
        status=Status.MISSING,
        severity=Severity.CRITICAL,
        rule=_CATCH_RULE,
        source=_CATCH_SOURCE,
        message=f"not caught: {faulty.fault}",
    )


def uncited(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Take the rule away from findings of a call: it asks for the readback, not for the call."""
    return tuple(one.model_copy(update={"rule": None, "source": None}) for one in findings)


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


def own_findings(
    due: Due, heard: Heard, asked: Reading, matcher: Matcher, least_certainty: float
) -> tuple[Finding, ...]:
    """Find wrong values that an answer brings of its own: the side of the signal."""
    kinds = {element.kind for call in asked.calls for element in call.elements}
    return tuple(
        finding
        for finding in matcher.findings(due, heard, least_certainty)
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
