"""A PostgreSQL server of the tests' own: in a temporary folder, on a socket, by nobody."""

import os
import shutil
import subprocess
import tempfile
from itertools import count
from pathlib import Path

import psycopg

from readback.records.store import Store
from readback.records.tables import METADATA

_USER = "readback"
_RECORDS = "records"


class Cluster:
    """One server with its data; it dies and vanishes with `close`."""

    def __init__(self) -> None:
        # A socket's path has room for about 100 characters: a test's own folder may be too long.
        self.folder = Path(tempfile.mkdtemp(prefix="rb-pg-"))
        self._data = self.folder / "data"
        self._numbers = count(1)
        if os.geteuid() == 0:
            # The server refuses to run as root.
            shutil.chown(self.folder, "nobody")
        self._run("initdb", "-D", self._data, "-U", _USER, "-A", "trust", "-E", "UTF8", "--no-sync")
        self.start()
        self._make(_RECORDS)
        Store(self.url(_RECORDS)).close()

    def start(self) -> None:
        options = f"-c listen_addresses='' -c unix_socket_directories='{self.folder}' -c fsync=off"
        log = self.folder / "log"
        self._run("pg_ctl", "-w", "-s", "-D", self._data, "-l", log, "-o", options, "start")

    def stop(self, mode: str) -> None:
        self._run("pg_ctl", "-w", "-s", "-D", self._data, "-m", mode, "stop")

    def url(self, database: str) -> str:
        return f"postgresql://{_USER}@/{database}?host={self.folder}"

    def emptied(self) -> str:
        """Give the URL of records without any session: the same for each test, made empty."""
        tables = ", ".join(f'"{table.name}"' for table in METADATA.sorted_tables)
        with psycopg.connect(self.url(_RECORDS), autocommit=True) as connection:
            connection.execute("SET lock_timeout = '30s'")
            connection.execute(f"TRUNCATE {tables} RESTART IDENTITY")
        return self.url(_RECORDS)

    def new_empty_database(self) -> str:
        """Give the URL of a database without any table."""
        name = f"empty{next(self._numbers)}"
        self._make(name)
        return self.url(name)

    def close(self) -> None:
        self.stop("immediate")
        shutil.rmtree(self.folder)

    def _make(self, name: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")

    def _run(self, program: str, *arguments: object) -> None:
        command = [str(_programs() / program), *map(str, arguments)]
        user = "nobody" if os.geteuid() == 0 else None
        ran = subprocess.run(
            command, user=user, cwd=self.folder, stdin=subprocess.DEVNULL, capture_output=True
        )
        assert ran.returncode == 0, ran.stderr.decode()


def _programs() -> Path:
    """Find the server's programs, which Debian does not put on the path."""
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    return max(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
