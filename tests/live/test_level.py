import numpy as np
import pytest

from readback.speech.level import Level, check_level, clipped_share, meter_dbfs, speech_fault
from tests.live.fakes import quiet, read_speech


def heard(gain_db: float = 0.0, noise: float = 1e-4) -> np.ndarray:
    speech = read_speech("gc01_hold_short.flac")
    whole = np.concatenate([quiet(1.0) * 0, speech, quiet(1.0) * 0])
    rng = np.random.default_rng(1)
    scaled = whole * 10 ** (gain_db / 20) + rng.normal(0, noise, len(whole))
    return np.clip(np.rint(scaled * 32_768), -32_768, 32_767).astype(np.int16)


@pytest.mark.parametrize(
    ("pcm", "level"),
    [
        (heard(), Level.GOOD),
        (heard(-40.0, 3e-5), Level.TOO_QUIET),
        (heard(25.0), Level.CLIPPED),
        (np.zeros(48_000, np.int16), Level.MUTED),
        (np.zeros(0, np.int16), Level.MUTED),
        (np.random.default_rng(2).normal(0, 2_000, 48_000).astype(np.int16), Level.NOISE_ONLY),
    ],
    ids=["good", "too quiet", "clipped", "muted", "no sound", "noise only"],
)
def test_the_level_check_tells_what_is_wrong(pcm, level):
    report = check_level(pcm)

    assert report.level is level
    assert report.advice


# A sine at full scale has an RMS 3.01 dB under full scale: 20 log10(1 / sqrt 2).
def test_the_meter_shows_a_sine_at_full_scale_three_db_below_it():
    sine = np.sin(2 * np.pi * 1_000 * np.arange(16_000) / 16_000)

    assert meter_dbfs((sine * 32_767).astype(np.int16)) == pytest.approx(-3.01, abs=0.01)


def test_the_meter_has_a_lowest_mark():
    assert meter_dbfs(np.zeros(800, np.int16)) == meter_dbfs(np.zeros(0, np.int16)) == -90.0


def test_one_sample_at_full_scale_is_no_clipping():
    pcm = np.zeros(1_000, np.int16)
    pcm[[10, 500]] = 32_767

    assert clipped_share(pcm) == 0.0


def test_samples_in_a_row_at_full_scale_are_counted():
    pcm = np.zeros(1_000, np.int16)
    pcm[100:105] = -32_768

    assert clipped_share(pcm) == 0.005


# Levels by hand: a voice at 0.5 of full scale; the same 50 dB lower; the same cut off at it.
@pytest.mark.parametrize(
    ("gain", "fault"), [(1.0, None), (10 ** (-50 / 20), "too quiet"), (20.0, "clipped")]
)
def test_what_is_wrong_with_the_level_of_speech_is_told(gain, fault):
    seconds = np.arange(16_000) / 16_000
    voice = sum(np.sin(2 * np.pi * 120 * k * seconds) / k for k in range(1, 20))
    samples = np.clip(gain * 0.5 * voice / np.abs(voice).max(), -1, 1)

    assert speech_fault(np.round(32_767 * samples).astype(np.int16)) == fault


def test_no_sound_has_no_fault():
    assert speech_fault(np.zeros(0, np.int16)) is None
