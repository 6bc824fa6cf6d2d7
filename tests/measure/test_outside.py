import csv
import json
from pathlib import Path

import numpy as np
import pytest

from readback.commands.measure_tables import report_lines
from readback.errors import InputError, RecogniserError
from readback.measure.conditions import make_conditions
from readback.measure.labels import read_labels
from readback.measure.outside import gather_sounds, measure_rejection, read_outside
from readback.measure.report import measure, run_facts
from readback.measure.sounds import Sound, backwards, make_sounds
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission, Word

DEMO = Path(__file__).parents[2] / "audio_demo_synth"
SHIPPED = DEMO / "measure_set_outside"
CLEAN = make_conditions(["clean"], [])


def hearing(answers):
    """Hears these texts in turn; a number before a text is the certainty of its words."""
    left = iter(answers)

    def respond(_):
        certainty, text = next(left)
        if text == "broken":
            raise RecogniserError("the engine broke.", "Again.")
        words = (Word(word=word, certainty=certainty) for word in text.split())
        return Transmission(words=tuple(words))

    return ScriptedRecogniser(respond)


def voices(count):
    samples = read_outside(SHIPPED)[0].samples
    return [Sound(f"{number}", "chat", samples) for number in range(count)]


def test_what_is_heard_is_counted_by_how_far_it_got():
    answers = [
        (0.9, ""),
        (0.9, "left"),
        (0.9, "crossing runway two seven"),
        (0.2, "crossing runway two seven"),
        (0.9, "broken"),
    ]

    everything, chat = measure_rejection(voices(5), CLEAN, hearing(answers), lambda _: 0.5)

    assert (everything.kind, chat.kind) == ("all", "chat")
    assert everything.worded.count == 3
    assert everything.called.count == 2
    assert everything.accepted.count == 1
    assert everything.accepted.total == 5


def test_each_kind_and_condition_has_its_own_count():
    sounds = [*voices(1), Sound("hum", "tone", np.full(16_000, 0.1) * np.arange(16_000) % 0.3)]
    conditions = make_conditions(["clean", "radio"], [20])
    heard = [(0.9, "crossing runway two seven"), *[(0.9, "")] * 3]

    counts = {
        (one.condition, one.kind): one.called.count
        for one in measure_rejection(sounds, conditions, hearing(heard), lambda _: 0.5)
    }

    assert counts == {
        ("clean", "all"): 1,
        ("clean", "chat"): 1,
        ("clean", "tone"): 0,
        ("radio 20 dB", "all"): 0,
        ("radio 20 dB", "chat"): 0,
        ("radio 20 dB", "tone"): 0,
    }


def test_at_least_200_sounds_are_gathered_and_each_can_be_sent():
    calls = [one.file for one in read_labels(DEMO / "measure_set")]

    sounds = gather_sounds(read_outside(SHIPPED), calls)

    assert len({sound.name for sound in sounds}) == len(sounds) >= 200
    for condition in make_conditions(["clean", "radio", "interphone"], [10]):
        for sound in sounds[::21]:
            received = condition.send(sound.samples, sound.name)
            assert np.isfinite(received).all()
            assert np.abs(received).max() <= 1


@pytest.mark.parametrize("tuning", [False, True])
def test_made_sounds_are_the_same_each_time(tuning):
    for one, other in zip(make_sounds(tuning=tuning), make_sounds(tuning=tuning), strict=True):
        assert one.name == other.name
        np.testing.assert_array_equal(one.samples, other.samples)


def test_no_made_sound_is_in_both_splits():
    made = [[one.samples for one in make_sounds(tuning=tuning)] for tuning in (False, True)]

    assert len(made[0]) == len(made[1])
    for reporting in made[0]:
        assert not any(np.array_equal(reporting, sound) for sound in made[1])


def test_backwards_is_the_same_sound_from_its_end():
    sound = backwards("clip", np.array([0.1, 0.2, 0.3]))

    assert sound.samples.tolist() == [0.3, 0.2, 0.1]


def test_no_text_and_no_voice_but_of_other_languages_is_in_both_splits():
    with (DEMO / "measure_outside.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    tuning = [row for row in rows if row["split"] == "tuning"]
    reporting = [row for row in rows if row["split"] == "reporting"]

    assert len(tuning) == len(reporting) == 64
    assert not {row["text"] for row in tuning} & {row["text"] for row in reporting}
    english = [{r["voice"] for r in part if r["kind"] != "foreign"} for part in (tuning, reporting)]
    split = json.loads((DEMO / "measure_split.json").read_text(encoding="utf-8"))
    assert english == [set(split[part]["voices"]) for part in ("tuning", "reporting")]


def test_the_report_tells_of_sounds_that_are_no_call(tmp_path):
    (tmp_path / "labels.csv").write_text(
        "file,instruction,readback\nr001.opus,cross runway one four,crossing runway one four\n",
        encoding="utf-8",
    )
    (tmp_path / "r001.opus").write_bytes((DEMO / "measure_set/r001.opus").read_bytes())
    labelled = read_labels(tmp_path)
    heard = [(0.9, "crossing runway one four"), (0.9, "crossing runway one four"), (0.9, "")]

    report, _ = measure(
        run_facts("own", "readback measure", labelled),
        labelled,
        CLEAN,
        [hearing(heard)],
        0.5,
        outside=voices(2),
    )

    lines = list(report_lines(report))
    assert any(line.split()[:3] == ["clean", "1/2", "50.0"] for line in lines)
    assert json.loads(report.model_dump_json())["rejection"][0]["called"]["count"] == 1


def test_a_folder_without_labels_is_an_input_error(tmp_path):
    with pytest.raises(InputError, match=r"labels\.csv: cannot be read"):
        read_outside(tmp_path)
