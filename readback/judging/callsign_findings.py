"""The callsign of a readback held against the one addressed."""

from readback.judging.findings import make_finding
from readback.judging.hearing import Hearing
from readback.judging.model import Finding, Severity, Status
from readback.judging.rules import RuleBook
from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.model import Call, Element, Reading

_RANKS = {"other": 0, "number only": 1, "short": 2, "same": 3}


def judge_callsign(
    instruction: Reading,
    readback: Reading,
    rules: RuleBook,
    hearing: Hearing,
    *,
    addressed: str | None = None,
    excused: bool = False,
) -> list[Finding]:
    """Judge the callsign.

    Args:
        instruction: Its callsign is the one addressed.
        readback: May carry its callsign at the start, at the end or at both.
        rules: Whose rules count.
        hearing: Of the readback.
        addressed: As `read_callsign` writes it, where the instruction does not carry it.
        excused: Whether a missing callsign may stand among words that were not certain.

    Returns:
        No finding where no callsign was addressed.
    """
    expected = _addressed(instruction, addressed)
    if expected is None or rules.rule("callsign") is None:
        return []
    answered = [call for call in readback.calls if call.name == "callsign"]
    if not answered:
        status = Status.NOT_CERTAIN if excused else Status.MISSING
        return [_finding(rules, status, expected, None)]
    # One callsign that is wrong counts, also where another one is right.
    rank, call = min(
        ((_RANKS[compare_callsigns(expected.value, _value(call))], call) for call in answered),
        key=lambda pair: pair[0],
    )
    heard = call.elements[0]
    status = (Status.WRONG, Status.MISSING, Status.CORRECT, Status.CORRECT)[rank]
    if hearing.doubts_element(heard):
        status = Status.NOT_CERTAIN
    findings = [_finding(rules, status, expected, heard)]
    if rank == _RANKS["short"]:
        findings.append(_shortened(expected.value, call))
    return findings


def _addressed(instruction: Reading, given: str | None) -> Element | None:
    for call in instruction.calls:
        if call.name == "callsign":
            return call.elements[0]
    if given is None:
        return None
    # An empty span: nobody said it.
    return Element(name="callsign", kind="callsign", value=given, span=(0, 0))


def _value(call: Call) -> str:
    return call.elements[0].value


def _finding(rules: RuleBook, status: Status, expected: Element, heard: Element | None) -> Finding:
    severity = Severity.CRITICAL if status is Status.WRONG else None
    return make_finding(
        rules, "callsign", "callsign", status, expected=expected, heard=heard, severity=severity
    )


def _shortened(full: str, call: Call) -> Finding:
    short = _value(call)
    return Finding(
        call="callsign",
        element="callsign",
        status=Status.NOT_ISSUED,
        severity=Severity.ADVISORY,
        expected=full,
        heard=short,
        readback_span=call.span,
        message=f"callsign {short} is short for {full}: the controller uses the short form first",
    )
