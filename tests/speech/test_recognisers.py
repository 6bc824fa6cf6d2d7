"""One contract, all recognisers."""

import numpy as np
import pytest

from readback.transmission import Transmission
from tests.speech.conftest import ENGLISH


@pytest.mark.parametrize("name", ENGLISH.said)
def test_clear_speech_is_heard_word_for_word(recogniser, spoken, name):
    assert recogniser.recognise(spoken.pcm(name)).text == spoken.said[name]


def test_a_wrong_readback_is_heard_with_the_same_search_as_a_right_one(recogniser, spoken):
    """Nothing but the audio differs: no recogniser is ever told what to expect."""
    right = recogniser.recognise(spoken.pcm("right_readback")).text
    wrong = recogniser.recognise(spoken.pcm("wrong_readback")).text

    last = [spoken.said[name].split()[-1] for name in ("right_readback", "wrong_readback")]
    assert [right.split()[-1], wrong.split()[-1]] == last


@pytest.mark.parametrize("block", [2, 333, 3_200, 64_000])
def test_a_fed_transmission_ends_as_if_heard_whole(recogniser, spoken, block):
    pcm = spoken.pcm("cross")[:32_000] if block == 2 else spoken.pcm("cross")
    whole = recogniser.recognise(pcm)

    step = 64 if block == 2 else block
    for start in range(0, len(pcm), step):
        recogniser.feed(pcm[start : start + step])

    assert recogniser.finish() == whole


def test_a_pause_ends_as_if_heard_whole_and_the_transmission_may_go_on(recogniser, spoken):
    pcm = spoken.pcm("instruction")
    whole = recogniser.recognise(pcm)
    recogniser.feed(pcm[:48_000])
    recogniser.settle()
    recogniser.feed(pcm[48_000:])

    settled = recogniser.settle()

    assert settled.text == whole.text
    assert recogniser.finish() == whole
    assert recogniser.settle().words == ()


def test_partial_results_grow(recogniser, spoken):
    pcm = spoken.pcm("instruction")

    heard = [
        recogniser.feed(pcm[start : start + 3_200]).text for start in range(0, len(pcm), 3_200)
    ]
    recogniser.finish()

    assert heard[0] == ""
    assert any(0 < len(text) < len(heard[-1]) for text in heard)
    assert heard[-1] == spoken.said["instruction"]


def test_words_have_times_in_order_and_certainties(recogniser, spoken):
    pcm = spoken.pcm("wrong_readback")

    words = recogniser.recognise(pcm).words

    times = [time for word in words for time in (word.start, word.end)]
    assert times == sorted(times)
    assert times[0] > 0
    assert times[-1] <= len(pcm) / 2 / recogniser.sample_rate_hz
    assert all(word.certainty is None or 0 < word.certainty <= 1 for word in words)


def test_a_word_is_where_it_was_said(recogniser, spoken):
    late = bytes(2 * recogniser.sample_rate_hz)

    early_word = recogniser.recognise(spoken.pcm("cross")).words[1]
    late_word = recogniser.recognise(late + spoken.pcm("cross")).words[1]

    assert late_word.word == early_word.word == spoken.said["cross"].split()[1]
    assert late_word.start == pytest.approx(early_word.start + 1.0, abs=0.05)


@pytest.mark.parametrize("seconds", [0, 1, 2, 20])
def test_silence_has_no_words(recogniser, seconds):
    silence = bytes(2 * recogniser.sample_rate_hz * seconds)

    fed = recogniser.feed(silence)

    assert (fed.words, recogniser.finish().words) == ((), ())
    assert recogniser.recognise(silence) == Transmission()


@pytest.mark.parametrize("size", [0, 1, 2, 3, 100, 799, 2_001])
def test_audio_too_short_for_a_word_has_none(recogniser, spoken, size):
    assert recogniser.recognise(spoken.pcm("cross")[8_000 : 8_000 + size]).words == ()


# Not Vosk: it is as sure of a word in loud noise as in speech; no noise is found to be a voice.
@pytest.mark.parametrize("engine", ["pocketsphinx", "ear"], indirect=True)
@pytest.mark.parametrize("level", [1, 30, 3_000, 30_000])
def test_noise_has_no_sure_words(recogniser, level):
    noise = np.random.default_rng(4).normal(0, level, 48_000).clip(-32768, 32767).astype(np.int16)

    words = recogniser.recognise(noise.tobytes()).words

    assert all(word.certainty is not None and word.certainty < 0.5 for word in words)


def test_finish_without_audio_has_no_words(recogniser):
    assert recogniser.finish() == Transmission()


def test_no_transmission_depends_on_the_ones_before(recogniser, spoken):
    first = recogniser.recognise(spoken.pcm("right_readback"))

    loud = np.random.default_rng(5).normal(0, 8_000, 32_000).clip(-32768, 32767).astype(np.int16)
    for pcm in (spoken.pcm("cross"), loud.tobytes(), b"", bytes(32_000)):
        recogniser.recognise(pcm)
        recogniser.feed(pcm)
        recogniser.finish()

    assert recogniser.recognise(spoken.pcm("right_readback")) == first


def test_hearing_another_in_the_middle_of_feeding_loses_nothing(recogniser, spoken):
    pcm = spoken.pcm("wrong_readback")
    whole = recogniser.recognise(pcm)

    recogniser.feed(pcm[:50_000])
    between = recogniser.recognise(spoken.pcm("cross"))
    recogniser.feed(pcm[50_000:])

    assert between.text == spoken.said["cross"]
    assert recogniser.finish() == whole


def test_nothing_is_printed(recogniser, spoken, capfd):
    recogniser.recognise(spoken.pcm("cross"))
    recogniser.recognise(b"")

    assert capfd.readouterr() == ("", "")
