"""Sessions and their transmissions in lines of text, for the lists of the screens."""

from collections.abc import Iterator

from textual.content import Content

from readback.commands.terminal import escape
from readback.records.describing import describe_score
from readback.records.heard import NOT_KEPT
from readback.records.model import Correction, KeptExchange, KeptSession, KeptTransmission
from readback.screens.correct import NAMES
from readback.screens.widgets.verdict import outcome_word


def session_title(session: KeptSession) -> str:
    """Name a session in one line of a list."""
    head = session.head
    open_ = "" if session.finished_at else ", broken off"
    score = f"{describe_score(session)}{open_}"
    return f"{session.id:>3}  {head.training_date}  {head.trainee}  {score}  {head.training}"


def session_heading(session: KeptSession) -> Content:
    """Say what a session is and how it went."""
    head = session.head
    where = f"session {session.id}" if session.id != NOT_KEPT else "not kept"
    who = f", {head.trainee}" if session.id != NOT_KEPT else ""
    lines = [f"{head.training}{who}, {where}: {describe_score(session)}"]
    if head.remarks:
        lines.append(f"remarks: {' '.join(head.remarks.split())}")
    return Content("\n".join(map(escape, lines)))


def clock(seconds: float) -> str:
    """Write seconds as minutes and seconds."""
    return f"{int(seconds) // 60:02}:{int(seconds) % 60:02}"


def transmission_row(session: KeptSession, kept: KeptTransmission, width: int) -> Content:
    """Give one line of the list of transmissions.

    Args:
        session: It belongs to.
        kept: The transmission.
        width: Columns for the station; 0 where none is known.
    """
    said = kept.current
    at = "     " if said.start is None else clock(said.start)
    station = f"{station_of(kept):<{width}}  " if width else ""
    star = "*" if kept.corrected else " "
    text = escape(said.text) or "(not understood)"
    return Content.assemble(
        f"{kept.number:>3} {at}  ", _column(session, kept.number), f" {station}{star}{text}"
    )


def station_of(kept: KeptTransmission) -> str:
    """Name who spoke; empty where it is not known."""
    return escape(kept.current.station or "").replace("_", " ")


def _column(session: KeptSession, number: int) -> Content:
    """Give the verdict where something was answered, or stayed unanswered."""
    for exchange in reversed(session.exchanges):
        if number == exchange.readback or (
            number == exchange.instruction and exchange.readback is None
        ):
            word = outcome_word(exchange.outcome, plain=True)
            return Content.assemble(word, " " * (13 - len(word.plain)))
    return Content(" " * 13)


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
