"""Vosk models are found and checked before the engine, which crashes on bad ones, sees them."""

import os
import sys
from pathlib import Path

import pytest

from readback.errors import RecogniserError
from readback.speech.vosk_engine import (
    MODEL_VARIABLE,
    VoskRecogniser,
    check_vosk_model,
    find_vosk_model,
    user_data_folder,
)

FILES = [
    *("am/final.mdl", "conf/mfcc.conf", "conf/model.conf"),
    *("graph/HCLr.fst", "graph/Gr.fst", "graph/disambig_tid.int"),
    "graph/phones/word_boundary.int",
]


@pytest.fixture
def no_model(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A user without a model: only what a test adds is found."""
    monkeypatch.delenv(MODEL_VARIABLE, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    return tmp_path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the files of a model, each with something in it."""
    for name in FILES:
        path = tmp_path / "model" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x")
    return tmp_path / "model"


def test_no_model_is_found_where_none_is(no_model):
    assert find_vosk_model(None) is None


def test_the_settings_go_before_the_variable_and_that_before_the_data_folder(no_model, monkeypatch):
    (user_data_folder() / "vosk-model").mkdir(parents=True)

    assert find_vosk_model(None) == user_data_folder() / "vosk-model"
    monkeypatch.setenv(MODEL_VARIABLE, "/models/english")
    assert find_vosk_model(None) == Path("/models/english")
    assert find_vosk_model(Path("/models/mine")) == Path("/models/mine")


@pytest.mark.parametrize(
    ("platform", "expected"),
    [
        ("linux", "data/readback"),
        ("win32", "data/readback"),
        ("darwin", "home/Library/Application Support/readback"),
    ],
)
def test_the_data_folder_is_the_platforms_own(no_model, monkeypatch, platform, expected):
    monkeypatch.setattr(sys, "platform", platform)

    assert user_data_folder() == no_model / expected


def test_a_relative_data_home_is_ignored(no_model, monkeypatch):
    """Source: XDG Base Directory Specification: relative paths are invalid and to be ignored."""
    monkeypatch.setenv("XDG_DATA_HOME", "data")
    monkeypatch.setattr(sys, "platform", "linux")

    assert user_data_folder() == no_model / "home/.local/share/readback"


def test_a_whole_model_passes_the_check(folder):
    check_vosk_model(folder)


def _remove(*names: str):
    def change(folder: Path) -> Path:
        for name in names:
            (folder / name).unlink()
        return folder

    return change


def _write(*names: str):
    def change(folder: Path) -> Path:
        for name in names:
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_text("x")
        return folder

    return change


def _replace_by(name: str):
    def change(folder: Path) -> Path:
        other = folder.parent / "other"
        other.mkdir()
        (other / name).write_text("x")
        return other

    return change


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda folder: folder / "nowhere", "nowhere: no such folder"),
        (lambda folder: folder / "am/final.mdl", "final.mdl: is a file"),
        (lambda folder: folder.parent, "is one folder deeper. Give .*model"),
        (lambda folder: folder / "graph", "is a part of a model. Give .*model"),
        (_remove("am/final.mdl"), "lacks am/final.mdl"),
        (_remove("graph/phones/word_boundary.int"), "lacks graph/phones/word_boundary.int"),
        (_write("ivector/final.ie"), "lacks ivector/final.dubm, lacks ivector/final.mat"),
        (lambda folder: _remove("graph/HCLr.fst")(_write("graph/HCLG.fst")(folder)), "large model"),
        (_replace_by("mdef"), "is a PocketSphinx model"),
        (_replace_by("final.ext.raw"), "is a Vosk speaker model"),
        (_replace_by("notes.txt"), "holds no Vosk model"),
    ],
)
def test_each_wrong_folder_is_told_apart(folder, change, what):
    with pytest.raises(RecogniserError, match=what):
        check_vosk_model(change(folder))


def test_an_empty_file_in_a_model_is_named(folder):
    os.truncate(folder / "graph/Gr.fst", 0)

    with pytest.raises(RecogniserError, match=r"graph/Gr\.fst is empty"):
        check_vosk_model(folder)


def test_files_that_are_no_model_are_refused_and_not_printed_about(folder, grammar, capfd):
    with pytest.raises(RecogniserError, match="model: the model cannot be loaded"):
        VoskRecogniser(grammar, folder)

    assert capfd.readouterr() == ("", "")


def test_a_model_that_does_not_fit_into_memory_is_told_before_it_is_loaded(folder, monkeypatch):
    """Sizes by hand: 2.1 times 40 MiB of files."""
    (folder / "am/final.mdl").write_bytes(bytes(40 * 2**20))
    monkeypatch.setattr("readback.speech.vosk_engine.free_memory_mb", lambda: 80.0)

    with pytest.raises(RecogniserError, match="needs about 84 MiB of memory, 80 MiB are free"):
        check_vosk_model(folder)


@pytest.mark.parametrize("free", [85.0, None])
def test_a_model_that_fits_or_may_fit_passes(folder, monkeypatch, free):
    (folder / "am/final.mdl").write_bytes(bytes(40 * 2**20))
    monkeypatch.setattr("readback.speech.vosk_engine.free_memory_mb", lambda: free)

    check_vosk_model(folder)
