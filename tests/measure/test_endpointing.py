import json
from pathlib import Path

import numpy as np
import pytest

from readback.cli import main
from readback.errors import InputError
from readback.measure.conditions import make_conditions
from readback.measure.endpointing import Faults, compare_spans, find_spans, measure_endpointing
from readback.measure.joined import join_clips, speech_span
from readback.measure.observe import read_samples

DEMO = Path(__file__).parents[2] / "audio_demo_synth"
CLIPS = sorted((DEMO / "measure_set").glob("r00*.opus"))
CLEAN = make_conditions(["clean"], [])[0]
SAID = [(1.0, 3.0), (5.0, 8.0)]


# Counted by hand.
@pytest.mark.parametrize(
    ("found", "faults"),
    [
        ([(0.6, 3.3), (4.6, 8.3)], {}),
        ([(0.6, 3.3)], {"missed": 1}),
        ([(0.6, 3.3), (7.0, 8.3)], {"missed": 1}),
        ([(1.05, 3.0), (5.0, 7.95)], {}),
        ([(1.2, 3.3), (4.6, 8.3)], {"cut": 1}),
        ([(0.6, 3.3), (4.6, 7.8)], {"cut": 1}),
        ([(0.6, 1.8), (1.9, 3.3), (4.6, 8.3)], {"split": 1}),
        ([(0.6, 8.3)], {"merged": 1}),
        ([(0.2, 0.5), (0.6, 3.3), (4.6, 8.3), (9.0, 9.5)], {"false": 2}),
        ([], {"missed": 2}),
    ],
)
def test_each_fault_is_counted(found, faults):
    assert compare_spans(SAID, found) == Faults(**faults)


def test_a_joined_recording_holds_its_transmissions_where_it_says():
    clips = [read_samples(path) for path in CLIPS[:3]]

    joined = join_clips(clips, CLEAN, 6)

    assert joined.between == "quiet"
    assert len(joined.spans) == 3
    for first, last in joined.spans:
        inside = joined.samples[round(first * 16_000) : round(last * 16_000)]
        assert np.abs(inside).max() > 0.1
    ends = [0.0, *(last for _, last in joined.spans)]
    for (first, _), before in zip(joined.spans, ends, strict=False):
        outside = joined.samples[round(before * 16_000) + 160 : round(first * 16_000) - 160]
        assert np.abs(outside).max() < 0.05


def test_the_same_number_joins_the_same_recording():
    clips = [read_samples(path) for path in CLIPS[:3]]
    radio = make_conditions(["radio"], [10])[0]

    one, other = join_clips(clips, radio, 3), join_clips(clips, radio, 3)

    np.testing.assert_array_equal(one.samples, other.samples)
    assert one.spans == other.spans


def test_clean_transmissions_far_apart_are_found_whole_and_alone():
    clips = [read_samples(path) for path in CLIPS[:3]]
    joined = join_clips(clips, CLEAN, 0)

    faults = compare_spans(joined.spans, find_spans(joined))

    assert faults.missed == faults.cut == faults.false == 0


def test_speech_starts_and_ends_at_its_first_and_last_loud_sample():
    clip = np.zeros(16_000)
    clip[4_000:8_000] = 0.5

    assert speech_span(clip) == (0.25, 0.5)


def test_all_together_comes_before_each_condition():
    conditions = make_conditions(["clean", "radio"], [20])

    found = list(measure_endpointing(CLIPS[:4], conditions, 4))

    assert [(one.condition, one.recordings) for one in found] == [
        ("all", 4),
        ("clean", 2),
        ("radio 20 dB", 2),
    ]
    assert found[0].missed.total == 12


def test_two_recordings_cannot_be_joined():
    with pytest.raises(InputError, match="2 recordings cannot be joined"):
        list(measure_endpointing(CLIPS[:2], [CLEAN], 1))


def test_the_command_prints_the_table_and_json(capsys):
    command = ["measure", "--endpointing", "--quick", "--pairs=3", "--channel=clean"]

    assert main(command) == 0
    lines = capsys.readouterr().out.splitlines()
    assert main([*command, "--json"]) == 0
    (everything, clean) = json.loads(capsys.readouterr().out)

    assert lines[0] == "readback measure --channel=clean --pairs=3 --quick --endpointing"
    assert lines[2].split()[:2] == ["all", str(everything["recordings"])]
    assert clean["condition"] == "clean"
