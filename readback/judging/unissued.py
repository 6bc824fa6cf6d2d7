"""What was read back but never instructed: a crossing is the worst of it."""

from collections.abc import Sequence

from readback.judging.compare import same_element
from readback.judging.findings import make_finding
from readback.judging.hearing import Hearing
from readback.judging.items import Item
from readback.judging.model import Finding, Status
from readback.judging.rules import RuleBook
from readback.phraseology.model import Element, Reading

# "Taxi alfa three" names the place that "holding point alfa three" or "stand alfa three" names.
_PLACES = frozenset({"holding_point", "route", "stand", "taxiway"})


def judge_unissued(
    instruction: Reading,
    issued: Sequence[Item],
    answered: Sequence[Item],
    rules: RuleBook,
    hearing: Hearing,
) -> list[Finding]:
    """Find the calls of a readback that answer nothing.

    Args:
        instruction: Whose values may be said again.
        issued: Its calls, joined.
        answered: The calls of the readback, joined; used ones have answered something.
        rules: Tell which calls must not be said without instruction, and how much it weighs.
        hearing: Of the readback.
    """
    findings = []
    for answer in answered:
        rule = rules.rule(answer.name)
        if rule is None or answer.used or answer.name == "callsign":
            continue
        heard = next(iter(answer.elements.values()), None)
        if answer.name == "runway" and heard is not None:
            if was_issued(heard, instruction):
                continue
            name, severity, doubtful = "runway", rule.severity, hearing.doubts_element(heard)
        elif rule.unissued is None or _answers_something(answer, issued, rules):
            continue
        else:
            name, severity, doubtful = None, rule.unissued, hearing.doubts_item(answer)
        status = Status.NOT_CERTAIN if doubtful else Status.NOT_ISSUED
        findings.append(
            make_finding(
                rules,
                answer.name,
                name,
                status,
                heard=heard,
                answered_span=None if name else answer.span,
                severity=severity,
            )
        )
    return findings


def was_issued(element: Element, instruction: Reading) -> bool:
    """Tell whether the instruction has that value in any of its calls."""
    issued = [
        other
        for call in instruction.calls
        for other in call.elements
        if other.kind == element.kind or (other.kind in _PLACES and element.kind in _PLACES)
    ]
    # Naming the runway where none was named is good practice, not an error.
    if element.name == "runway" and not issued:
        return True
    return any(same_element(other, element) for other in issued)


def _answers_something(answer: Item, issued: Sequence[Item], rules: RuleBook) -> bool:
    """Tell whether an answer that is nobody's partner is still a further answer to something.

    "Stopping, holding position" answers STOP twice over; "starting two" after "clear to start one"
    does not answer it.
    """
    for item in issued:
        if item.name == answer.name and not answer.elements:
            return True
        rule = rules.rule(item.name)
        if rule is None or item.name == "runway" or answer.name not in rule.answered_by:
            continue
        if not item.contradicts(answer):
            return True
    return False
