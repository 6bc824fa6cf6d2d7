import stat

import pytest

from readback.errors import InputError
from readback.records.backups import back_up, restore
from readback.records.model import SessionHead
from readback.records.removal import delete_sessions, delete_sound
from readback.records.store import Store
from tests.records.conftest import NOW, ON_A_SERVER, tone
from tests.records.test_removal import SECRET, keep_secret

HEAD = SessionHead(training="Initial", trainee="Ada", training_date=NOW.date())


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


def test_sound_of_withdrawn_consent_does_not_come_back(store, keep_session, tmp_path):
    withdrawn, other = keep_session(), keep_session()
    backup = tmp_path / "backup.sqlite3"
    back_up(store, backup)
    delete_sound(store, [withdrawn])

    restore(store, backup, replace=True)

    assert store.audio(withdrawn, 1) is None
    assert not store.load(withdrawn).head.consent
    assert store.audio(other, 1) == tone()


def test_restoring_over_sessions_wants_to_be_asked_for(store, keep_session, tmp_path):
    keep_session()
    backup = tmp_path / "backup.sqlite3"
    back_up(store, backup)

    with pytest.raises(InputError, match="would be lost"):
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
