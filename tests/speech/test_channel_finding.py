"""Channels told from sound, on speech sent over every channel."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from readback.speech.channel import clean, interphone, vhf_radio
from readback.speech.channel_finding import above_noise_db, find_channel

SPEECH = sorted((Path(__file__).parent.parent / "ear" / "data").glob("[bch]*.flac"))
LEVELS_DB = [30.0, 20.0, 10.0]


def samples(path):
    found, rate_hz = soundfile.read(path, dtype="float32")
    assert rate_hz == 16_000
    return found


def pcm(received):
    return np.round(np.asarray(received) * 32767).astype(np.int16)


@pytest.mark.parametrize("path", SPEECH, ids=lambda path: path.stem)
def test_clean_line_is_found(path):
    assert find_channel(pcm(clean(samples(path)))) == "clean"


@pytest.mark.parametrize("level_db", LEVELS_DB)
@pytest.mark.parametrize("path", SPEECH, ids=lambda path: path.stem)
def test_radio_is_found_in_any_noise(path, level_db):
    assert find_channel(pcm(vhf_radio(samples(path), level_db, seed=1))) == "radio"


@pytest.mark.parametrize("level_db", LEVELS_DB)
@pytest.mark.parametrize("path", SPEECH, ids=lambda path: path.stem)
def test_interphone_is_found_in_any_noise(path, level_db):
    assert find_channel(pcm(interphone(samples(path), level_db, seed=1))) == "interphone"


@pytest.mark.parametrize("path", SPEECH, ids=lambda path: path.stem)
def test_radio_in_which_speech_drowns_is_noisy(path):
    keyed = pcm(vhf_radio(samples(path), 0.0, seed=1))[:-4800]  # without tail and closed squelch

    assert find_channel(keyed) == "noisy"


@pytest.mark.parametrize("path", SPEECH, ids=lambda path: path.stem)
@pytest.mark.parametrize("line", [vhf_radio, interphone])
def test_speech_stands_less_above_more_noise(line, path):
    heard = [pcm(line(samples(path), level_db, seed=1))[:-4800] for level_db in (20.0, 10.0, 0.0)]

    above = [above_noise_db(one) for one in heard]

    assert above == sorted(above, reverse=True)
    assert above[0] > above[1] + 3 > above[2] + 6


def test_nothing_is_said_of_noise_where_nothing_is_heard():
    assert above_noise_db(np.zeros(16_000, np.int16)) is None
    assert above_noise_db(np.zeros(100, np.int16)) is None


def test_whole_band_in_noise_is_no_clean_line():
    speech = clean(samples(SPEECH[0]))
    noise = np.random.default_rng(2).normal(0, 0.02, len(speech))

    assert find_channel(pcm(np.clip(speech + noise, -1, 1))) is None


def test_narrow_band_with_the_pitch_of_the_voice_is_no_radio():
    """As a telephone recorder at 8 kHz gives it: nothing above 4 kHz, all below 300 Hz."""
    speech = clean(samples(SPEECH[0]))
    spectrum = np.fft.rfft(speech)
    spectrum[np.fft.rfftfreq(len(speech), 1 / 16_000) > 3600] = 0

    assert find_channel(pcm(np.fft.irfft(spectrum, len(speech)))) is None


@pytest.mark.parametrize("count", [0, 1, 1600])
def test_too_short_a_sound_has_no_channel(count):
    assert find_channel(np.zeros(count, np.int16)) is None


def test_silence_has_no_channel_that_is_trusted():
    assert find_channel(np.zeros(32_000, np.int16)) is None
