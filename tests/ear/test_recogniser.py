"""The ear behind the promise that every recogniser keeps, with the project's whole grammar."""

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from readback.errors import RecogniserError
from readback.phraseology.grammar import load_grammar
from readback.search import Arc, SearchGrammar
from readback.speech.ear import EarRecogniser
from readback.speech.ear.network import MODEL, Network
from readback.speech.ear.recogniser import LEAD_S, hear_long
from readback.speech.engines import default_engine, make_recogniser

DATA = Path(__file__).parent / "data"
TEXTS = {
    name: facts["text"] for name, facts in json.loads((DATA / "texts.json").read_text()).items()
}
"""Spoken by voices that training never heard: flite rms (BSD-like), hibari heart (Apache-2.0)."""
RATE = 16_000


@pytest.fixture(scope="module")
def ear():
    recogniser = EarRecogniser(load_grammar().search())
    yield recogniser
    recogniser.close()


def recorded(name):
    samples, rate = soundfile.read(DATA / f"{name}.flac", dtype="int16")
    assert rate == RATE
    return samples.astype("<i2").tobytes()


def said(text):
    return text.replace("niner", "nine")


@pytest.mark.parametrize("name", ["hold_short", "brakes", "contact"])
def test_unheard_voices_are_understood_with_the_whole_grammar(ear, name):
    heard = ear.recognise(recorded(name))

    assert said(heard.text) == TEXTS[name]
    assert all(word.certainty > 0.9 for word in heard.words)


def test_words_follow_each_other_within_the_recording(ear):
    pcm = recorded("hold_short")

    words = ear.recognise(pcm).words

    assert words[0].start == pytest.approx(0.25, abs=0.15)
    assert all(a.start < b.start for a, b in itertools.pairwise(words))
    assert all(word.start < word.end <= len(pcm) / 2 / RATE for word in words)


def test_speech_outside_the_grammar_has_no_words(ear):
    assert ear.recognise(recorded("outside")).words == ()


@pytest.mark.parametrize("block_s", [0.02, 0.1, 0.37, 5.0])
def test_final_result_of_a_stream_is_that_of_the_whole(ear, block_s):
    pcm = recorded("hold_short")
    size = 2 * int(block_s * RATE)
    for at in range(0, len(pcm), size):
        ear.feed(pcm[at : at + size])

    assert ear.finish() == ear.recognise(pcm)


def test_partial_results_come_while_speech_goes_on(ear):
    pcm = recorded("contact")
    block = RATE // 5
    partial = [ear.feed(pcm[at : at + block]).text for at in range(0, len(pcm), block)]
    ear.finish()

    assert len(set(partial)) > 4
    assert any(text.startswith("contact") and "decimal" not in text for text in partial)


def test_a_stream_does_not_go_on_into_the_next(ear):
    ear.feed(recorded("hold_short"))
    ear.finish()
    ear.feed(recorded("brakes"))

    assert ear.finish().text == TEXTS["brakes"]


@pytest.mark.parametrize(
    "pcm",
    [
        b"",
        b"\x01",
        bytes(2),
        bytes(2 * RATE),
        bytes(2 * 20 * RATE),
        np.array([900, -900] * 20, "<i2").tobytes(),
        np.random.default_rng(1).normal(0, 3000, 3 * RATE).astype("<i2").tobytes(),
        np.random.default_rng(2).normal(0, 60, 25 * RATE).astype("<i2").tobytes(),
        np.clip(np.random.default_rng(3).normal(0, 9e4, RATE), -32768, 32767)
        .astype("<i2")
        .tobytes(),
        (9000 * np.sin(np.arange(3 * RATE) * 0.17)).astype("<i2").tobytes(),
    ],
    ids=("empty byte sample silence long-silence click noise long-hiss clipped tone").split(),
)
def test_what_is_no_speech_has_no_words(ear, pcm):
    assert ear.recognise(pcm).words == ()


def test_long_sound_is_heard_to_its_end(ear):
    pause = np.random.default_rng(1).normal(0, 8, 13 * RATE).astype("<i2").tobytes()

    heard = ear.recognise(recorded("brakes") + pause + recorded("brakes")).words

    times = [word.start for word in heard if word.word == "brakes"]
    assert times
    assert times[-1] > 13


def test_windows_join_without_a_gap():
    samples = np.random.default_rng(4).normal(0, 0.05, 27 * RATE + 5000).astype(np.float32)

    steps = hear_long(Network(), samples)

    assert len(steps) == pytest.approx(len(samples) / 320, abs=3)


def test_a_closed_ear_says_so():
    search = SearchGrammar("", {"a": ("AH",)}, (), (Arc(0, 1, "a"),), frozenset({1}))
    ear = EarRecogniser(search)
    ear.close()
    ear.close()

    with pytest.raises(RecogniserError, match="closed"):
        ear.recognise(bytes(np.full(2 * RATE, 7, np.uint8)))


def test_a_missing_or_damaged_model_is_told_in_one_line(tmp_path):
    search = SearchGrammar("", {"a": ("AH",)}, (), (Arc(0, 1, "a"),), frozenset({1}))
    damaged = tmp_path / "ear.onnx"
    damaged.write_bytes(b"not a model")

    with pytest.raises(RecogniserError, match="no such file"):
        EarRecogniser(search, model=tmp_path / "nowhere.onnx")
    with pytest.raises(RecogniserError, match="cannot be read") as refused:
        EarRecogniser(search, model=damaged)
    assert "\n" not in str(refused.value)


def test_the_shipped_model_is_small():
    assert MODEL.stat().st_size < 15_000_000


def test_the_ear_is_the_engine_that_is_used_when_none_is_asked_for():
    assert default_engine() == "ear"


def test_the_ear_works_in_its_own_process():
    with_process = make_recogniser("ear", load_grammar().search())
    try:
        assert with_process.recognise(recorded("brakes")).text == TEXTS["brakes"]
    finally:
        with_process.close()


def test_lead_is_taken_off_the_times(ear):
    heard = ear.hear(recorded("brakes"))
    word = ear.recognise(recorded("brakes")).words[0]

    assert word.start == pytest.approx(heard[0].start * 0.02 - LEAD_S, abs=1e-6)


@pytest.mark.parametrize("other", ["eight", "five", "zero", "nine"])
def test_odds_speak_for_what_was_said(ear, other):
    said = TEXTS["hold_short"].split()
    changed = [other if word == "seven" else word for word in said]

    odds = ear.odds(recorded("hold_short"), said, changed)

    assert odds > 2
    assert ear.odds(recorded("hold_short"), changed, said) == pytest.approx(-odds)


def test_odds_of_silence_are_even(ear):
    assert ear.odds(bytes(RATE), ["two"], ["three"]) == 0


def test_odds_of_an_unknown_word_are_refused_by_name(ear):
    with pytest.raises(RecogniserError, match='"kumquat"'):
        ear.odds(recorded("brakes"), ["kumquat"], ["brakes"])
