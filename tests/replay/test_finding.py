import pytest

from readback.errors import InputError
from readback.replay.folder import find_recordings


@pytest.fixture
def folder(tmp_path):
    for name in ("b.wav", "A.FLAC", "notes.txt", "phone.m4a", ".hidden.wav", "day/c.opus"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"")
    return tmp_path


def test_a_folder_gives_its_recordings_by_name_and_those_of_folders_in_it(folder):
    (folder / ".trash").mkdir()
    (folder / ".trash" / "old.wav").write_bytes(b"")

    found = find_recordings([str(folder)])

    names = ("A.FLAC", "b.wav", "day/c.opus", "phone.m4a")
    assert found == [str(folder / name) for name in names]


def test_files_are_taken_as_they_are_and_once(folder):
    named = [str(folder / "notes.txt"), "nowhere.wav", str(folder / "b.wav"), str(folder)]

    found = find_recordings(named)

    assert found[:3] == named[:3]
    assert len(found) == len(set(found)) == 6


def test_a_folder_without_recordings_is_told(tmp_path):
    with pytest.raises(InputError, match="holds no recording"):
        find_recordings([str(tmp_path)])
