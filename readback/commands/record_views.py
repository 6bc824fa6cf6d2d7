"""Records on a terminal: lists, one session, what is due."""

from collections.abc import Iterable
from datetime import date

from readback.commands.render import render_findings, render_outcome, render_sides
from readback.commands.terminal import Piece, Terminal, escape, tell
from readback.records.describing import (
    describe_corrected,
    describe_head,
    describe_score,
    describe_time,
)
from readback.records.intervals import Due, Interval
from readback.records.model import KeptExchange, KeptSession, KeptTransmission, Tombstone


def show_list(sessions: Iterable[KeptSession], graves: Iterable[Tombstone]) -> int:
    """Print one line for each session, and the deleted ones."""
    terminal = Terminal.of()
    any_shown = False
    for session in sessions:
        head = session.head
        parts = [
            head.training_date.isoformat(),
            escape(head.trainee),
            escape(head.training),
            *([escape(head.recording)] if head.recording else []),
            describe_score(session),
        ]
        if session.finished_at is None:
            parts.append("not finished")
        _lines(terminal, f"{session.id:>5}  ", "; ".join(parts))
        any_shown = True
    for grave in graves:
        _lines(terminal, f"{grave.session_id:>5}  ", f"deleted on {grave.deleted_on}")
        any_shown = True
    if not any_shown:
        tell("no such session is kept. replay --store, add and practise --trainee keep some.")
    return 0


def show_session(session: KeptSession) -> int:
    """Print everything that is kept of a session but its sound."""
    terminal = Terminal.of()
    print(f"session {session.id}")
    for name, value in describe_head(session):
        _lines(terminal, f"  {name}: ", escape(value))
    if session.head.remarks:
        _lines(terminal, "  remarks: ", escape(session.head.remarks))
    for kept in session.transmissions:
        _lines(terminal, f"  {kept.number:>3}  ", _transmission(kept))
    for exchange in session.exchanges:
        _show_exchange(exchange, terminal)
    for one in session.corrections:
        target = "" if one.target is None else f" of transmission {one.target}"
        before, now = map(describe_corrected, (one.original, one.corrected))
        what = f"correction {one.number}: {one.kind}{target}, before: {escape(before)}"
        _lines(terminal, "  ", f"{what}, now: {escape(now)}")
        _lines(terminal, "      ", f"{escape(one.by)}, {one.at:%Y-%m-%d %H:%M}: {escape(one.why)}")
    return 0


def show_due(due: Iterable[Due], interval: Interval, today: date) -> int:
    """Print whose training falls due, the most urgent first, and the rule."""
    terminal = Terminal.of()
    for one in due:
        _lines(terminal, "", f"{_when(one, today)}: {escape(one.trainee)}, {escape(one.training)}")
    _lines(terminal, "", interval.rule)
    _lines(terminal, "", interval.source)
    return 0


def _when(one: Due, today: date) -> str:
    if one.due is None:
        return "due now, no assessment passed"
    if one.is_overdue(today):
        return f"overdue since {one.due}, last {one.last}"
    window = "" if one.window_from == one.due else f", in time from {one.window_from}"
    if one.window_from is not None and one.window_from <= today:
        return f"due by {one.due}, last {one.last}, can be done now"
    return f"due {one.due}, last {one.last}{window}"


def _show_exchange(exchange: KeptExchange, terminal: Terminal) -> None:
    answer = "nothing" if exchange.readback is None else str(exchange.readback)
    pieces = [
        Piece(f"exchange {exchange.number}, {exchange.instruction} answered by {answer}:"),
        render_outcome(exchange.outcome),
    ]
    if exchange.outcome_by is not None:
        said = exchange.verdict.verdict.value
        pieces.append(Piece(f"(by {escape(exchange.outcome_by)}; the program: {said})"))
    for line in terminal.lines(pieces, "  ", "  "):
        print(line)
    for line in render_findings(exchange.verdict, terminal, indent="    ", brief=True):
        print(line)
    for line in render_sides(exchange.verdict, terminal, indent="    "):
        print(line)


def _transmission(kept: KeptTransmission) -> str:
    said = kept.current
    head = f"{describe_time(said.start)}  " if said.start is not None else ""
    head += f"{escape(kept.speaker)}: " if kept.speaker else ""
    text = escape(said.text) or "(not understood)"
    return f"{head}{text}" + (" (corrected)" if kept.corrected else "")


def _lines(terminal: Terminal, first: str, text: str) -> None:
    for line in terminal.lines([Piece(text)], first, " " * len(first)):
        print(line)
