"""``readback replay`` on the shipped recordings: stations by hand, records, what is shown."""

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from readback.cli import main
from readback.commands.replay_render import render_recording, render_table
from readback.commands.terminal import Terminal
from readback.data import data_directory
from readback.judging.check import check
from readback.judging.local import load_local
from readback.measure.certainty import ANY, load_thresholds
from readback.records.audio import decode_flac
from readback.records.model import CorrectionKind, SessionHead
from readback.records.store import Store
from readback.replay.keeping import keep_replayed
from readback.replay.model import HeardTransmission, Replayed, ReplayedExchange
from readback.speech.audio import read_recording
from readback.transmission import Transmission

RECORDINGS = data_directory("audio_demo_synth") / "recordings"
MIXED = str(RECORDINGS / "gc03_cross.flac")
TWO_CHANNELS = str(RECORDINGS / "gc04_cross_for_hold_short.flac")
INTERPHONE = str(RECORDINGS / "ip01_brakes_released.flac")
LARKSPUR = Path(__file__).parents[2] / "docs" / "examples" / "larkspur"
EVIL = "a\u202eb\x1b[31m[bold]<b>.wav"
"""A name with a mark that turns the writing, an escape sequence and two kinds of markup."""


@pytest.fixture
def replay(capsys):
    """Run the command; give its status, what it printed as JSON, and what it told."""

    def run(*arguments):
        capsys.readouterr()
        status = main(["replay", "--engine", "ear", "--json", *arguments])
        out, err = capsys.readouterr()
        return status, json.loads(out) if out else None, err

    return run


# ---- who spoke -----------------------------------------------------------------------------------


def test_stations_of_a_mixed_channel_are_told_by_the_talk(replay):
    _, document, _ = replay(MIXED)

    (one,) = document["recordings"]
    assert [said["station"] for said in one["transmissions"]] == ["controller", "flight_deck"]
    assert {said["told_by"] for said in one["transmissions"]} == {"turn"}


def test_a_station_can_be_corrected_by_hand(replay):
    _, document, _ = replay(MIXED, "--station", "1=tow driver")

    (one,) = document["recordings"]
    first, second = one["transmissions"]
    assert (first["station"], first["told_by"]) == ("tow_driver", "hand")
    assert second["told_by"] == "turn"
    assert one["exchanges"][0]["instructed"]["station"] == "tow_driver"


def test_a_channel_can_be_named_by_hand(replay):
    _, document, _ = replay(TWO_CHANNELS, "--station", "right=tow driver")

    (one,) = document["recordings"]
    assert [said["station"] for said in one["transmissions"]] == ["controller", "tow_driver"]
    assert [said["told_by"] for said in one["transmissions"]] == ["channel", "hand"]


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        ((MIXED, "--station", "7=headset"), "no transmission 7; 2 were heard"),
        ((MIXED, TWO_CHANNELS, "--station", "1=headset"), "there are 2 recordings"),
        ((MIXED, "--station", "1=pilots"), "no station 'pilots'"),
        ((MIXED, "--seed", "3"), "counts with a drill only"),
        ((MIXED, "--drill", "nowhere"), "no drill 'nowhere'"),
        ((MIXED, "--drill", "push_back_tow_bar", "--seat", "controller"), "has no seat"),
        ((MIXED, "--authority", "nobody"), "no authority"),
        ((MIXED, "--workers", "0"), "hears nothing"),
        ((MIXED, "--store"), "needs a trainee and a training"),
        ((MIXED, "--local", "nowhere"), "nowhere: no such directory"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line(replay, arguments, what):
    status, document, err = replay(*arguments)

    assert status == 2
    assert document is None
    assert what in err
    assert err.count("\n") == 1


# ---- figures -------------------------------------------------------------------------------------


def test_the_time_to_answer_and_the_rate_of_speech_are_given(replay):
    _, document, _ = replay(MIXED)

    (exchange,) = document["recordings"][0]["exchanges"]
    # make_recordings.py puts a second between instruction and readback, and margins around both.
    assert 1.0 < exchange["delivery"]["seconds_to_answer"] < 2.5
    assert exchange["delivery"]["words_per_minute"] > 100


def test_a_drill_that_is_not_the_recorded_one_is_told_so(replay):
    status, document, _ = replay(MIXED, "--drill", "push_back_tow_bar", "--seed", "0")

    drill = document["recordings"][0]["drill"]
    assert status == 1
    assert drill["seed"] == 0
    assert any(event["kind"] == "missing" for event in drill["events"])


# ---- records -------------------------------------------------------------------------------------

TRAINING = ("--store", "--trainee", "A. Adler", "--training", "Readbacks", "--consent")


def test_a_recording_is_kept_once_with_the_sound_of_each_channel(replay, tmp_path):
    records = str(tmp_path / "records.db")

    for _ in range(2):
        _, _, err = replay(TWO_CHANNELS, *TRAINING, "--records", records)

    assert "was kept as session 1" in err
    with Store(records) as store:
        (session,) = store.sessions()
        sounds = [decode_flac(store.audio(session.id, number))[0] for number in (1, 2)]
    spans = [(one.current.start, one.current.end) for one in session.transmissions]
    channels = read_recording(TWO_CHANNELS)
    for sound, (start, end), name in zip(sounds, spans, ("left", "right"), strict=True):
        own = channels[name][round(start * 16_000) : round(end * 16_000)]
        assert np.abs(sound).max() == np.abs(own).max()
    assert [one.current.station for one in session.transmissions] == ["controller", "flight_deck"]
    assert session.exchanges[0].outcome != "correct"
    assert [one.told_by for one in session.transmissions] == ["channel", "channel"]


def test_each_transmission_is_kept_with_the_least_certainty_of_its_channel(
    replay, tmp_path, monkeypatch
):
    of_channel = {"any": 0.8, "clean": 0.7, "radio": 0.6, "interphone": 0.55, "noisy": 0.9}
    shipped = load_thresholds()
    ear = shipped.engines["ear"].model_copy(update={"least_certainty": of_channel})
    thresholds = shipped.model_copy(update={"engines": {"ear": ear}})
    monkeypatch.setattr("readback.measure.certainty.load_thresholds", lambda: thresholds)
    both = tmp_path / "both.wav"
    sounds = [soundfile.read(path)[0] for path in (MIXED, INTERPHONE)]
    soundfile.write(both, np.concatenate(sounds), 16_000)

    replay(str(both), *TRAINING, "--records", str(tmp_path / "records.db"))

    with Store(tmp_path / "records.db") as store:
        (session,) = store.sessions()
    least = [
        thresholds.least_certainty("ear", one.original.channel or ANY)
        for one in session.transmissions
    ]
    assert [one.least_certainty for one in session.transmissions] == least
    assert session.head.least_certainty == max(least)
    assert len(set(least)) > 1


def test_a_kept_recording_is_judged_again_by_its_authority_and_its_local_wording(tmp_path):
    texts = ("pin and hoses clear", "starting number one")
    spoken = [
        Transmission.typed(text).model_copy(update={"station": station, "start": at, "end": at + 2})
        for text, station, at in zip(texts, ("headset", "flight_deck"), (0.0, 4.0), strict=True)
    ]
    replayed = Replayed(
        file="pin.wav",
        content="0123",
        engine="pocketsphinx",
        transmissions=tuple(
            HeardTransmission(number=number, transmission=one)
            for number, one in enumerate(spoken, start=1)
        ),
        exchanges=(
            ReplayedExchange(
                instruction=1,
                readback=2,
                verdict=check(*spoken, authority="faa"),
                delivery=None,
            ),
        ),
    )
    head = SessionHead(
        training="Headset", trainee="A. Adler", training_date="2026-03-02", authority="faa"
    )

    with Store(tmp_path / "records.db") as store:
        number, _ = keep_replayed(store, head, Path("pin.wav"), replayed, load_local(LARKSPUR))
        session = store.correct(
            number, CorrectionKind.WORDS, 2, "roger", by="I. Ibsen", why="misheard"
        )

    (exchange,) = session.exchanges
    # Only Larkspur's own wording knows this call; see its calls.jsgf.
    assert exchange.verdict.verdict == "correct"
    assert exchange.verdict.authority == "faa"
    assert exchange.verdict.instruction.calls[0].name == "pin_and_hoses"


# ---- what comes from outside ---------------------------------------------------------------------


def harmless(text):
    return "\x1b" not in text and "\u202e" not in text and "\n" not in text


def test_names_of_files_are_harmless_in_text_and_table():
    said = Transmission.typed("hold short \x1b[2J of \u202e runway 27L").model_copy(
        update={"station": "\x1b]0;x\x07"}
    )
    one = HeardTransmission(number=1, transmission=said)
    replayed = Replayed(file=EVIL, transmissions=(one,))

    lines = [*render_recording(replayed, Terminal()), *render_table([replayed])]

    assert all(map(harmless, lines))
    assert any("\\u202e" in line and "[bold]<b>" in line for line in lines)


def test_names_of_broken_files_are_harmless(replay, tmp_path):
    (tmp_path / EVIL).write_text("no sound")

    status, document, err = replay(str(tmp_path / EVIL))

    assert status == 2
    assert harmless(err.removesuffix("\n"))
    assert document["broken"][0]["file"] == str(tmp_path / EVIL)


@pytest.mark.skipif(sys.platform != "linux", reason="names of files are text elsewhere")
def test_a_name_that_is_no_text_is_heard_and_kept(replay, tmp_path):
    (tmp_path / "named").mkdir()
    for name in (b"\xff.flac", b"\xfe.flac"):
        (tmp_path / "named" / os.fsdecode(name)).symlink_to(MIXED)

    status, document, _ = replay(str(tmp_path / "named"), "--results", str(tmp_path / "kept"))
    again = replay(str(tmp_path / "named"), "--results", str(tmp_path / "kept"))

    assert status in (0, 1)
    assert [Path(one["file"]).name for one in document["recordings"]] == [
        "\\udcfe.flac",
        "\\udcff.flac",
    ]
    assert again[:2] == (status, document)


# ---- progress ------------------------------------------------------------------------------------


def test_a_terminal_is_shown_a_bar_with_the_time_left_and_a_pipe_none(tmp_path):
    path = tmp_path / "long[bold]\u202e.wav"
    sound, rate = soundfile.read(MIXED)
    soundfile.write(path, np.tile(sound, 12), rate)
    command = [sys.executable, "-m", "readback", "replay", str(path), "--engine", "ear"]

    piped = subprocess.run(command, capture_output=True, check=False)
    shown = seen_by_a_terminal(command)

    assert piped.returncode in (0, 1), piped.stderr
    assert piped.stderr.count(b"\n") == 1, piped.stderr
    assert "left" in shown and "%" in shown
    assert "long[bold]\\u202e.wav" in shown
    assert "\u202e" not in shown


def seen_by_a_terminal(command: list[str]) -> str:
    ours, theirs = pty.openpty()
    environment = {**os.environ, "COLUMNS": "160", "TERM": "xterm"}
    with subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=theirs, env=environment
    ) as run:
        os.close(theirs)
        seen = b""
        while True:
            try:
                block = os.read(ours, 4096)
            except OSError:
                # Linux ends a terminal so whose other side is closed.
                break
            if not block:
                break
            seen += block
        assert run.wait() in (0, 1)
    os.close(ours)
    return seen.decode()
