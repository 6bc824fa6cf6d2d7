"""Who trains, who chooses, who reports: nobody in two parts."""

import json
from pathlib import Path

import pytest

from audio_demo_synth.ear.people import (
    REPORTING_SPEAKERS,
    load_split,
    part_of,
    select,
    splice,
    split_speakers,
)
from audio_demo_synth.ear.speak import REPORTING_VOICES, UNHEARD_STYLES

pytestmark = pytest.mark.filterwarnings("error")

MEASURE_SPLIT = Path(__file__).parents[2] / "audio_demo_synth/measure_split.json"


def rows_of(speakers, source="speech_commands"):
    return [
        {"speaker": s, "source": source, "file": f"{s}/{n}.opus", "text": "one"}
        for s in speakers
        for n in range(3)
    ]


def test_no_speaker_is_in_two_parts():
    split = load_split()

    assert set(split) == {"reporting", "choosing"}
    assert not set(split["reporting"]) & set(split["choosing"])
    assert len(split["reporting"]) >= 50
    assert len(split["choosing"]) >= 50


def test_training_hears_no_speaker_that_chooses_or_reports():
    split = load_split()
    held = [*split["reporting"], *split["choosing"]]

    training = select(rows_of([*held, "sc-somebody-else"]), split, "training")

    assert {row["speaker"] for row in training} == {"sc-somebody-else"}


def test_the_written_split_is_that_of_the_rule():
    split = load_split()
    speakers = [s for part in split.values() for s in part]
    rows = [
        row
        for s in speakers
        for row in rows_of([s], "speech_commands" if s.startswith("sc-") else "speechocean762")
    ]

    made = split_speakers(rows)

    assert made == split


def test_more_clips_move_nobody():
    few = split_speakers(rows_of([f"sc-{n}" for n in range(200)]))
    many = split_speakers(rows_of([f"sc-{n}" for n in range(400)]))

    assert set(few["choosing"]) <= set(many["choosing"])
    assert not set(few["choosing"]) & set(many["reporting"])


def test_a_named_speaker_reports_whatever_the_hash_says():
    row = {"speaker": REPORTING_SPEAKERS[0], "source": "fsdd"}

    assert part_of(row, load_split()) == "reporting"


def test_joined_words_are_of_one_speaker():
    import numpy as np

    clips = [
        (np.full(4000, 900 * (n + 1), np.int16), text, voice)
        for n, (text, voice) in enumerate(
            [("one", "a"), ("two", "a"), ("three", "b"), ("four", "b")]
        )
    ]

    made = list(splice(clips, 30, seed=1))

    assert len(made) == 30
    for samples, text, voice in made:
        own = {"one", "two"} if voice == "a+" else {"three", "four"}
        assert set(text.split()) <= own
        assert len(samples) >= 2 * 4000 * 0.9


def test_reporting_voices_are_kept_from_the_training_voices():
    from audio_demo_synth.ear.speak import FLITE_VOICES

    names = {voice.split(":")[1] for voice in REPORTING_VOICES}

    assert not names & set(FLITE_VOICES)
    split = json.loads(MEASURE_SPLIT.read_text("utf-8"))
    measured = {voice for part in ("tuning", "reporting") for voice in split[part]["voices"]}
    styles = {voice.split(":")[1] for voice in measured if voice.startswith("kokoro:")}
    assert styles <= UNHEARD_STYLES
