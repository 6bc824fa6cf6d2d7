"""Sessions for other programs: CSV, JSON Lines, WebVTT."""

import csv
import io
import json
from collections.abc import Iterable, Iterator

from pydantic import JsonValue

from readback.escaping import escape, escape_json
from readback.records.describing import describe_correction, describe_head
from readback.records.model import (
    KeptExchange,
    KeptSession,
    KeptTransmission,
    SessionHead,
    SessionScore,
)
from readback.records.outside import cell

_HEAD = tuple(SessionHead.model_fields)
_SCORE = tuple(SessionScore.model_fields)
_EXCHANGE = (
    "exchange",
    "instruction",
    "readback",
    "verdict",
    "verdict_by",
    "program_verdict",
    "first_verdict",
    "mistakes",
)
COLUMNS = (
    "session",
    *_HEAD,
    *(f"score_{name}" if name in _HEAD else name for name in _SCORE),
    "begun_at",
    "finished_at",
    "corrections",
    *_EXCHANGE,
)
"""Columns of the CSV: one row for each exchange, one for a session without any.

``result`` is the instructor's, ``score_result`` that which counts.
"""


def render_csv(sessions: Iterable[KeptSession]) -> Iterator[str]:
    """Give the CSV (RFC 4180) piece by piece; text that a spreadsheet would run is defused."""
    yield _row(COLUMNS)
    for session in sessions:
        first = {one.instruction: one for one in session.first_exchanges}
        for exchange in session.exchanges or (None,):
            yield _row([*_session_cells(session), *_exchange_cells(session, exchange, first)])


def render_json_lines(sessions: Iterable[KeptSession]) -> Iterator[str]:
    """Give each session as one line of JSON with everything but the sound."""
    for session in sessions:
        document = session.model_dump(mode="json")
        document["score"] = session.score.model_dump(mode="json")
        yield escape_json(json.dumps(document, ensure_ascii=False)) + "\n"


def render_webvtt(session: KeptSession) -> str:
    """Give the transmissions that have times as captions, each with its station.

    Source: W3C, WebVTT: The Web Video Text Tracks Format, cue text and voice spans.
    """
    facts = (_cue_text(f"{name}: {value}") for name, value in describe_head(session))
    parts = ["WEBVTT\n", "\n".join(["NOTE", f"session: {session.id}", *facts, ""])]
    spoken = [kept for kept in session.transmissions if kept.current.start is not None]
    for kept in sorted(spoken, key=lambda one: (one.current.start or 0.0, one.number)):
        said = kept.current
        start = said.start or 0.0
        # A cue must last; a transmission without end is shown for a second.
        end = max(said.end if said.end is not None else start + 1.0, start + 0.001)
        parts.append(f"{kept.number}\n{_time(start)} --> {_time(end)}\n{_voice(kept)}\n")
    return "\n".join(parts)


def _row(values: Iterable[str | int | float | None]) -> str:
    file = io.StringIO()
    defused = [cell(value) if isinstance(value, str) else value for value in values]
    csv.writer(file, quoting=csv.QUOTE_ALL).writerow(
        ["" if value is None else value for value in defused]
    )
    return file.getvalue()


def _session_cells(session: KeptSession) -> list[str | int | float | None]:
    head = session.head.model_dump(mode="json")
    score = session.score.model_dump(mode="json")
    if score["pass_rate"] is not None:
        score["pass_rate"] = round(score["pass_rate"], 4)
    finished = session.finished_at
    return [
        session.id,
        *(_flat(head[name]) for name in _HEAD),
        *(score[name] for name in _SCORE),
        session.begun_at.isoformat(),
        finished.isoformat() if finished else None,
        " | ".join(map(describe_correction, session.corrections)),
    ]


def _flat(value: JsonValue) -> str | int | float | None:
    if isinstance(value, list):
        return "; ".join(map(str, value))
    if isinstance(value, dict):
        return "; ".join(f"{name} {one}" for name, one in value.items())
    return value


def _exchange_cells(
    session: KeptSession, exchange: KeptExchange | None, first: dict[int, KeptExchange]
) -> list[str | int | float | None]:
    if exchange is None:
        return [None] * len(_EXCHANGE)
    answer = exchange.readback
    before = first.get(exchange.instruction)
    return [
        exchange.number,
        session.transmission(exchange.instruction).current.text,
        None if answer is None else session.transmission(answer).current.text,
        exchange.outcome.value,
        exchange.outcome_by or "program",
        exchange.verdict.verdict.value,
        None if before is None else before.outcome.value,
        "; ".join(finding.message for finding in exchange.verdict.mistakes),
    ]


def _voice(kept: KeptTransmission) -> str:
    text = _cue_text(kept.current.text) or "(not understood)"
    return f"<v {_cue_text(kept.speaker)}>{text}" if kept.speaker else text


def _cue_text(text: str) -> str:
    escaped = escape(text)
    for char, reference in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;")):
        escaped = escaped.replace(char, reference)
    return escaped


def _time(seconds: float) -> str:
    thousandths = round(seconds * 1000)
    hours, rest = divmod(thousandths, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02}:{minutes:02}:{rest // 1000:02}.{rest % 1000:03}"
