import os
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from readback.errors import InputError
from readback.records.database import NEWEST
from readback.records.model import CorrectionKind
from readback.records.store import Store
from readback.records.tables import METADATA
from readback.transmission import Transmission
from tests.records.conftest import ON_A_FILE, ON_A_SERVER


def start_writer(where, count) -> subprocess.Popen:
    command = [sys.executable, "-m", "tests.records.writer", where, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_what_is_kept_is_read_back(store, keep_session, head):
    session = store.load(keep_session())

    assert session.head == head(remarks="Watch the sides.")
    assert [kept.current.station for kept in session.transmissions] == ["tower", "flight deck"] * 2
    assert [exchange.outcome for exchange in session.exchanges] == ["correct", "incorrect"]
    assert session.exchanges == session.first_exchanges
    assert session.score.pass_rate == 0.5
    assert session.score.result == "not passed"


def test_the_migrations_make_the_tables_that_the_code_uses(store):
    with store.database.reading() as connection:
        context = MigrationContext.configure(connection)

        assert context.get_current_revision() == NEWEST
        assert compare_metadata(context, METADATA) == []


TO_0002 = (
    "ALTER TABLE transmissions DROP COLUMN told_by",
    "ALTER TABLE transmissions DROP COLUMN least_certainty",
)
TO_0001 = (*TO_0002, "DROP TABLE wordings", "ALTER TABLE sessions DROP COLUMN local_version")


@pytest.mark.parametrize(("revision", "changes"), [("0001", TO_0001), ("0002", TO_0002)])
def test_records_of_an_older_program_are_brought_up_to_date(
    where, store, keep_session, revision, changes
):
    before = store.load(keep_session(least_certainty=0.5))
    with store.database.writing() as connection:
        # As that revision left them.
        for change in (*changes, f"UPDATE alembic_version SET version_num = '{revision}'"):
            connection.execute(text(change))
    store.close()

    with Store(where) as newer:
        after = newer.load(before.id)

    assert after == before
    assert {one.least_certainty for one in after.transmissions} == {None}


@ON_A_FILE
def test_only_the_owner_may_read_the_files(store, keep_session, tmp_path):
    keep_session()

    modes = {stat.S_IMODE(file.stat().st_mode) for file in tmp_path.glob("records.sqlite3*")}
    assert modes == {0o600}


def test_a_file_that_others_could_read_is_closed_to_them(tmp_path):
    path = tmp_path / "records.sqlite3"
    Store(path).close()
    path.chmod(0o644)

    Store(path).close()

    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_without_consent_no_sound_is_kept(store, keep_session):
    session_id = keep_session(consent=False)

    assert store.audio(session_id, 1) is None
    assert store.load(session_id).transmissions[0].audio_bytes == 0


def test_with_consent_the_sound_is_kept(store, keep_session):
    session_id = keep_session()

    flac = store.audio(session_id, 1)
    assert flac is not None
    assert flac.startswith(b"fLaC")
    assert store.load(session_id).transmissions[0].audio_bytes == len(flac)


def test_a_finished_session_takes_no_more(store, keep_session):
    session_id = keep_session()

    with pytest.raises(InputError, match="is finished"):
        store.keep_transmission(session_id, Transmission.typed("hold short"))


@pytest.mark.parametrize("number", [0, -1, 2, 2**31, 10**30])
def test_a_session_that_was_never_there_is_told(store, keep_session, number):
    keep_session()

    with pytest.raises(InputError, match="there is none of that number"):
        store.load(number)


@ON_A_SERVER
def test_a_zero_byte_is_told(store, head):
    with pytest.raises(InputError, match="no character"):
        store.begin(head(trainee="Tam\0"))


def test_a_name_of_broken_characters_is_told(store):
    with pytest.raises(InputError, match="no character"):
        list(store.sessions(trainee="\udcff"))


def test_a_session_past_its_retention_time_is_shown_no_more(store, keep_session, head):
    over = keep_session(keep_until=head().training_date.replace(day=1))
    last_day = keep_session(keep_until=head().training_date)

    assert store.expired() == (over,)
    assert [session.id for session in store.sessions()] == [last_day]
    for use in (
        lambda: store.load(over),
        lambda: store.audio(over, 1),
        lambda: store.correct(over, CorrectionKind.REMARKS, None, "x", by="I", why="w"),
    ):
        with pytest.raises(InputError, match="retention time ended on 2026-03-01"):
            use()


def test_two_programs_that_write_at_once_lose_nothing(where):
    writers = [start_writer(where, 40) for _ in range(2)]
    errors = [writer.communicate(timeout=300)[1] for writer in writers]

    with Store(where) as store:
        sessions = list(store.sessions())

    assert errors == ["", ""]
    assert [len(session.exchanges) for session in sessions] == [40, 40]


def test_records_of_a_newer_program_are_not_touched(tmp_path):
    path = tmp_path / "records.sqlite3"
    Store(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()

    with pytest.raises(InputError, match="newer readback"):
        Store(path)


@pytest.mark.parametrize(
    ("content", "told"),
    [(b"no database at all, " * 100, "is no database"), (None, "cannot be kept there")],
    ids=["text", "folder"],
)
def test_what_is_no_database_is_told(tmp_path, content, told):
    path = tmp_path / "records.sqlite3"
    if content is None:
        path.mkdir()
    else:
        path.write_bytes(content)

    with pytest.raises(InputError, match=told):
        Store(path)


@pytest.mark.skipif(os.name != "posix", reason="permissions as on POSIX systems")
def test_what_is_no_database_keeps_its_permissions(tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("no database at all")
    path.chmod(0o644)

    with pytest.raises(InputError, match="is no database"):
        Store(path)

    assert path.stat().st_mode & 0o777 == 0o644


def test_another_database_is_left_alone(tmp_path):
    path = tmp_path / "records.sqlite3"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
        connection.commit()

    with pytest.raises(InputError, match="not one of records"):
        Store(path)


@pytest.mark.parametrize("where", ["nothing://here", "", "sqlite://"])
def test_an_address_without_a_database_is_told(where):
    with pytest.raises(InputError):
        Store(where)


@ON_A_SERVER
def test_a_server_started_anew_is_asked_again(cluster, store, keep_session):
    session_id = keep_session()
    cluster.stop("immediate")

    # As after a power cut: the server reads its log and has what was committed.
    cluster.start()

    assert len(store.load(session_id).transmissions) == 4


@ON_A_SERVER
def test_a_server_that_is_not_there_is_told(cluster, where):
    nowhere = where.replace(str(cluster.folder), "/nonexistent")

    with pytest.raises(InputError, match="Check the database and its address"):
        Store(nowhere)


@ON_A_SERVER
def test_two_desks_that_start_at_once_make_the_tables_once(cluster, where):
    empty = cluster.new_empty_database()
    writers = [start_writer(empty, 1) for _ in range(3)]
    errors = [writer.communicate(timeout=300)[1] for writer in writers]

    with Store(empty) as store:
        assert errors == ["", "", ""]
        assert len(list(store.sessions())) == 3


@ON_A_SERVER
def test_who_may_not_make_tables_is_told(where, cluster):
    import psycopg

    where = cluster.new_empty_database()
    with psycopg.connect(where, autocommit=True) as connection:
        connection.execute("CREATE ROLE guest LOGIN")

    with pytest.raises(InputError, match=r"cannot be written \(permission denied"):
        Store(where.replace("readback@", "guest@"))
