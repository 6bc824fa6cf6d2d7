"""The events of a drill on a terminal, and its summary: a sign, a word, then why."""

from collections.abc import Iterator

from readback.commands.terminal import Piece, Style, Terminal, escape
from readback.drills.engine import DrillRun
from readback.drills.events import DrillEvent, Kind

_MARKS: dict[Kind, tuple[str, Style]] = {
    "came": ("✓", "right"),
    "put right": ("✓", "right"),
    "wrong": ("✗", "wrong"),
    "interlock": ("✗", "wrong"),
    "wrong station": ("✗", "wrong"),
    "out of order": ("✗", "wrong"),
    "early": ("✗", "wrong"),
    "late": ("✗", "wrong"),
    "missing": ("–", "wrong"),
    "not due": ("+", "wrong"),
    "not certain": ("?", "doubtful"),
    "say again": ("?", "doubtful"),
}


def render_event(event: DrillEvent, terminal: Terminal) -> Iterator[str]:
    """Say one event in words, with its findings, the rules and their sources."""
    sign, style = _MARKS.get(event.kind, ("", "plain"))
    shown = f"{terminal.sign(sign)} {event.kind}:" if sign else f"{event.kind}:"
    pieces = [Piece(shown, style), Piece(escape(event.message))]
    yield from terminal.lines(pieces, "  ", "      ")
    if event.kind == "came":
        return
    for finding in event.findings:
        for said in (finding.message, finding.rule, finding.source):
            if said and said not in event.message:
                yield from terminal.lines([Piece(escape(said))], "      ", "        ")
    if event.why and event.is_fault:
        yield from terminal.lines([Piece(escape(event.why))], "      ", "        ")


def render_summary(run: DrillRun, terminal: Terminal, *, complete: bool) -> Iterator[str]:
    """Count what was said, and list the faults with their steps.

    Args:
        run: Ended.
        terminal: What it is shown on.
        complete: Whether it was gone through to its end.
    """
    states = [run.state_of(due.number) for due in run.plan.dues]
    said, needed = states.count("said"), len(states) - states.count("not needed")
    faults = [event for event in run.events if event.is_fault]
    count = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
    whole = "" if complete else ", not gone through to its end"
    yield from terminal.lines([Piece(f"Summary: {said} of {needed} said, {count}{whole}.")])
    for event in faults:
        where = (event.step or "").replace("_", " ") or "no step"
        weight = f"{event.severity.value}: " if event.findings else ""
        what = "; ".join(finding.message for finding in event.findings) or event.message
        text = escape(f"{where}: {event.kind}: {weight}{what}")
        yield from terminal.lines([Piece(text)], "  ", "    ")
