"""Sessions and their transmissions in lines of text, for the lists of the screens."""

from collections.abc import Iterator

from textual.content import Content

from readback.commands.terminal import escape
from readback.judging.model import Outcome
from readback.records.describing import describe_score, describe_time
from readback.records.model import (
    NOT_KEPT,
    Correction,
    KeptExchange,
    KeptSession,
    KeptTransmission,
)
from readback.replay.model import ReplayedDrill
from readback.screens.correct import NAMES
from readback.screens.messages import HearingGoesOn
from readback.screens.widgets.verdict import outcome_word

_BAR = 24
"""Cells of the bar of progress."""
_MOST_FAULTS = 5
"""Lines of faults: the list of transmissions is to stay in sight."""
_VERDICT = 13
"""Cells of a verdict's column."""


def session_title(session: KeptSession) -> str:
    """Name a session in one line of a list."""
    head = session.head
    open_ = "" if session.finished_at else ", broken off"
    score = f"{describe_score(session)}{open_}"
    what = "  ".join(filter(None, (head.training, head.recording)))
    return f"{session.id:>3}  {head.training_date}  {head.trainee}  {score}  {what}"


def session_heading(session: KeptSession, drill: ReplayedDrill | None = None) -> Content:
    """Say what a session is and how it went, by the drill it was laid beside, too."""
    head = session.head
    where = f"session {session.id}" if session.id != NOT_KEPT else "not kept"
    who = f", {head.trainee}" if session.id != NOT_KEPT else ""
    lines = [f"{head.training}{who}, {where}: {describe_score(session)}"]
    if head.remarks:
        lines.append(f"remarks: {' '.join(head.remarks.split())}")
    if drill is not None:
        lines += [drill.heading, *_drill_lines(drill)]
    return Content("\n".join(map(escape, lines)))


def _drill_lines(drill: ReplayedDrill) -> Iterator[str]:
    if not drill.was_said:
        yield "nothing of it was said; F5 goes back, and F8 there leaves it out"
    elif not drill.faults:
        yield "everything came as it was due"
    else:
        for event in drill.faults[:_MOST_FAULTS]:
            at = "" if event.at_s is None else f"{clock(event.at_s)} "
            yield f"{at}{event.kind}: {event.message}"
        more = len(drill.faults) - _MOST_FAULTS
        if more > 0:
            yield f"and {more} more: readback replay with --drill {drill.name}"


def clock(seconds: float) -> str:
    """Write seconds as a clock shows them."""
    return describe_time(seconds, tenths=False)


def progress_line(message: HearingGoesOn) -> str:
    """Say how far a recording is heard and how long the rest will take."""
    read_s, whole_s, left_s = message.read_s, message.whole_s, message.left_s
    if not read_s:
        return "opening it …; Esc cancels"
    if not whole_s:
        return f"{clock(read_s)}; Esc cancels"
    if read_s >= whole_s:
        return f"judging the {clock(whole_s)} …; Esc cancels"
    done = round(_BAR * read_s / whole_s)
    bar = f"{'▮' * done}{'▯' * (_BAR - done)}"
    left = "" if left_s is None else f", {clock(left_s)} left"
    return f"{bar} {clock(read_s)} of {clock(whole_s)}{left}; Esc cancels"


def transmission_rows(session: KeptSession) -> Iterator[Content]:
    """Give the lines of the list of transmissions."""
    outcomes = {}
    for exchange in session.exchanges:
        # The verdict stands where something was answered, or stayed unanswered.
        outcomes[exchange.readback or exchange.instruction] = exchange.outcome
    said = [one.current for one in session.transmissions]
    times = ["" if one.start is None else clock(one.start) for one in said]
    stations = [escape(one.speaker) for one in session.transmissions]
    time_width, width = max(map(len, times), default=0), max(map(len, stations), default=0)
    for kept, at, station in zip(session.transmissions, times, stations, strict=True):
        star = "*" if kept.corrected else " "
        who = f"{station:<{width}}  " if width else ""
        yield Content.assemble(
            f"{kept.number:>3} {at:>{time_width}}  ",
            _column(outcomes.get(kept.number)),
            f" {who}{star}{escape(kept.current.text) or '(not understood)'}",
        )


def _column(outcome: Outcome | None) -> Content:
    word = Content("") if outcome is None else outcome_word(outcome, plain=True)
    return Content.assemble(word, " " * (_VERDICT - len(word.plain)))


def notes_on(
    session: KeptSession, kept: KeptTransmission, exchange: KeptExchange | None
) -> Iterator[str]:
    """Tell what people corrected of a transmission and its exchange."""
    concerned = {kept.number}
    if exchange is not None:
        concerned |= {exchange.instruction, exchange.readback or exchange.instruction}
        if exchange.outcome_by is not None:
            yield f"{exchange.outcome.upper()} by {exchange.outcome_by}; the program says:"
    for one in session.corrections:
        if one.target in concerned:
            yield f"{_what(one)} {one.by}, {one.at:%Y-%m-%d %H:%M}: {one.why}"


def _what(correction: Correction) -> str:
    before = correction.original
    stood = "nothing" if before in (None, "") else str(before)
    return f"{NAMES[correction.kind]} of {correction.target}, before: {stood};"
