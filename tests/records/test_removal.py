import sqlite3
import stat
from contextlib import closing

import pytest

from readback.errors import InputError
from readback.records.model import CorrectionKind, SessionHead
from readback.records.removal import back_up, delete_sessions, delete_sound, restore
from readback.records.store import Store
from tests.records.conftest import NOW, ON_A_FILE, ON_A_SERVER, tone

HEAD = SessionHead(training="Initial", trainee="Ada", training_date=NOW.date())
SECRET = "zebrafinch"
SOUND = tone()[-200:-100]
"""A piece that does not lie across two pages of the file."""


def keep_secret(store, keep_session) -> int:
    session_id = keep_session(
        trainee=f"{SECRET} trainee", texts=((f"{SECRET} hold short", SECRET),)
    )
    correct = {"by": f"{SECRET} by", "why": f"{SECRET} why"}
    store.correct(session_id, CorrectionKind.WORDS, 2, f"{SECRET} corrected", **correct)
    return session_id


@ON_A_FILE
def test_deletion_leaves_no_word_no_name_and_no_sound(store, keep_session, database_bytes):
    keep_session()
    session_id = keep_secret(store, keep_session)
    assert SECRET.encode() in database_bytes()
    assert database_bytes().count(SOUND) >= 6 * tone().count(SOUND)
    store.correct(1, CorrectionKind.REMARKS, None, "kept", by="I", why="w")

    assert delete_sessions(store, [session_id]) == (session_id,)

    left = database_bytes()
    assert SECRET.encode() not in left
    assert left.count(SOUND) == 4 * tone().count(SOUND)
    assert [session.id for session in store.sessions()] == [1]


@ON_A_FILE
def test_withdrawn_consent_leaves_the_words_and_no_sound(store, keep_session, database_bytes):
    session_id = keep_session()
    other = keep_session()

    assert delete_sound(store, [session_id]) == (session_id,)

    session = store.load(session_id)
    assert not session.head.consent
    assert [kept.audio_bytes for kept in session.transmissions] == [0, 0, 0, 0]
    assert len(session.exchanges) == 2
    assert store.audio(other, 1) == tone()
    assert database_bytes().count(SOUND) == 4 * tone().count(SOUND)


def test_a_tombstone_tells_the_date_and_nothing_else(store, keep_session):
    session_id = keep_session()

    delete_sessions(store, [session_id])

    (grave,) = store.tombstones()
    assert grave.model_dump() == {"session_id": session_id, "deleted_on": NOW.date()}
    with pytest.raises(InputError, match="was deleted on 2026-03-02"):
        store.load(session_id)


def test_the_number_of_a_deleted_session_is_not_given_again(store, keep_session):
    session_id = keep_session()
    delete_sessions(store, [session_id])

    assert keep_session() == session_id + 1


def test_nothing_is_deleted_where_one_number_is_wrong(store, keep_session):
    session_id = keep_session()

    with pytest.raises(InputError, match="Session 99"):
        delete_sessions(store, [session_id, 99])

    assert store.load(session_id).id == session_id


@ON_A_FILE
def test_a_reader_in_the_way_is_told_and_the_next_deletion_packs(
    store, keep_session, database_bytes
):
    session_id = keep_secret(store, keep_session)
    with closing(sqlite3.connect(store.database.file, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM sessions").fetchone()

        with pytest.raises(InputError, match="are deleted, but another program"):
            delete_sessions(store, [session_id], wait_s=0.1)

    delete_sessions(store, [])
    assert SECRET.encode() not in database_bytes()


def test_a_backup_is_private_and_restores_everything(store, keep_session, tmp_path):
    before = store.load(keep_session())
    backup = tmp_path / "backup.sqlite3"
    back_up(store, backup)
    other = Store(tmp_path / "other.sqlite3", now=lambda: NOW)

    assert restore(other, backup) == 0

    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    assert Store(tmp_path / "other.sqlite3", now=lambda: NOW).load(1) == before
    assert other.audio(1, 1) == tone()


@ON_A_SERVER
def test_records_move_from_a_file_to_a_server_and_back(store, keep_session, tmp_path):
    with Store(tmp_path / "desk.sqlite3", now=lambda: NOW) as desk:
        delete_sessions(desk, [desk.begin(HEAD)])
        desk.begin(HEAD)
        back_up(desk, tmp_path / "there.sqlite3")
    restore(store, tmp_path / "there.sqlite3")
    session_id = keep_session()
    back_up(store, tmp_path / "back.sqlite3")

    with Store(tmp_path / "again.sqlite3", now=lambda: NOW) as again:
        restore(again, tmp_path / "back.sqlite3")

        assert session_id == 3
        assert list(again.sessions()) == list(store.sessions())
        assert again.tombstones() == store.tombstones()
        assert again.audio(session_id, 1) == tone()


def test_what_was_deleted_since_the_backup_stays_deleted(
    store, keep_session, tmp_path, database_bytes
):
    session_id = keep_secret(store, keep_session)
    kept = keep_session()
    backup = tmp_path / "backup.sqlite3"
    back_up(store, backup)
    delete_sessions(store, [session_id])
    later = keep_session()
    delete_sessions(store, [later])

    assert restore(store, backup, replace=True) == 1

    assert [session.id for session in store.sessions()] == [kept]
    assert [grave.session_id for grave in store.tombstones()] == [session_id, later]
    assert SECRET.encode() not in database_bytes()
    assert keep_session() == later + 1


def test_restoring_over_sessions_wants_to_be_asked_for(store, keep_session, tmp_path):
    keep_session()
    backup = tmp_path / "backup.sqlite3"
    back_up(store, backup)

    with pytest.raises(InputError, match="holds 1 sessions, which would be lost"):
        restore(store, backup)


def test_a_backup_never_overwrites(store, tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("mine")

    with pytest.raises(InputError, match="exists already"):
        back_up(store, taken)

    assert taken.read_text() == "mine"


@pytest.mark.parametrize("damage", ["cut", "text", "missing"])
def test_what_is_no_whole_backup_is_refused_and_the_records_stay(
    store, keep_session, tmp_path, damage
):
    session_id = keep_session()
    backup = tmp_path / "backup.sqlite3"
    back_up(store, backup)
    if damage == "missing":
        backup.unlink()
    else:
        content = backup.read_bytes()
        backup.write_bytes(content[: len(content) // 2] if damage == "cut" else b"text" * 999)

    with pytest.raises(InputError):
        restore(store, backup, replace=True)

    assert store.load(session_id).id == session_id
