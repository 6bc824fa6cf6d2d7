import json

import numpy as np
import pytest
import soundfile

from readback.commands.replay import show_replay
from readback.data import data_directory

RECORDINGS = data_directory("audio_demo_synth") / "recordings"
TWO_CHANNELS = str(RECORDINGS / "gc04_cross_for_hold_short.flac")
ONE_CHANNEL = str(RECORDINGS / "gc03_cross.flac")
INSTRUCTION = "larkspur 421 hold short of runway two seven right"
RIGHT = "holding short of runway two seven right larkspur 421"
WRONG = "crossing runway two seven right larkspur 421"


@pytest.mark.parametrize("file", [ONE_CHANNEL, TWO_CHANNELS])
def test_a_right_exchange_is_shown_with_times_and_exits_with_0(listener_hearing, capsys, file):
    status = show_replay([file], listener_hearing([INSTRUCTION, RIGHT]))

    out, err = capsys.readouterr()
    assert status == 0
    assert INSTRUCTION in out
    assert "exchange 1, 00:00." in out
    assert "correct" in out
    assert err.count("\n") == 1


def test_stations_are_told_apart_by_channel(listener_hearing, capsys):
    show_replay([TWO_CHANNELS], listener_hearing([INSTRUCTION, WRONG]), as_json=True)

    (drill,) = json.loads(capsys.readouterr().out)["recordings"]
    assert [item["track"] for item in drill["transmissions"]] == ["left", "right"]
    (exchange,) = drill["exchanges"]
    assert exchange["verdict"] == "incorrect"
    assert exchange["instructed"]["station"] == "controller"
    assert exchange["answered"]["station"] == "flight_deck"
    assert exchange["answered"]["start"] > exchange["instructed"]["end"]


def test_one_wrong_exchange_in_many_files_exits_with_1(listener_hearing, capsys):
    heard = [INSTRUCTION, RIGHT, INSTRUCTION, WRONG]

    status = show_replay([ONE_CHANNEL, TWO_CHANNELS], listener_hearing(heard))

    assert status == 1
    assert capsys.readouterr().out.count("exchange 1") == 2


def test_a_recording_of_nobody_is_told_and_the_others_are_judged(
    listener_hearing, capsys, tmp_path
):
    silence = tmp_path / "silence.wav"
    soundfile.write(silence, np.zeros(16_000), 16_000)
    files = [str(silence), str(tmp_path / "no.wav"), ONE_CHANNEL]

    status = show_replay(files, listener_hearing([INSTRUCTION, RIGHT]), as_json=True)

    out, err = capsys.readouterr()
    documents = json.loads(out)["recordings"]
    assert status == 2
    assert [len(document["exchanges"]) for document in documents] == [0, 0, 1]
    assert "silence.wav: no instruction" in err
    assert "no.wav: no such file" in err
    assert err.count("\n") == 2
