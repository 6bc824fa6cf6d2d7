"""Settings: what need not be said at each command."""

import json
from pathlib import Path

import pytest

from readback.cli import main
from readback.data import data_directory
from readback.errors import InputError
from readback.settings import VARIABLE, load_settings, save_settings

EXAMPLE = Path(__file__).parents[1] / "docs" / "examples" / "larkspur"


@pytest.fixture
def written(monkeypatch, tmp_path):
    def write(text: str) -> Path:
        path = tmp_path / "settings.toml"
        path.write_text(text, encoding="utf-8")
        monkeypatch.setenv(VARIABLE, str(path))
        return path

    return write


def test_without_a_file_nothing_is_set(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "nowhere.toml"))

    assert set(load_settings().model_dump().values()) == {None}


def test_a_path_counts_from_the_folder_of_the_file(written, tmp_path):
    written('vosk_model = "model"\nengine = "vosk"\n')

    settings = load_settings()

    assert settings.vosk_model == tmp_path / "model"
    assert settings.engine == "vosk"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("engine = vosk", "line 1"),
        ('colour = "blue"', "colour"),
        ("engine = 7", "engine"),
    ],
)
def test_a_mistake_is_one_line_with_the_file(written, text, told, capsys):
    path = written(text)

    with pytest.raises(InputError, match=told):
        load_settings()
    assert main(["check", "hold short", "holding short"]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"readback: {path}")
    assert error.count("\n") == 1


def test_local_wording_in_the_settings_is_judged_by(written, capsys):
    written(f"local = {str(EXAMPLE)!r}")

    status = main(
        ["check", "standard push tail to the red line", "standard push, tail to the red line"]
    )

    assert status == 0
    assert capsys.readouterr().out.startswith("correct")


def test_what_is_saved_is_read_again_and_other_lines_stay(written):
    path = written('# mine\nengine = "ear"\ndevice = "old"\n')

    save_settings(device='7 "Céline" \\ (ALSA)', hands_free=True)
    save_settings(trainee="Ann", hands_free=None)

    settings = load_settings()
    assert settings.device == '7 "Céline" \\ (ALSA)'
    assert (settings.engine, settings.trainee, settings.hands_free) == ("ear", "Ann", None)
    assert path.read_text(encoding="utf-8").startswith("# mine\n")


def test_a_first_setting_makes_the_file(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "new" / "settings.toml"))

    save_settings(hands_free=False)

    assert load_settings().hands_free is False


def test_settings_that_cannot_be_written_are_one_line(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "file" / "settings.toml"))

    with pytest.raises(InputError, match=r"settings\.toml"):
        save_settings(hands_free=False)


def test_a_second_opinion_comes_from_the_engine_that_the_settings_name(written, capsys):
    recording = data_directory("audio_demo_synth") / "recordings" / "gc01_hold_short.flac"
    instruction = "larkspur four two one hold short of runway two seven left"
    check = ["check", instruction, "--heard", str(recording), "--engine", "ear", "--json"]
    written('second_opinion = "nosuch"\n')

    assert main(check) == 2
    assert 'no recogniser "nosuch"' in capsys.readouterr().err
    written('second_opinion = "pocketsphinx"\n')
    status = main(check)

    verdict = json.loads(capsys.readouterr().out)
    assert verdict["verdict"] in ("correct", "say again")
    assert status == (verdict["verdict"] != "correct")
