"""Sessions kept and read: each transmission is on disk once it is judged."""

import os
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from readback.errors import InputError
from readback.judging.local import LocalWording
from readback.judging.model import Verdict
from readback.records.correcting import Corrected, current_session, rejudge
from readback.records.database import Database
from readback.records.loading import load_session
from readback.records.model import (
    Correction,
    CorrectionKind,
    KeptSession,
    SessionHead,
    SessionResult,
    ToldBy,
    Tombstone,
)
from readback.records.stating import changed_head, state_correction
from readback.records.tables import (
    CORRECTIONS,
    JUDGEMENTS,
    SESSIONS,
    TOMBSTONES,
    TRANSMISSIONS,
)
from readback.records.wording import keep_wording, load_wording
from readback.transmission import Transmission

_HIGHEST_ID = 2**31 - 1


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Store:
    """The records in one database.

    Args:
        where: As `Database` takes it.
        now: Tells the time, with its zone.

    Raises:
        InputError: As `Database`; so raises every method when the database fails.
    """

    def __init__(
        self, where: str | os.PathLike[str], *, now: Callable[[], datetime] = _utc_now
    ) -> None:
        self.database = Database(where)
        self._now = now
        self._wordings: TemporaryDirectory[str] | None = None

    def close(self) -> None:
        """Close the database; safe to call twice."""
        self.database.close()
        if self._wordings is not None:
            self._wordings.cleanup()
            self._wordings = None

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def today(self) -> date:
        """The date now, in the time zone of the machine."""
        return self._now().astimezone().date()

    def begin(self, head: SessionHead, *, local: LocalWording | None = None) -> int:
        """Begin a session.

        Args:
            head: What it is about.
            local: The operator's own wording that its verdicts come from; kept with the session,
                so that corrections are judged by it on any desk.

        Returns:
            Its number, which no other session gets, not even when it is deleted.
        """
        with self.database.writing() as connection:
            row = {**head.model_dump(mode="python"), "begun_at": self._stamp()}
            if local is not None:
                row["local_version"] = keep_wording(connection, local)
            row["settings"] = dict(head.settings)
            result = connection.execute(insert(SESSIONS).values(row))
            key = result.inserted_primary_key
            assert key is not None
            return int(key[0])

    def keep_transmission(
        self,
        session_id: int,
        transmission: Transmission,
        *,
        flac: bytes | None = None,
        told_by: ToldBy | None = None,
        least_certainty: float | None = None,
    ) -> int:
        """Keep one transmission; on disk when this returns.

        Args:
            session_id: From `begin`.
            transmission: As heard or typed.
            flac: Its sound; left out unless the session has consent.
            told_by: How it is known who spoke; None: not noted.
            least_certainty: As it was judged with, by its channel; None: with the session's.

        Returns:
            Its number in the session.
        """
        with self.database.writing() as connection:
            session = self._open_session(connection, session_id)
            number = _next_number(connection, TRANSMISSIONS, session_id)
            connection.execute(
                insert(TRANSMISSIONS).values(
                    session_id=session_id,
                    number=number,
                    kept_at=self._stamp(),
                    heard=transmission.model_dump(mode="json"),
                    told_by=told_by,
                    least_certainty=least_certainty,
                    audio=flac if session.consent else None,
                )
            )
        return number

    def keep_verdict(
        self, session_id: int, verdict: Verdict, *, instruction: int, readback: int | None
    ) -> int:
        """Keep the verdict on an exchange of kept transmissions; on disk when this returns.

        Args:
            session_id: From `begin`.
            verdict: The program's.
            instruction: Number of the transmission.
            readback: Number of the transmission; None where nothing answered.

        Returns:
            The exchange's number in the session.
        """
        with self.database.writing() as connection:
            self._open_session(connection, session_id)
            for number in (instruction, readback):
                if number is not None:
                    _one_transmission(connection, session_id, number)
            highest = select(func.max(JUDGEMENTS.c.number)).where(
                JUDGEMENTS.c.session_id == session_id, JUDGEMENTS.c.after_correction == 0
            )
            number = (connection.execute(highest).scalar() or 0) + 1
            connection.execute(
                insert(JUDGEMENTS).values(
                    _judgement(session_id, 0, number, instruction, readback, verdict, self._stamp())
                )
            )
        return number

    def finish(
        self, session_id: int, *, result: SessionResult | None = None, remarks: str = ""
    ) -> None:
        """End a session; from here on only corrections change it."""
        with self.database.writing() as connection:
            self._open_session(connection, session_id)
            values: dict[str, Any] = {"finished_at": self._stamp()}
            if result is not None:
                values["result"] = result
            if remarks:
                values["remarks"] = remarks
            connection.execute(update(SESSIONS).where(SESSIONS.c.id == session_id).values(**values))

    def load(self, session_id: int) -> KeptSession:
        """Read one session with its corrections applied.

        Raises:
            InputError: There is none of that number, it was deleted, or its retention time is over.
        """
        with self.database.reading() as connection:
            row = self._session_row(connection, session_id, locked=False)
            self._refuse_expired(row)
            return load_session(connection, row)

    def sessions(
        self,
        *,
        trainee: str | None = None,
        group: str | None = None,
        instructor: str | None = None,
    ) -> Iterator[KeptSession]:
        """Read sessions within their retention time, the oldest first, one at a time.

        Args:
            trainee: Only this one's; None: everybody's.
            group: Only this one's; None: every group's.
            instructor: Only this one's; None: every instructor's.
        """
        wanted = select(SESSIONS).order_by(SESSIONS.c.training_date, SESSIONS.c.id)
        for name, value in (("trainee", trainee), ("group", group), ("instructor", instructor)):
            if value is not None:
                wanted = wanted.where(SESSIONS.c[name] == value)
        with self.database.reading() as connection:
            for row in connection.execute(wanted).all():
                if row.keep_until is None or row.keep_until >= self.today:
                    yield load_session(connection, row)

    def expired(self) -> tuple[int, ...]:
        """Name the sessions whose retention time is over."""
        with self.database.reading() as connection:
            over = select(SESSIONS.c.id).where(SESSIONS.c.keep_until < self.today)
            return tuple(connection.execute(over.order_by(SESSIONS.c.id)).scalars())

    def tombstones(self) -> tuple[Tombstone, ...]:
        """Tell which sessions were deleted, and when."""
        with self.database.reading() as connection:
            rows = connection.execute(select(TOMBSTONES).order_by(TOMBSTONES.c.session_id))
            return tuple(Tombstone(**row._mapping) for row in rows)

    def audio(self, session_id: int, number: int) -> bytes | None:
        """Read the sound of one transmission as FLAC; None where none was kept."""
        with self.database.reading() as connection:
            self._refuse_expired(self._session_row(connection, session_id, locked=False))
            flac: bytes | None = _one_transmission(connection, session_id, number).audio
            return flac

    def correct(
        self,
        session_id: int,
        kind: CorrectionKind,
        target: int | None,
        corrected: Corrected,
        *,
        by: str,
        why: str,
    ) -> KeptSession:
        """Correct one thing and judge everything that follows from it again.

        Args:
            session_id: Number of the session.
            kind: What is corrected.
            target: Number of the transmission: of the instruction for a pairing, of either side for
                a verdict; None for result and remarks.
            corrected: What is right: the words, the station, the readback's number (None: nothing
                answered; ``"none"``: it is no instruction), the verdict's word, the result, the
                remarks; or field -> value of the details that `stating.DETAILS` names.
            by: Who corrects.
            why: The reason.

        Returns:
            The session as it is now.

        Raises:
            InputError: The target or what is said to be right does not exist.
        """
        with self.database.writing() as connection:
            row = self._session_row(connection, session_id)
            self._refuse_expired(row)
            before = load_session(connection, row)
            number = _next_number(connection, CORRECTIONS, session_id)
            correction = state_correction(
                before, number, kind, target, corrected, by=by, why=why, at=self._now()
            )
            connection.execute(
                insert(CORRECTIONS).values(
                    session_id=session_id, **correction.model_dump(mode="json")
                )
            )
            if kind is CorrectionKind.DETAILS:
                row = self._change_details(connection, before, correction)
            after = before.model_copy(update={"corrections": (*before.corrections, correction)})
            local = self._wording(connection, before.head.local_version)
            for exchange in rejudge(current_session(after), correction, local):
                connection.execute(
                    insert(JUDGEMENTS).values(
                        _judgement(
                            session_id,
                            number,
                            exchange.number,
                            exchange.instruction,
                            exchange.readback,
                            exchange.verdict,
                            self._stamp(),
                        )
                    )
                )
            return load_session(connection, row)

    def _change_details(
        self, connection: Connection, session: KeptSession, correction: Correction
    ) -> Row[Any]:
        """Change the row itself: sessions are found by their trainee, group and retention time."""
        assert isinstance(correction.corrected, dict)
        head = changed_head(session.head, correction.corrected)
        values = {name: getattr(head, name) for name in correction.corrected}
        connection.execute(update(SESSIONS).where(SESSIONS.c.id == session.id).values(values))
        return self._session_row(connection, session.id)

    def _wording(self, connection: Connection, version: str | None) -> LocalWording:
        if version is None:
            return LocalWording()
        if self._wordings is None:
            self._wordings = TemporaryDirectory()
        return load_wording(connection, version, Path(self._wordings.name))

    def _stamp(self) -> str:
        return self._now().astimezone(UTC).isoformat()

    def _session_row(
        self, connection: Connection, session_id: int, *, locked: bool = True
    ) -> Row[Any]:
        # A number that no column can hold is no session's.
        key = session_id if 0 < session_id <= _HIGHEST_ID else 0
        wanted = select(SESSIONS).where(SESSIONS.c.id == key)
        # Writers of one session come one after the other; SQLite leaves FOR UPDATE out.
        row = connection.execute(wanted.with_for_update() if locked else wanted).one_or_none()
        if row is not None:
            return row
        gone = select(TOMBSTONES.c.deleted_on).where(TOMBSTONES.c.session_id == key)
        deleted_on = connection.execute(gone).scalar()
        what = f"was deleted on {deleted_on}" if deleted_on else "there is none of that number"
        raise InputError(f"Session {session_id}: {what}.", "See readback records list.")

    def _refuse_expired(self, row: Row[Any]) -> None:
        if row.keep_until is not None and row.keep_until < self.today:
            raise InputError(
                f"Session {row.id}: its retention time ended on {row.keep_until}.",
                "Delete it with readback records delete --expired.",
            )

    def _open_session(self, connection: Connection, session_id: int) -> Row[Any]:
        row = self._session_row(connection, session_id)
        if row.finished_at is not None:
            raise InputError(
                f"Session {session_id}: is finished.", "Correct it, or begin another session."
            )
        return row


def _next_number(connection: Connection, table: Any, session_id: int) -> int:
    highest = select(func.max(table.c.number)).where(table.c.session_id == session_id)
    return (connection.execute(highest).scalar() or 0) + 1


def _one_transmission(connection: Connection, session_id: int, number: int) -> Row[Any]:
    wanted = select(TRANSMISSIONS).where(
        TRANSMISSIONS.c.session_id == session_id, TRANSMISSIONS.c.number == number
    )
    row = connection.execute(wanted).one_or_none()
    if row is None:
        raise InputError(
            f"Session {session_id} has no transmission {number}.",
            f"See readback records show {session_id}.",
        )
    return row


def _judgement(
    session_id: int,
    after_correction: int,
    number: int,
    instruction: int,
    readback: int | None,
    verdict: Verdict,
    judged_at: str,
) -> dict[str, Any]:
    return {
        "session_id": session_id,
        "after_correction": after_correction,
        "number": number,
        "instruction": instruction,
        "readback": readback,
        "verdict": verdict.model_dump(mode="json"),
        "judged_at": judged_at,
    }
