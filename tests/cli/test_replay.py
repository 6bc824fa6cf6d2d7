import json

import numpy as np
import pytest
import soundfile

from readback.commands.replay import show_replay
from readback.commands.replay_render import render_recording, render_table
from readback.commands.terminal import Terminal
from readback.data import data_directory
from readback.drills.events import DrillEvent
from readback.replay.model import HeardTransmission, Replayed, ReplayedDrill
from readback.transmission import Transmission

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


def test_what_cannot_be_heard_is_told_in_one_line(listener_hearing, capsys, tmp_path):
    status = show_replay([str(tmp_path / "no.wav")], listener_hearing([]))

    assert status == 2
    assert capsys.readouterr().err.count("\n") == 1


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
    assert "silence.wav: nobody speaks" in err
    assert "no.wav: no such file" in err
    assert err.count("\n") == 2


def test_the_exchanges_of_a_recording_are_summed_up_with_the_numbers_of_their_sides(
    listener_hearing, capsys, tmp_path
):
    once, _ = soundfile.read(ONE_CHANNEL)
    twice = tmp_path / "twice.wav"
    soundfile.write(twice, np.concatenate([once, np.zeros(32_000), once]), 16_000)

    show_replay([str(twice)], listener_hearing([INSTRUCTION, RIGHT, INSTRUCTION, WRONG]))

    out = capsys.readouterr().out
    assert "1 answered by 2: " in out
    assert "3 answered by 4: " in out
    assert "2 exchanges: 1 correct, 1 incorrect\n" in out


def test_only_what_was_heard_has_a_heading(listener_hearing, capsys, tmp_path):
    status = show_replay([str(tmp_path / "no.wav")], listener_hearing([]))

    out, err = capsys.readouterr()
    assert (status, out) == (2, "")
    assert "no such file" in err


def test_another_drill_than_the_recorded_one_is_told_in_one_line():
    drill = ReplayedDrill(
        name="push_back_tow_bar",
        seed=0,
        values={},
        found=(),
        events=(
            DrillEvent(kind="not due", message="Not due here."),
            DrillEvent(kind="missing", message="Push was not said.", due=4),
        ),
    )
    heard = HeardTransmission(number=1, transmission=Transmission.typed(INSTRUCTION))

    lines = list(
        render_recording(Replayed(file="a", transmissions=(heard,), drill=drill), Terminal())
    )

    assert lines[-1].strip() == (
        'Nothing of this drill was said. For the others see "readback drills".'
    )
    assert not any("Push" in line for line in lines)


def test_the_table_of_a_folder_fits_a_terminal_of_80_columns():
    files = [f"a_training_day/with_a_long_name/drill_{number:03}.wav" for number in range(3)]
    recordings = [Replayed(file=file, seconds=3000.0) for file in files]

    narrow, wide = list(render_table(recordings, 80)), list(render_table(recordings))

    assert max(map(len, narrow)) <= 80 < max(map(len, wide))
    for file, line in zip(files, narrow[2:], strict=False):
        assert file[-9:] in line
    assert "answered after" in wide[0]
