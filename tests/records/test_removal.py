import sqlite3
from contextlib import closing

import pytest

from readback.errors import InputError
from readback.records.model import CorrectionKind
from readback.records.removal import delete_sessions, delete_sound
from tests.records.conftest import NOW, ON_A_FILE, tone

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
