"""Deletion that leaves a date and nothing else; backups, and restoring them."""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path

from sqlalchemy import Connection, delete, func, insert, select, text, update

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
    _pack(store.database, wait_s)
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
    _pack(store.database, wait_s)
    return tuple(wanted)


def _require(connection: Connection, session_ids: Iterable[int]) -> None:
    there = set(connection.execute(select(SESSIONS.c.id)).scalars())
    for number in session_ids:
        if number not in there:
            raise InputError(
                f"Session {number}: there is none of that number; nothing was deleted.",
                "See readback records list.",
            )


def back_up(store: Store, path: str | os.PathLike[str]) -> None:
    """Copy the records into a new SQLite file of the owner's alone, while others may use them.

    Raises:
        InputError: The file exists or cannot be written.
    """
    target = Path(path)
    try:
        os.close(os.open(target, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError as error:
        raise InputError(f"{target}: exists already.", "Give the path of a new file.") from error
    except OSError as error:
        raise InputError(
            f"{target}: cannot be written ({error.strerror}).", "Give another path."
        ) from error
    try:
        if store.database.file is None:
            with closing(Database(target)) as copy:
                _copy(store.database, copy)
        else:
            with _connected(store.database.file) as old, _connected(target) as new:
                old.backup(new)
        with _connected(target) as new:
            # One file that needs no log beside it.
            new.execute("PRAGMA journal_mode=DELETE")
        _check(target)
    except sqlite3.Error as error:
        target.unlink(missing_ok=True)
        raise InputError(
            f"{target}: the backup failed ({error}).", "Free some space, or give another path."
        ) from error
    except InputError:
        target.unlink(missing_ok=True)
        raise


def restore(store: Store, path: str | os.PathLike[str], *, replace: bool = False) -> int:
    """Put a backup in the place of the records; what was deleted since stays deleted.

    Args:
        store: The records to be replaced; of the kind of database backed up or of another.
        path: A file made by `back_up`.
        replace: Whether sessions that are there now may be lost.

    Returns:
        How many sessions of the backup were deleted again.

    Raises:
        InputError: The file is no backup, or sessions are there and ``replace`` is False.
    """
    backup = Path(path)
    if not backup.is_file():
        raise InputError(f"{backup}: no such file.", "Give the path of a backup of records.")
    _check(backup)
    with store.database.reading() as connection:
        there = len(connection.execute(select(SESSIONS.c.id)).all())
    if there and not replace:
        raise InputError(
            f"{store.database.name}: holds {there} sessions, which would be lost.",
            "Back them up, then restore with --replace.",
        )
    graves = {grave.session_id: grave.deleted_on for grave in store.tombstones()}
    if store.database.file is None:
        with tempfile.TemporaryDirectory() as folder:
            # A backup of an older program is brought up to date as it is opened: in a copy.
            copied = shutil.copy(backup, folder)
            with closing(Database(copied)) as copy:
                _copy(copy, store.database)
        return _bury_again(store, graves)
    own = store.database.file
    with store.database.telling(), _connected(backup) as old, _connected(own) as new:
        old.backup(new)
    # A backup of an older program is brought up to date as it is opened.
    with closing(Store(own)) as restored:
        return _bury_again(restored, graves)


def _copy(source: Database, target: Database) -> None:
    """Put all rows of one database in the place of those of another; all of them or none."""
    tables = METADATA.sorted_tables
    with source.reading() as old, target.writing() as new:
        for table in reversed(tables):
            new.execute(delete(table))
        for table in tables:
            # One row at a time: sound is large.
            for row in old.execute(select(table).execution_options(yield_per=1)).mappings():
                new.execute(insert(table).values(dict(row)))
        _count_on(new)


def _highest_number(connection: Connection) -> int:
    """Give the highest number that a session has or had; 0 for none."""
    highest = [func.max(SESSIONS.c.id), func.max(TOMBSTONES.c.session_id)]
    return max(connection.execute(select(one)).scalar() or 0 for one in highest)


def _bury_again(store: Store, graves: dict[int, date]) -> int:
    with store.database.reading() as connection:
        there = set(connection.execute(select(SESSIONS.c.id)).scalars())
    back = delete_sessions(store, there & graves.keys())
    with store.database.writing() as connection:
        connection.execute(delete(TOMBSTONES).where(TOMBSTONES.c.session_id.in_(graves)))
        for number, deleted_on in graves.items():
            connection.execute(insert(TOMBSTONES).values(session_id=number, deleted_on=deleted_on))
        _count_on(connection)
    return len(back)


def _count_on(connection: Connection) -> None:
    """Let the next session's number follow the highest ever given, deleted ones included."""
    last = _highest_number(connection)
    if not last:
        return
    if connection.dialect.name == "sqlite":
        # No row stands there before the first session was inserted.
        connection.execute(text("DELETE FROM sqlite_sequence WHERE name = 'sessions'"))
        put = "INSERT INTO sqlite_sequence (name, seq) VALUES ('sessions', :last)"
    else:
        put = "SELECT setval(pg_get_serial_sequence('sessions', 'id'), :last)"
    connection.execute(text(put), {"last": last})


def _pack(database: Database, wait_s: float) -> None:
    """Write the file anew without what was deleted, and empty its log."""
    with database.telling():
        if database.file is not None:
            with _connected(database.file, wait_s) as connection:
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


def _check(path: Path) -> None:
    """Find out whether a file is a whole database of records."""
    fault = InputError(
        f"{path}: is no backup of records, or is damaged.", "Give a file made by records backup."
    )
    try:
        with _connected(path) as connection:
            found = connection.execute("PRAGMA integrity_check").fetchone()[0]
            connection.execute("SELECT version_num FROM alembic_version").fetchone()
            connection.execute("SELECT id FROM sessions").fetchone()
    except sqlite3.Error as error:
        raise fault from error
    if found != "ok":
        raise fault


@contextmanager
def _connected(path: Path, wait_s: float = WAIT_S) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, timeout=wait_s, isolation_level=None)) as connection:
        yield connection
