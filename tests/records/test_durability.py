"""Killed programs, two at once, and a full disk: what was committed is there, and sound."""

import multiprocessing
import os
import random
import resource
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from readback.commands.records import write_private
from readback.errors import InputError
from readback.records.backups import back_up
from readback.records.store import Store
from readback.transmission import Transmission
from tests.records.conftest import ON_A_SERVER
from tests.records.writer import HEAD, SOUND, write

KILLS = 50
LONGEST_S = 0.1
# The parent has loaded everything: a child writes at once, so that 50 of them take seconds.
CONTEXT = multiprocessing.get_context("fork")


def kill_while_writing(where: str, after_s: float, *, begun: bool) -> tuple[int, int]:
    """Start a writer, kill it, and tell its session and how many transmissions it committed.

    Args:
        where: The records.
        after_s: When it is killed.
        begun: Count that from when it has begun its session, not from its start.

    Returns:
        Both 0 where it was killed before it began a session.
    """
    reading, writing = os.pipe()
    child = CONTEXT.Process(target=write, args=(where, writing))
    child.start()
    os.close(writing)
    with os.fdopen(reading) as told:
        first = told.readline() if begun else ""
        time.sleep(after_s)
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        lines = [int(line) for line in (first + told.read()).splitlines(keepends=True)
                 if line.endswith("\n")]  # fmt: skip
    assert child.exitcode == -signal.SIGKILL
    return (lines[0], len(lines) - 1) if lines else (0, 0)


def assert_kept(store: Store, session: int, committed: int) -> None:
    kept = store.load(session).transmissions
    assert len(kept) >= committed
    assert [one.original.text for one in kept] == [f"word {n}" for n in range(1, len(kept) + 1)]
    assert all(store.audio(session, one.number) == SOUND for one in kept[-2:])


def test_fifty_programs_killed_while_they_write_lose_nothing_committed(tmp_path):
    rng = random.Random(8)
    committed: dict[str, dict[int, int]] = {}
    for kill in range(KILLS):
        # Every fifth one on a new file, killed while it makes the tables or soon after.
        where = str(tmp_path / f"{kill // 5}.sqlite3")
        own = committed.setdefault(where, {})
        session, count = kill_while_writing(where, rng.uniform(0, LONGEST_S), begun=kill % 5 > 0)
        if session:
            own[session] = count
        with closing(sqlite3.connect(where)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        with Store(where) as store:
            for number, least in own.items():
                assert_kept(store, number, least)

    killed = [count for own in committed.values() for count in own.values()]
    assert len(killed) >= KILLS * 4 // 5
    # Else this test would have killed nobody at work.
    assert sum(killed) > KILLS


@ON_A_SERVER
def test_programs_killed_while_they_write_to_a_server_lose_nothing_committed(where, store):
    rng = random.Random(8)
    committed = dict(
        kill_while_writing(where, rng.uniform(0, LONGEST_S), begun=True) for _ in range(KILLS // 5)
    )

    assert len(committed) == KILLS // 5
    for session, least in committed.items():
        assert_kept(store, session, least)


@contextmanager
def small_disk(folder: Path) -> Iterator[None]:
    """Mount a disk in memory that holds little."""
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "test", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)


@contextmanager
def small_files(_: Path, most_bytes: int = 1 << 20) -> Iterator[None]:
    """Let no file of this process grow beyond what that disk holds."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def can_mount() -> bool:
    """Tell whether disks can be mounted here: not everywhere, not even for root."""
    with TemporaryDirectory() as folder:
        try:
            with small_disk(Path(folder)):
                return True
        except (OSError, subprocess.CalledProcessError):
            return False


@pytest.fixture(params=[small_files, *([small_disk] if can_mount() else [])])
def full(request, tmp_path) -> Iterator[tuple[Store, int]]:
    """A store on a disk that is full, and how many transmissions its session 1 has."""
    folder = tmp_path / "disk"
    folder.mkdir()
    with request.param(folder), Store(folder / "records.sqlite3") as store:
        store.begin(HEAD)
        said = Transmission.typed("hold short")
        kept = 0
        with pytest.raises(InputError, match="the disk is full or failing") as told:
            while kept < 1000:
                store.keep_transmission(1, said, flac=os.urandom(40_000))
                kept += 1
        assert "\n" not in str(told.value)
        yield store, kept


def test_a_full_disk_is_told_and_earlier_records_stay(full):
    store, kept = full

    assert 5 < kept < 100
    assert len(store.load(1).transmissions) == kept
    with closing(sqlite3.connect(store.database.file)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_backup_that_finds_no_room_is_told_and_leaves_no_half(full):
    store, kept = full
    target = store.database.file.with_name("backup.sqlite3")

    with small_files(target.parent, 100_000), pytest.raises(InputError, match="Free some space"):
        back_up(store, target)

    assert not target.exists()
    assert len(store.load(1).transmissions) == kept


def test_an_export_that_finds_no_room_is_told_and_leaves_no_half(full):
    store, _ = full
    target = store.database.file.with_name("out.html")

    with pytest.raises(InputError, match="cannot be written"):
        for number in range(100):
            write_private(["x" * 100_000] * 12, target.with_name(f"{number}.html"))

    assert not target.with_name(f"{number}.html").exists()
