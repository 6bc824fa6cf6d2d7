"""One contract, all recognisers."""

import numpy as np
import pytest

from readback.transmission import Transmission
from tests.speech.conftest import read_pcm

SAID = {
    "instruction": "larkspur four five two hold short of runway two seven left",
    "right_readback": "larkspur four five two holding short of runway two seven left",
    "wrong_readback": "larkspur four five two holding short of runway two seven right",
    "cross": "cross runway zero niner",
}


@pytest.mark.parametrize("name", SAID)
def test_clear_speech_is_heard_word_for_word(recogniser, name):
    assert recogniser.recognise(read_pcm(name)).text == SAID[name]


def test_a_wrong_readback_is_heard_with_the_same_search_as_a_right_one(recogniser):
    """Nothing but the audio differs: no recogniser is ever told what to expect."""
    right = recogniser.recognise(read_pcm("right_readback")).text
    wrong = recogniser.recognise(read_pcm("wrong_readback")).text

    assert (right.split()[-1], wrong.split()[-1]) == ("left", "right")


@pytest.mark.parametrize("block", [2, 333, 3_200, 64_000])
def test_a_fed_transmission_ends_as_if_heard_whole(recogniser, block):
    pcm = read_pcm("cross")[:32_000] if block == 2 else read_pcm("cross")
    whole = recogniser.recognise(pcm)

    step = 64 if block == 2 else block
    for start in range(0, len(pcm), step):
        recogniser.feed(pcm[start : start + step])

    assert recogniser.finish() == whole


def test_a_pause_ends_as_if_heard_whole_and_the_transmission_may_go_on(recogniser):
    pcm = read_pcm("instruction")
    whole = recogniser.recognise(pcm)
    recogniser.feed(pcm[:48_000])
    recogniser.settle()
    recogniser.feed(pcm[48_000:])

    settled = recogniser.settle()

    assert settled.text == whole.text
    assert recogniser.finish() == whole
    assert recogniser.settle().words == ()


def test_partial_results_grow(recogniser):
    pcm = read_pcm("instruction")

    heard = [
        recogniser.feed(pcm[start : start + 3_200]).text for start in range(0, len(pcm), 3_200)
    ]
    recogniser.finish()

    assert heard[0] == ""
    assert "larkspur four" in heard
    assert heard[-1] == SAID["instruction"]


def test_words_have_times_in_order_and_certainties(recogniser):
    pcm = read_pcm("wrong_readback")

    words = recogniser.recognise(pcm).words

    times = [time for word in words for time in (word.start, word.end)]
    assert times == sorted(times)
    assert times[0] > 0
    assert times[-1] <= len(pcm) / 2 / recogniser.sample_rate_hz
    assert all(word.certainty is None or 0 < word.certainty < 1 for word in words)


def test_a_word_is_where_it_was_said(recogniser):
    late = bytes(2 * recogniser.sample_rate_hz)

    early_word = recogniser.recognise(read_pcm("cross")).words[1]
    late_word = recogniser.recognise(late + read_pcm("cross")).words[1]

    assert late_word.word == "runway"
    assert late_word.start == pytest.approx(early_word.start + 1.0, abs=0.05)


@pytest.mark.parametrize("seconds", [0, 1, 2, 20])
def test_silence_has_no_words(recogniser, seconds):
    silence = bytes(2 * recogniser.sample_rate_hz * seconds)

    fed = recogniser.feed(silence)

    assert (fed.words, recogniser.finish().words) == ((), ())
    assert recogniser.recognise(silence) == Transmission()


@pytest.mark.parametrize("size", [0, 1, 2, 3, 100, 799, 2_001])
def test_audio_too_short_for_a_word_has_none(recogniser, size):
    assert recogniser.recognise(read_pcm("cross")[8_000 : 8_000 + size]).words == ()


@pytest.mark.parametrize("level", [1, 30, 3_000, 30_000])
def test_noise_has_no_sure_words(recogniser, level):
    noise = np.random.default_rng(4).normal(0, level, 48_000).clip(-32768, 32767).astype(np.int16)

    words = recogniser.recognise(noise.tobytes()).words

    assert all(word.certainty is not None and word.certainty < 0.5 for word in words)


def test_finish_without_audio_has_no_words(recogniser):
    assert recogniser.finish() == Transmission()


def test_no_transmission_depends_on_the_ones_before(recogniser):
    first = recogniser.recognise(read_pcm("right_readback"))

    loud = np.random.default_rng(5).normal(0, 8_000, 32_000).clip(-32768, 32767).astype(np.int16)
    for pcm in (read_pcm("cross"), loud.tobytes(), b"", bytes(32_000)):
        recogniser.recognise(pcm)
        recogniser.feed(pcm)
        recogniser.finish()

    assert recogniser.recognise(read_pcm("right_readback")) == first


def test_hearing_another_in_the_middle_of_feeding_loses_nothing(recogniser):
    pcm = read_pcm("wrong_readback")
    whole = recogniser.recognise(pcm)

    recogniser.feed(pcm[:50_000])
    between = recogniser.recognise(read_pcm("cross"))
    recogniser.feed(pcm[50_000:])

    assert between.text == SAID["cross"]
    assert recogniser.finish() == whole


def test_nothing_is_printed(recogniser, capfd):
    recogniser.recognise(read_pcm("cross"))
    recogniser.recognise(b"")

    assert capfd.readouterr() == ("", "")
