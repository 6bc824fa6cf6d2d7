"""Sessions read out of the tables."""

from typing import Any

from sqlalchemy import Connection, Row, func, select

from readback.judging.model import Verdict
from readback.records.correcting import JUDGED_AGAIN, current_session
from readback.records.model import (
    Correction,
    KeptExchange,
    KeptSession,
    KeptTransmission,
    SessionHead,
)
from readback.records.tables import CORRECTIONS, JUDGEMENTS, TRANSMISSIONS
from readback.transmission import Transmission


def load_session(connection: Connection, row: Row[Any]) -> KeptSession:
    """Read what belongs to a row of `SESSIONS` and apply the corrections."""
    values = dict(row._mapping)
    session_id = values.pop("id")
    begun_at, finished_at = values.pop("begun_at"), values.pop("finished_at")
    corrections = _load_corrections(connection, session_id)
    rounds = _load_rounds(connection, session_id)
    # The last round may hold nothing: a person may have said that nothing was instructed.
    judged_after = max((one.number for one in corrections if one.kind in JUDGED_AGAIN), default=0)
    return current_session(
        KeptSession(
            id=session_id,
            head=SessionHead(**values),
            begun_at=begun_at,
            finished_at=finished_at,
            transmissions=_load_transmissions(connection, session_id),
            corrections=corrections,
            first_exchanges=rounds[0],
            exchanges=rounds.get(judged_after, ()),
        )
    )


def _load_transmissions(connection: Connection, session_id: int) -> tuple[KeptTransmission, ...]:
    columns = TRANSMISSIONS.c
    # The sound stays where it is: only its size is read.
    size = func.length(columns.audio).label("size")
    wanted = select(columns.number, columns.heard, columns.told_by, columns.least_certainty, size)
    rows = connection.execute(
        wanted.where(columns.session_id == session_id).order_by(columns.number)
    )
    kept = []
    for row in rows:
        heard = Transmission.model_validate(row.heard)
        kept.append(
            KeptTransmission(
                number=row.number,
                original=heard,
                current=heard,
                told_by=row.told_by,
                least_certainty=row.least_certainty,
                audio_bytes=row.size or 0,
            )
        )
    return tuple(kept)


def _load_corrections(connection: Connection, session_id: int) -> tuple[Correction, ...]:
    wanted = select(CORRECTIONS).where(CORRECTIONS.c.session_id == session_id)
    rows = connection.execute(wanted.order_by(CORRECTIONS.c.number)).mappings()
    return tuple(
        Correction(**{name: value for name, value in row.items() if name != "session_id"})
        for row in rows
    )


def _load_rounds(connection: Connection, session_id: int) -> dict[int, tuple[KeptExchange, ...]]:
    """Read the exchanges: by the correction after which they were judged, 0 for none."""
    wanted = select(JUDGEMENTS).where(JUDGEMENTS.c.session_id == session_id)
    rounds: dict[int, tuple[KeptExchange, ...]] = {0: ()}
    for row in connection.execute(wanted.order_by(JUDGEMENTS.c.number)):
        verdict = Verdict.model_validate(row.verdict)
        exchange = KeptExchange(
            number=row.number,
            instruction=row.instruction,
            readback=row.readback,
            verdict=verdict,
            outcome=verdict.verdict,
        )
        rounds[row.after_correction] = (*rounds.get(row.after_correction, ()), exchange)
    return rounds
