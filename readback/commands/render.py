"""Verdicts on a terminal: a word first, then each mismatch in both lines and in words."""

from collections.abc import Iterator
from itertools import pairwise

from readback.commands.terminal import Piece, Style, Terminal, escape
from readback.judging.marks import marks_of
from readback.judging.model import Finding, Outcome, Said, Severity, Status, Verdict
from readback.phraseology.model import Span

CAUTION = (
    "Training aid, not for operational use: local procedures, the aerodrome's charts and licensed"
    " instructors come first."
)

_SIGNS = {
    Status.CORRECT: "✓",
    Status.WRONG: "✗",
    Status.MISSING: "–",
    Status.NOT_ISSUED: "+",
    Status.NOT_CERTAIN: "?",
}
_STYLES: dict[Status, Style] = {
    Status.CORRECT: "right",
    Status.WRONG: "wrong",
    Status.MISSING: "wrong",
    Status.NOT_ISSUED: "wrong",
    Status.NOT_CERTAIN: "doubtful",
}
_OUTCOME_STYLES: dict[Outcome, Style] = {
    Outcome.CORRECT: "right",
    Outcome.INCORRECT: "wrong",
    Outcome.INCOMPLETE: "wrong",
    Outcome.SAY_AGAIN: "doubtful",
}


def render_outcome(outcome: Outcome) -> Piece:
    """Give the verdict's word in its colour."""
    return Piece(outcome.value, _OUTCOME_STYLES[outcome])


def render_findings(
    verdict: Verdict, terminal: Terminal, *, indent: str = "  ", brief: bool = False
) -> Iterator[str]:
    """Say each finding in words, with the rule and its source.

    Args:
        verdict: What to show.
        terminal: What it is shown on.
        indent: Before each line.
        brief: Leave out what is correct, and the rules.
    """
    told: set[str | None] = {None}
    for finding in verdict.findings:
        if brief and (finding.status is Status.CORRECT or _is_remark(finding)):
            continue
        yield from terminal.lines(_finding(finding, terminal), indent, indent + "    ")
        if brief or finding.status is Status.CORRECT or finding.rule in told:
            continue
        told.add(finding.rule)
        for text in (finding.rule, finding.source):
            yield from terminal.lines([Piece(escape(text or ""))], indent + "    ", indent + "    ")


def render_sides(
    verdict: Verdict,
    terminal: Terminal,
    names: tuple[str, str] = ("instruction", "readback"),
    *,
    indent: str = "  ",
) -> Iterator[str]:
    """Show both lines, each mismatch in brackets after its sign.

    Args:
        verdict: What to show.
        terminal: What it is shown on.
        names: What stands before the lines; an empty one leaves its line out.
        indent: Before each line.
    """
    column = max(map(len, names)) + 2
    sides = (verdict.instruction, "instruction_span"), (verdict.readback, "readback_span")
    for name, (said, attribute) in zip(names, sides, strict=True):
        if name:
            marked = _marked(said, marks_of(verdict.findings, attribute), terminal)
            first = f"{indent}{name + ':':<{column}}"
            yield from terminal.lines(marked, first, indent + " " * column)


def _is_remark(finding: Finding) -> bool:
    return finding.severity is Severity.ADVISORY and finding.status is not Status.NOT_CERTAIN


def _finding(finding: Finding, terminal: Terminal) -> Iterator[Piece]:
    if _is_remark(finding):
        yield Piece("note:")
    else:
        sign = terminal.sign(_SIGNS[finding.status])
        yield Piece(f"{sign} {finding.status}:", _STYLES[finding.status])
    message = escape(finding.message)
    if finding.status is Status.NOT_CERTAIN and finding.certainty is not None:
        message += f" (certainty {finding.certainty:.2f})"
    yield Piece(message)


def _marked(said: Said, marks: list[tuple[Span, Status]], terminal: Terminal) -> Iterator[Piece]:
    words = [escape(word.word) for word in said.words]
    edges = sorted({0, len(words), *(edge for span, _ in marks for edge in span)})
    statuses = dict(marks)
    if not words:
        yield Piece("(nothing)")
    for span in pairwise(edges):
        text = " ".join(words[slice(*span)])
        status = statuses.get(span)
        if status is None:
            yield Piece(text)
        else:
            yield Piece(f"{terminal.sign(_SIGNS[status])}[{text}]", _STYLES[status])
