import json

import pytest

from readback.commands.demo import load_manifest, show_demo
from readback.data import data_directory
from readback.errors import InputError

DIRECTORY = data_directory("audio_demo_synth") / "recordings"
SHIPPED = load_manifest(DIRECTORY / "manifest.json")


def spoken(change=lambda item: item.readback) -> list[str]:
    """What a recogniser without mistakes hears in the shipped recordings, one after the other."""
    texts = []
    for item in SHIPPED:
        if item.holds == "both":
            texts.append(item.instruction)
        texts.append(change(item))
    return texts


def test_every_recording_heard_right_gets_its_expected_verdict(listener_hearing, capsys):
    status = show_demo(DIRECTORY, listener_hearing(spoken()))

    shown = capsys.readouterr().out
    wrong = sum(item.expected != "correct" for item in SHIPPED)
    assert f"{len(SHIPPED)} of {len(SHIPPED)} verdicts are the expected ones." in shown
    assert f"0 of {wrong} planted errors were passed as correct." in shown
    assert shown.count("as expected") == len(SHIPPED)
    assert status == 0


def test_planted_errors_that_are_passed_are_counted_and_exit_with_1(listener_hearing, capsys):
    # A recogniser that hears what it should: the mistake that the last line is there to show.
    heard = spoken(lambda item: item.instruction)

    status = show_demo(DIRECTORY, listener_hearing(heard), as_json=True)

    document = json.loads(capsys.readouterr().out)
    wrong = [item for item in document["recordings"] if item["expected"] != "correct"]
    passed = [item for item in wrong if item["verdict"] == "correct"]
    assert document["passed_wrongly"] == len(passed) > 5
    assert document["agree"] == sum(i["verdict"] == i["expected"] for i in document["recordings"])
    assert status == 1


def test_each_recording_in_json_has_the_fields_of_the_contract(listener_hearing, capsys):
    show_demo(DIRECTORY, listener_hearing(spoken()), as_json=True)

    document = json.loads(capsys.readouterr().out)
    assert set(document) == {"recordings", "agree", "passed_wrongly"}
    fields = {"file", "family", "expected", "verdict", "findings", "instruction", "readback"}
    assert all(fields <= set(item) for item in document["recordings"])
    assert [item["file"] for item in document["recordings"]] == [item.file for item in SHIPPED]


def test_the_shipped_recordings_are_of_both_families_and_half_of_them_wrong():
    # Issue 2: at least 16, both families, about half with one planted error.
    wrong = [item for item in SHIPPED if item.error is not None]

    assert len(SHIPPED) >= 16
    assert {item.family for item in SHIPPED} == {"ground_control", "interphone"}
    assert 0.4 <= len(wrong) / len(SHIPPED) <= 0.6
    assert all((item.expected == "correct") == (item.error is None) for item in SHIPPED)


@pytest.mark.parametrize("content", ["", "[]", "{}", "[1]", '[{"file": "x.flac"}]', "\x00"])
def test_a_damaged_manifest_is_told(tmp_path, content):
    path = tmp_path / "manifest.json"
    path.write_text(content)

    with pytest.raises(InputError, match=r"manifest\.json"):
        load_manifest(path)


def test_a_lost_recording_is_told_and_the_others_are_judged(tmp_path, listener_hearing, capsys):
    (tmp_path / "manifest.json").write_bytes((DIRECTORY / "manifest.json").read_bytes())
    kept = next(item for item in SHIPPED if item.holds == "readback")
    (tmp_path / kept.file).write_bytes((DIRECTORY / kept.file).read_bytes())

    status = show_demo(tmp_path, listener_hearing([kept.readback]), as_json=True)

    out, err = capsys.readouterr()
    assert status == 2
    assert [item["file"] for item in json.loads(out)["recordings"]] == [kept.file]
    assert err.count("no such file") == len(SHIPPED) - 1
