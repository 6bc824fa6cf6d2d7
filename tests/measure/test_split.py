import csv
import json
from pathlib import Path

import pytest

from audio_demo_synth.ear.speak import (
    ESPEAK_ACCENTS,
    FLITE_VOICES,
    UNHEARD_STYLES,
)
from readback.judging.check import check

DEMO = Path(__file__).parents[2] / "audio_demo_synth"
SPLIT = json.loads((DEMO / "measure_split.json").read_text(encoding="utf-8"))
PARTS = ("tuning", "reporting")


def rows(part):
    with (DEMO / SPLIT[part]["labels"]).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_no_voice_is_in_both_splits():
    voices = {part: {row["voice"] for row in rows(part)} for part in PARTS}

    assert voices["tuning"] and voices["reporting"]
    assert not voices["tuning"] & voices["reporting"]


def test_no_text_is_in_both_splits():
    texts = {
        part: {row[side] for row in rows(part) for side in ("instruction", "readback")}
        for part in PARTS
    }

    assert not texts["tuning"] & texts["reporting"]


@pytest.mark.parametrize("part", PARTS)
def test_labels_name_only_the_voices_of_their_split(part):
    assert {row["voice"] for row in rows(part)} == set(SPLIT[part]["voices"])
    assert {row["split"] for row in rows(part)} == {part}


@pytest.mark.parametrize("part", PARTS)
def test_the_ear_was_trained_on_none_of_the_voices(part):
    for voice in SPLIT[part]["voices"]:
        synthesiser, _, name = voice.partition(":")
        if synthesiser == "kokoro":
            # Training draws from all of its voices but these.
            assert name in UNHEARD_STYLES
        else:
            assert name not in FLITE_VOICES
            assert name not in ESPEAK_ACCENTS


def test_the_speakers_of_the_ears_own_split_are_in_neither():
    ear = json.loads((DEMO / "ear" / "split.json").read_text(encoding="utf-8"))
    people = {speaker for speakers in ear.values() for speaker in speakers}

    assert not people & {row["voice"] for part in PARTS for row in rows(part)}


@pytest.mark.parametrize("part", PARTS)
def test_half_are_faithful_and_errors_are_of_at_least_14_kinds(part):
    errors = [row["error"] for row in rows(part) if row["error"]]

    assert abs(2 * len(errors) - len(rows(part))) <= 2
    assert len(set(errors)) >= 14
    assert all((row["expected"] == "correct") == (row["error"] == "") for row in rows(part))


@pytest.mark.parametrize("part", PARTS)
def test_the_judge_agrees_with_the_labels_when_the_words_are_typed(part):
    differing = [
        row["file"]
        for row in rows(part)
        if check(row["instruction"], row["readback"], authority=row["authority"]).verdict
        != row["expected"]
    ]

    assert differing == []
