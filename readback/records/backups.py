"""Backups, and restoring them: of either kind of database into either."""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select, text

from readback.errors import InputError
from readback.records.database import Database
from readback.records.private import create_private
from readback.records.removal import connected, pack
from readback.records.store import Store
from readback.records.tables import METADATA, SESSIONS, TOMBSTONES, TRANSMISSIONS


def back_up(store: Store, path: str | os.PathLike[str]) -> None:
    """Copy the records into a new SQLite file of the owner's alone, while others may use them.

    Raises:
        InputError: The file exists or cannot be written.
    """
    target = Path(path)
    os.close(create_private(target))
    try:
        if store.database.file is None:
            with closing(Database(target)) as copy:
                _copy(store.database, copy)
        else:
            with connected(store.database.file) as old, connected(target) as new:
                old.backup(new)
        with connected(target) as new:
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
        what = "is no file" if backup.exists() else "no such file"
        raise InputError(f"{backup}: {what}.", "Give the path of a backup of records.")
    _check(backup)
    with store.database.reading() as connection:
        there = len(connection.execute(select(SESSIONS.c.id)).all())
    if there and not replace:
        raise InputError(
            f"{store.database.name}: the sessions in it ({there}) would be lost.",
            "Back them up, then restore with --replace.",
        )
    removed = _Removed.of(store)
    with tempfile.TemporaryDirectory() as folder:
        # A backup of an older program is brought up to date as it is opened: in a copy.
        copied = shutil.copy(backup, folder)
        with closing(Database(copied)) as copy:
            _copy(copy, store.database, removed)
            again = _count_sessions(copy, removed.graves)
    pack(store.database)
    return again


@dataclass(frozen=True)
class _Removed:
    """What was deleted, and is not to come back."""

    graves: dict[int, date] = field(default_factory=dict)
    """Session -> date of its deletion."""
    silent: frozenset[tuple[int, str]] = frozenset()
    """Number and begin of the sessions that have no consent."""

    @classmethod
    def of(cls, store: Store) -> "_Removed":
        without = select(SESSIONS.c.id, SESSIONS.c.begun_at).where(SESSIONS.c.consent.is_(False))
        with store.database.reading() as connection:
            silent = frozenset((row.id, row.begun_at) for row in connection.execute(without))
        return cls({one.session_id: one.deleted_on for one in store.tombstones()}, silent)

    def keep(self, table: Table, row: dict[str, Any], quiet: set[int]) -> dict[str, Any] | None:
        """Give a row of a backup as it may come back; None: not at all.

        Args:
            table: Whose row it is.
            row: Its values.
            quiet: Sessions seen until now whose sound may not come back.
        """
        number = row.get("id" if table is SESSIONS else "session_id")
        if number in self.graves:
            return None
        if table is SESSIONS and (number, row["begun_at"]) in self.silent:
            quiet.add(row["id"])
            return {**row, "consent": False}
        return {**row, "audio": None} if table is TRANSMISSIONS and number in quiet else row


_NOTHING = _Removed()


def _copy(source: Database, target: Database, removed: _Removed = _NOTHING) -> None:
    """Put the rows of one database in the place of those of another; all of them or none."""
    tables = METADATA.sorted_tables
    quiet: set[int] = set()
    with source.reading() as old, target.writing() as new:
        for table in reversed(tables):
            new.execute(delete(table))
        for table in tables:
            # One row at a time: sound is large.
            for row in old.execute(select(table).execution_options(yield_per=1)).mappings():
                kept = removed.keep(table, dict(row), quiet)
                if kept is not None:
                    new.execute(insert(table).values(kept))
        for number, deleted_on in removed.graves.items():
            new.execute(insert(TOMBSTONES).values(session_id=number, deleted_on=deleted_on))
        _count_on(new)


def _count_sessions(database: Database, numbers: Iterable[int]) -> int:
    wanted = select(SESSIONS.c.id).where(SESSIONS.c.id.in_(numbers))
    with database.reading() as connection:
        return len(connection.execute(wanted).all())


def _highest_number(connection: Connection) -> int:
    """Give the highest number that a session has or had; 0 for none."""
    highest = [func.max(SESSIONS.c.id), func.max(TOMBSTONES.c.session_id)]
    return max(connection.execute(select(one)).scalar() or 0 for one in highest)


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


def _check(path: Path) -> None:
    """Find out whether a file is a whole database of records."""
    fault = InputError(
        f"{path}: is no backup of records, or is damaged.", "Give a file made by records backup."
    )
    try:
        with connected(path) as connection:
            found = connection.execute("PRAGMA integrity_check").fetchone()[0]
            connection.execute("SELECT version_num FROM alembic_version").fetchone()
            connection.execute("SELECT id FROM sessions").fetchone()
    except sqlite3.Error as error:
        raise fault from error
    if found != "ok":
        raise fault
