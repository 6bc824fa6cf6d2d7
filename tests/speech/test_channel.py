"""The channels do to a signal what their docstrings say; measured from outside, on the samples."""

import numpy as np
import pytest

from readback.errors import AudioError
from readback.speech.channel import active_level, clean, interphone, vhf_radio

RATE = 16_000
NOISY = [(vhf_radio, 200.0, 4100.0), (interphone, 200.0, 6000.0)]


def voiced(seconds: float, level: float = 0.1) -> np.ndarray:
    """A vowel-like buzz: harmonics of 120 Hz, weaker as they rise."""
    time_s = np.arange(int(seconds * RATE)) / RATE
    harmonics = range(1, 60)
    return level * sum(np.sin(2 * np.pi * 120 * k * time_s + k * k) / k for k in harmonics)


def keyed_speech() -> np.ndarray:
    """One second of nothing, two of a voice, one of nothing."""
    quiet = np.zeros(RATE)
    return np.concatenate([quiet, voiced(2.0), quiet])


@pytest.mark.parametrize("snr_db", [0, 10, 20, 25])
@pytest.mark.parametrize("channel", [vhf_radio, interphone])
def test_measured_snr_is_the_one_asked_for(channel, snr_db):
    heard = channel(keyed_speech(), snr_db, seed=3).astype(float)

    # Past the click and short of the voice there is noise alone; in the middle, both.
    noise = np.mean(heard[RATE // 10 : RATE - 2000] ** 2)
    both = np.mean(heard[RATE : 3 * RATE] ** 2)

    assert 10 * np.log10((both - noise) / noise) == pytest.approx(snr_db, abs=0.5)


@pytest.mark.parametrize(("channel", "low_hz", "high_hz"), NOISY)
def test_nothing_passes_outside_the_band(channel, low_hz, high_hz):
    wide = np.random.default_rng(1).normal(0, 0.1, 4 * RATE)

    power = np.abs(np.fft.rfft(channel(wide, 20, seed=1))) ** 2
    hz = np.linspace(0, RATE / 2, len(power))
    outside = (hz < low_hz) | (hz > high_hz)

    assert 10 * np.log10(power[outside].sum() / power[~outside].sum()) < -40


@pytest.mark.parametrize(("channel", "low_hz", "high_hz"), NOISY)
def test_speech_inside_the_band_passes(channel, low_hz, high_hz):
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(4 * RATE) / RATE)

    power = np.abs(np.fft.rfft(channel(tone, 30, seed=1))) ** 2
    hz = np.linspace(0, RATE / 2, len(power))

    assert abs(hz[power.argmax()] - 1000) < 2


@pytest.mark.parametrize("channel", [vhf_radio, interphone])
def test_seed_decides_every_sample(channel):
    speech = keyed_speech()

    assert np.array_equal(channel(speech, 15, seed=5), channel(speech, 15, seed=5))
    assert not np.array_equal(channel(speech, 15, seed=5), channel(speech, 15, seed=6))
    assert np.array_equal(clean(speech), clean(speech))


def test_radio_adds_its_tail_and_nothing_else_changes_the_length():
    speech = keyed_speech()

    assert len(vhf_radio(speech, 20, seed=1)) == len(speech) + int(0.22 * RATE)
    assert len(vhf_radio(speech, 20, seed=1, late_key_s=0.2)) == len(speech) + int(0.02 * RATE)
    assert len(interphone(speech, 20, seed=1)) == len(clean(speech)) == len(speech)


@pytest.mark.parametrize("gain", [1e-3, 1.0, 50.0])
def test_output_peaks_at_minus_three_dbfs_whatever_the_input(gain):
    speech = gain * keyed_speech()

    for heard in (vhf_radio(speech, 20, 1), interphone(speech, 20, 1), clean(speech)):
        assert heard.dtype == np.float32
        assert 20 * np.log10(np.abs(heard).max()) == pytest.approx(-3, abs=0.02)


def test_squelch_tail_is_loud_and_then_closes():
    heard = vhf_radio(keyed_speech(), 25, seed=1)

    tail, closed = heard[-3520:-1600], heard[-1500:]
    assert active_level(tail) > 10 * active_level(heard[RATE // 10 : RATE - 2000])
    assert 0 < active_level(closed) < 2e-4


def test_key_click_opens_the_transmission():
    heard = np.abs(vhf_radio(keyed_speech(), 25, seed=1))

    assert heard[:80].max() > 3 * heard[800 : RATE - 2000].max()


def test_a_late_key_takes_the_first_syllable():
    syllable = np.concatenate([voiced(0.15), np.zeros(RATE), voiced(1.0)])

    whole = vhf_radio(syllable, 25, seed=1)
    late = vhf_radio(syllable, 25, seed=1, late_key_s=0.15)

    assert active_level(whole[400:2000]) > 5 * active_level(late[400:2000])


def test_radio_compresses_a_shout_towards_a_murmur():
    uneven = np.concatenate([voiced(1.0, 0.2), voiced(1.0, 0.05)])

    heard = vhf_radio(uneven, 40, seed=1)
    ratio_db = 20 * np.log10(active_level(heard[4000:16000]) / active_level(heard[20000:32000]))

    # 12 dB go in; 2:1 above a threshold at the murmur's level leaves about 6.
    assert 4 < ratio_db < 8


def test_ramp_noise_has_lines_at_the_aircraft_mains():
    # 400 Hz: frequency of aircraft alternating current, MIL-STD-704 (from memory).
    heard = interphone(keyed_speech(), 0, seed=2)[:14000]

    power = np.abs(np.fft.rfft(heard * np.hanning(len(heard)))) ** 2
    hz = np.linspace(0, RATE / 2, len(power))
    for line_hz in (400, 800, 1200, 2000):
        near = np.abs(hz - line_hz) < 60
        assert power[near].max() > 30 * np.median(power[near])


def test_clean_keeps_the_waveform():
    speech = keyed_speech() + 0.05

    assert np.corrcoef(clean(speech), speech)[0, 1] > 0.9999
    assert abs(clean(speech).mean()) < 1e-3


def test_active_level_leaves_pauses_out():
    assert active_level(keyed_speech()) == pytest.approx(np.std(voiced(2.0)), rel=0.01)
    assert active_level(np.zeros(0)) == active_level(np.zeros(500)) == 0.0


@pytest.mark.parametrize(
    "bad",
    [np.zeros(0), np.zeros(RATE), np.full(RATE, np.nan), np.full(RATE, 0.5), np.ones((RATE, 2))],
    ids=["empty", "silent", "not finite", "constant", "two channels"],
)
@pytest.mark.parametrize("channel", [vhf_radio, interphone, lambda s, *_: clean(s)])
def test_what_holds_no_speech_is_refused(channel, bad):
    with pytest.raises(AudioError):
        channel(bad, 20, 1)


@pytest.mark.parametrize("snr_db", [float("nan"), float("inf")])
@pytest.mark.parametrize("channel", [vhf_radio, interphone])
def test_an_impossible_snr_is_refused(channel, snr_db):
    with pytest.raises(AudioError, match="signal-to-noise"):
        channel(keyed_speech(), snr_db, 1)


def test_a_key_pressed_after_the_last_word_leaves_nothing():
    with pytest.raises(AudioError):
        vhf_radio(voiced(1.0), 20, 1, late_key_s=2.0)


def test_a_few_samples_are_enough():
    assert len(interphone(voiced(0.001), 20, 1)) == 16
    assert np.isfinite(vhf_radio(voiced(0.001), 20, 1)).all()
