"""A recogniser that breaks, and numbers said as an authority's rules know them."""

import json

import numpy as np
import pytest
import soundfile

from readback.commands.check import _hear
from readback.data import data_directory
from readback.errors import RecogniserBroke, RecogniserError
from readback.listener import Listener
from readback.speech.hearing import hear_file
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission

GROUPED = data_directory("audio_demo_synth") / "measure_set" / "r081.opus"
"""Larkspur nine thirty nine, holding short of two three."""
EXCHANGE = data_directory("audio_demo_synth") / "recordings"


def breaking(error, *texts):
    """Breaks on the first transmission, then hears the texts."""
    answers = iter([error, *texts])

    def respond(_):
        answer = next(answers)
        if isinstance(answer, Exception):
            raise answer
        return Transmission.typed(answer)

    return ScriptedRecogniser(respond)


@pytest.fixture
def two_takes(tmp_path):
    samples, rate_hz = soundfile.read(EXCHANGE / "gc01_hold_short.flac", dtype="int16")
    path = tmp_path / "two.wav"
    pause = np.zeros(2 * rate_hz, np.int16)
    soundfile.write(path, np.concatenate([samples, pause, samples]), rate_hz)
    return path


def test_an_engine_that_breaks_costs_one_transmission_of_a_recording(two_takes):
    broken = breaking(RecogniserBroke("ear: the engine ended.", "Say it again."), "second")

    heard = list(hear_file(two_takes, broken))

    assert [transmission.text for transmission in heard] == ["", "second"]


def test_an_engine_that_cannot_work_ends_the_hearing(two_takes):
    broken = breaking(RecogniserError("ear: no model.", "Install readback again."))

    with pytest.raises(RecogniserError, match="no model"):
        list(hear_file(two_takes, broken))


def test_an_engine_that_breaks_on_a_readback_asks_to_say_it_again(capsys):
    broken = breaking(RecogniserBroke("ear: the engine ended.", "Say it again."))

    heard = _hear(EXCHANGE / "gc01_hold_short.flac", None, Listener(recogniser=broken))

    assert heard == Transmission()
    assert capsys.readouterr().err.count("the engine ended") == 1


def test_numbers_in_group_form_are_heard_where_the_line_of_a_file_asks_for_them(tmp_path, capsys):
    from readback.cli import main

    pair = {"instruction": "larkspur 939, hold short of 26", "heard": str(GROUPED)}
    lines = [json.dumps({**pair, "authority": authority}) for authority in ("icao", "faa")]
    (tmp_path / "pairs.jsonl").write_text("\n".join(lines), encoding="utf-8")

    main(["check", "--engine", "ear", "--json", "--pairs", str(tmp_path / "pairs.jsonl")])

    texts = [json.loads(line)["readback"]["text"] for line in capsys.readouterr().out.splitlines()]
    assert ["thirty" in text for text in texts] == [False, True]
