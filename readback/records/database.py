"""The database of the records: opened, migrated, kept private; its errors told in one line."""

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import (
    ArgumentError,
    DataError,
    DBAPIError,
    IntegrityError,
    NoSuchModuleError,
    ProgrammingError,
)

from readback.errors import InputError

NEWEST = "0003"
"""The last revision in `migrations/versions/`."""
WAIT_S = 30.0
"""How long one program waits while another writes."""

_MIGRATIONS = Path(__file__).parent / "migrations"
_OWNER_ONLY = 0o600
_OWNER_ONLY_FOLDER = 0o700
_WRITES = "readback_writes"
_SQLITE_HEADER = b"SQLite format 3\0"
"""The first bytes of every SQLite file with a table in it (SQLite's file format, 1.3.1)."""
_NO_RECORDS = "is no database of records, or is damaged."
_ANOTHER_FILE = "Give another file, or move it away and restore a backup."
_NOT_PERMITTED = "42501"
"""SQLSTATE of PostgreSQL, appendix A: insufficient_privilege."""
_MIGRATION_LOCK = 0x7265616462
"""Any number that no other program in the same database takes."""


class Database:
    """One database: an SQLite file, or another one by its URL.

    Args:
        where: Path of the SQLite file, made if there is none, readable by its owner alone; or a
            URL as SQLAlchemy takes it, such as ``postgresql://desk@school/records``. PostgreSQL
            needs the extra ``postgres``; other kinds of database are not tested.

    Raises:
        InputError: It cannot be opened, is no database of records, or a newer program made it.
    """

    def __init__(self, where: str | os.PathLike[str]) -> None:
        self.url, self.file = _read_where(where)
        self.name = str(self.file) if self.file else self.url.render_as_string(hide_password=True)
        if self.file is not None:
            _refuse_other_files(self.file)
            _make_private(self.file)
        with self.telling():
            self.engine = self._make_engine()
        with self.writing() as connection:
            _migrate(connection, self.name)

    @property
    def is_sqlite(self) -> bool:
        """Tell whether it is an SQLite file."""
        return self.file is not None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the database."""
        with self.telling(), self.engine.connect() as connection:
            if not self.is_sqlite:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection for one change; on disk at the end, or undone on an error."""
        with self.telling(), self.engine.connect() as connection:
            connection = connection.execution_options(**{_WRITES: True})
            with connection.begin():
                yield connection

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Raise what the database raises as an `InputError` that says what to do."""
        try:
            yield
        except (NoSuchModuleError, ImportError) as error:
            raise InputError(
                f"{self.url.drivername}: this kind of database has no driver here.",
                "For PostgreSQL install readback[postgres]; or give an SQLite file.",
            ) from error
        except UnicodeEncodeError as error:
            raise InputError("A text holds what is no character.", "Type it again.") from error
        except DataError as error:
            # PostgreSQL takes no zero byte in a text.
            raise InputError("A text holds what is no character.", "Type it again.") from error
        except ProgrammingError as error:
            if getattr(error.orig, "sqlstate", None) != _NOT_PERMITTED:
                # A mistake of ours, not of the user's.
                raise
            raise self._explained(error) from error
        except IntegrityError:
            raise
        except (DBAPIError, sqlite3.Error) as error:
            raise self._explained(error) from error

    def close(self) -> None:
        """Close all connections; safe to call twice."""
        self.engine.dispose()

    def _make_engine(self) -> Engine:
        if not self.is_sqlite:
            # A server that was started anew in between is asked again instead of failing once.
            return create_engine(self.url, pool_pre_ping=True)
        engine = create_engine(self.url)
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
        return engine

    def _explained(self, error: Exception) -> InputError:
        reason = str(error.orig if isinstance(error, DBAPIError) else error).split("\n")[0]
        lowered = reason.lower()
        if any(sign in lowered for sign in ("is full", "disk i/o", "no space left")):
            return InputError(
                f"{self.name}: the disk is full or failing ({reason}).",
                "Free some space; what was kept before is intact.",
            )
        if "locked" in lowered or "busy" in lowered:
            return InputError(
                f"{self.name}: another program is using the records.", "End it and try again."
            )
        if "not a database" in lowered or "malformed" in lowered:
            return InputError(f"{self.name}: {_NO_RECORDS}", _ANOTHER_FILE)
        if any(sign in lowered for sign in ("readonly", "unable to open", "permission denied")):
            return InputError(
                f"{self.name}: the records cannot be written ({reason}).",
                "Change its permissions, or give another path or address.",
            )
        return InputError(f"{self.name}: {reason}.", "Check the database and its address.")


def _read_where(where: str | os.PathLike[str]) -> tuple[URL, Path | None]:
    given = os.fspath(where)
    if "://" not in given:
        if "\0" in given or not given.strip():
            raise InputError(f"{given!r} is no path.", "Give the path of the records' file.")
        path = Path(given).expanduser().absolute()
        return URL.create("sqlite", database=str(path)), path
    try:
        url = make_url(given)
    except ArgumentError as error:
        raise InputError(
            f"{given!r} is no address of a database.",
            "Give a path, or a URL as SQLAlchemy takes it.",
        ) from error
    if url.drivername in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg"), None
    if url.get_backend_name() != "sqlite":
        return url, None
    if not url.database or url.database == ":memory:":
        raise InputError("Records are not kept in memory.", "Give the path of a file.")
    return _read_where(url.database)


def _refuse_other_files(path: Path) -> None:
    """Leave alone what is no SQLite file: not even its permissions change.

    Raises:
        InputError: The file holds something else.
    """
    try:
        with path.open("rb") as file:
            start = file.read(len(_SQLITE_HEADER))
    except OSError:
        # What keeps it from being opened is told by what opens it.
        return
    # An empty one is a database without tables.
    if start and start != _SQLITE_HEADER:
        raise InputError(f"{path}: {_NO_RECORDS}", _ANOTHER_FILE)


def _make_private(path: Path) -> None:
    """Make file and folder for the owner alone; SQLite gives its log the same permissions."""
    try:
        path.parent.mkdir(mode=_OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        # Never readable by others, not even between making it and changing it.
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, _OWNER_ONLY))
        for own in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
            if own.exists():
                own.chmod(_OWNER_ONLY)
    except OSError as error:
        raise InputError(
            f"{path}: the records cannot be kept there ({error.strerror}).",
            "Give the path of a file that you may write.",
        ) from error


def _prepare(connection: Any, _: object) -> None:
    # The driver's own guesses at transactions would begin them too late to hold off other writers.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout={int(WAIT_S * 1000)}")
    _write_ahead(cursor)
    # FULL: what was committed outlives a power cut too.
    for pragma in ("synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _write_ahead(cursor: Any) -> None:
    """Set the write-ahead log; SQLite does not wait for other programs while it is first set."""
    end = time.monotonic() + WAIT_S
    while True:
        try:
            cursor.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > end:
                raise
            time.sleep(0.05)


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(_WRITES)
    # A reader that turns writer cannot wait for another writer: writers say so at once.
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _migrate(connection: Connection, name: str) -> None:
    from alembic.runtime.migration import MigrationContext

    current = MigrationContext.configure(connection).get_current_revision()
    if current == NEWEST:
        return
    if connection.dialect.name == "postgresql":
        # Two desks that start at once: the second waits, and finds the tables made.
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATION_LOCK})
        current = MigrationContext.configure(connection).get_current_revision()
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    # Alembic reads % as the start of a substitution.
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if current is not None and current not in known:
        raise InputError(
            f"{name}: a newer readback made these records (their revision is {current}).",
            "Use that one, or a newer one.",
        )
    if current is None and _has_tables(connection):
        raise InputError(
            f"{name}: is a database, but not one of records.", "Give the path of another file."
        )
    command.upgrade(config, "head")


def _has_tables(connection: Connection) -> bool:
    from sqlalchemy import inspect

    return bool(inspect(connection).get_table_names())
