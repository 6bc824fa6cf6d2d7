"""A verdict at a glance: mark and word, then each finding, then both lines side by side."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from textual.content import Content
from textual.widgets import Static

from readback.commands.terminal import escape
from readback.judging.marks import marks_of
from readback.judging.model import Finding, Outcome, Said, Severity, Status, Verdict
from readback.phraseology.model import Span

MARKS = {
    Status.CORRECT: ("✓", "bold $correct"),
    Status.WRONG: ("✗", "bold $wrong"),
    Status.MISSING: ("–", "bold $wrong"),
    Status.NOT_ISSUED: ("+", "bold $wrong"),
    Status.NOT_CERTAIN: ("?", "bold underline"),
}
"""Each status: its mark, and the style that repeats it."""
_BAND = 60
"""Columns of a large verdict."""
OUTCOMES = {
    Outcome.CORRECT: ("✓", "bold reverse $correct"),
    Outcome.INCORRECT: ("✗", "bold reverse $wrong"),
    Outcome.INCOMPLETE: ("–", "bold reverse $wrong"),
    Outcome.SAY_AGAIN: ("?", "bold underline"),
}


class VerdictView(Static):
    """Shows one verdict; the rules only where they are asked for.

    Args:
        large: Whether the word is a band over the whole width.
        id: Of the widget.
    """

    def __init__(self, *, large: bool = False, id: str | None = None) -> None:
        super().__init__("", id=id, markup=False)
        self._large = large
        self._verdict: Verdict | None = None
        self._rules = False
        self._note = ""

    @property
    def verdict(self) -> Verdict | None:
        """What is shown."""
        return self._verdict

    def show(self, verdict: Verdict | None, note: str = "") -> None:
        """Show a verdict after some lines of text, or nothing."""
        self._verdict, self._note = verdict, note
        self._draw()

    def toggle_rules(self) -> None:
        """Show the rule and its source with each finding, or no longer."""
        self._rules = not self._rules
        self._draw()

    def _draw(self) -> None:
        parts = [Content(escape(line)) for line in self._note.splitlines()]
        if self._verdict is not None:
            lines = verdict_lines(self._verdict, rules=self._rules)
            parts += [_band(self._verdict.verdict), *lines[1:]] if self._large else lines
        self.update(Content("\n").join(parts))


def verdict_lines(verdict: Verdict, *, rules: bool = False) -> list[Content]:
    """Give the lines of a verdict, from the word to both sides."""
    return [
        outcome_word(verdict.verdict),
        *findings_lines(verdict.findings, rules=rules),
        Content(""),
        side("instruction", verdict.instruction, marks_of(verdict.findings, "instruction_span")),
        side("readback", verdict.readback, marks_of(verdict.findings, "readback_span")),
    ]


def outcome_word(outcome: Outcome, *, plain: bool = False) -> Content:
    """Give the verdict's mark and word; plain where a list colours its rows itself."""
    mark, style = OUTCOMES[outcome]
    word = f"{mark} {outcome.upper()}"
    return Content.assemble((word, "bold")) if plain else Content.assemble((f" {word} ", style))


def _band(outcome: Outcome) -> Content:
    mark, style = OUTCOMES[outcome]
    blank, word = " " * _BAND, f"{mark}  {outcome.upper()}  {mark}".center(_BAND)
    return Content.assemble((f"{blank}\n{word}\n{blank}", style), "\n")


def findings_lines(findings: Sequence[Finding], *, rules: bool = False) -> Iterator[Content]:
    """Give a line for each finding, with its rule and source where asked for."""
    told: set[str | None] = {None}
    for finding in findings:
        yield _finding(finding)
        if not rules or finding.status is Status.CORRECT or finding.rule in told:
            continue
        told.add(finding.rule)
        for text in (finding.rule, finding.source):
            if text:
                yield Content.assemble("      ", (escape(text), "italic"))


def _finding(finding: Finding) -> Content:
    message = escape(finding.message)
    if finding.severity is Severity.ADVISORY and finding.status is not Status.NOT_CERTAIN:
        return Content(f"  note: {message}")
    mark, style = MARKS[finding.status]
    certainty = ""
    if finding.status is Status.NOT_CERTAIN and finding.certainty is not None:
        certainty = f" (certainty {finding.certainty:.2f})"
    return Content.assemble("  ", (f"{mark} {finding.status}", style), f": {message}{certainty}")


def side(name: str, said: Said, marks: Sequence[tuple[Span, Status]]) -> Content:
    """Give one side, each mismatch in brackets after its mark."""
    words = [escape(word.word) for word in said.words]
    edges = sorted({0, len(words), *(edge for span, _ in marks for edge in span)})
    statuses = dict(marks)
    parts: list[str | tuple[str, str]] = [f"{name + ':':<13}"]
    for span in pairwise(edges):
        text = " ".join(words[slice(*span)])
        status = statuses.get(span)
        if status is not None:
            mark, style = MARKS[status]
            parts.append((f"{mark}[{text}]", style))
        else:
            parts.append(text)
        parts.append(" ")
    if not words:
        parts.append("(nothing)")
    return Content.assemble(*parts)
