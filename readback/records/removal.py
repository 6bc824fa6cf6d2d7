"""Deletion that leaves a date and nothing else."""

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Connection, delete, insert, select, text, update

from readback.errors import InputError
from readback.records.database import WAIT_S, Database
from readback.records.store import Store
from readback.records.tables import METADATA, PERSONAL, SESSIONS, TOMBSTONES, TRANSMISSIONS


def delete_sessions(
    store: Store, session_ids: Iterable[int], *, wait_s: float = WAIT_S
) -> tuple[int, ...]:
    """Delete sessions: words, sound, verdicts, corrections, names and remarks.

    A tombstone with the session's number and the date stays. In an SQLite file the bytes are
    overwritten and the file is packed; what a disk or a backup keeps beside it is out of reach.

    Args:
        store: The records.
        session_ids: Numbers of sessions.
        wait_s: How long to wait for other programs before the file is packed.

    Returns:
        The numbers deleted.

    Raises:
        InputError: One of them does not exist: none is deleted then. Or another program keeps the
            file from being packed: they are deleted, and the next deletion packs it.
    """
    wanted = sorted(set(session_ids))
    with store.database.writing() as connection:
        _require(connection, wanted)
        for number in wanted:
            for table in PERSONAL:
                connection.execute(delete(table).where(table.c.session_id == number))
            connection.execute(delete(SESSIONS).where(SESSIONS.c.id == number))
            connection.execute(insert(TOMBSTONES).values(session_id=number, deleted_on=store.today))
    pack(store.database, wait_s)
    return tuple(wanted)


def delete_sound(
    store: Store, session_ids: Iterable[int], *, wait_s: float = WAIT_S
) -> tuple[int, ...]:
    """Delete the sound of sessions whose consent is withdrawn; words and verdicts stay.

    Args, bytes and errors as in `delete_sessions`.
    """
    wanted = sorted(set(session_ids))
    with store.database.writing() as connection:
        _require(connection, wanted)
        of_them = TRANSMISSIONS.c.session_id.in_(wanted)
        connection.execute(update(TRANSMISSIONS).where(of_them).values(audio=None))
        connection.execute(update(SESSIONS).where(SESSIONS.c.id.in_(wanted)).values(consent=False))
    pack(store.database, wait_s)
    return tuple(wanted)


def _require(connection: Connection, session_ids: Iterable[int]) -> None:
    there = set(connection.execute(select(SESSIONS.c.id)).scalars())
    for number in session_ids:
        if number not in there:
            raise InputError(
                f"Session {number}: there is none of that number; nothing was deleted.",
                "See readback records list.",
            )


def pack(database: Database, wait_s: float = WAIT_S) -> None:
    """Write the file anew without what was deleted, and empty its log."""
    with database.telling():
        if database.file is not None:
            with connected(database.file, wait_s) as connection:
                connection.execute("PRAGMA secure_delete=ON")
                _empty_log(connection, database)
                connection.execute("VACUUM")
                _empty_log(connection, database)
            return
        with database.engine.connect() as other:
            other = other.execution_options(isolation_level="AUTOCOMMIT")
            for table in METADATA.sorted_tables:
                other.execute(text(f"VACUUM (FULL) {table.name}"))


def _empty_log(connection: sqlite3.Connection, database: Database) -> None:
    busy, _, _ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if busy:
        raise InputError(
            f"{database.name}: the sessions are deleted, but another program keeps the file open.",
            "End it, and run readback records delete --expired, which packs the file.",
        )


@contextmanager
def connected(path: Path, wait_s: float = WAIT_S) -> Iterator[sqlite3.Connection]:
    """Give a plain connection to an SQLite file; every statement is on disk at once."""
    with closing(sqlite3.connect(path, timeout=wait_s, isolation_level=None)) as connection:
        yield connection
