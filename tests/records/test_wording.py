import pytest
from sqlalchemy import func, select

from readback.data import data_directory
from readback.errors import InputError
from readback.judging.local import LocalWording, load_local
from readback.records.tables import WORDINGS
from readback.records.wording import load_wording

LARKSPUR = data_directory("grammars").parent / "docs" / "examples" / "larkspur"


def test_one_wording_is_kept_once_however_many_sessions_it_judged(store, head):
    first, second = (store.load(store.begin(head(), local=load_local(LARKSPUR))) for _ in range(2))

    with store.database.reading() as connection:
        count = connection.execute(select(func.count()).select_from(WORDINGS)).scalar()

    assert count == 1
    assert first.head.local_version == second.head.local_version


def test_wording_comes_back_as_it_was_in_its_order(store, head, tmp_path):
    local = load_local(LARKSPUR)
    version = store.load(store.begin(head(), local=local)).head.local_version

    with store.database.reading() as connection:
        back = load_wording(connection, version, tmp_path)

    for was, now in ((local.grammars, back.grammars), (local.rules, back.rules)):
        assert [path.name for path in now] == [path.name for path in was]
        assert [path.read_bytes() for path in now] == [path.read_bytes() for path in was]
    assert all(path.parent.parent == tmp_path for path in (*back.grammars, *back.rules))


def test_a_wording_that_is_gone_is_told_and_begins_no_session(store, head, tmp_path):
    gone = LocalWording(grammars=(tmp_path / "gone.jsgf",))

    with pytest.raises(InputError, match="cannot be read"):
        store.begin(head(), local=gone)

    assert list(store.sessions()) == []


def test_without_own_wording_nothing_is_kept_of_any(store, head):
    assert store.load(store.begin(head())).head.local_version is None
