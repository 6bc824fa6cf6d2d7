import numpy as np
import pytest
import soundfile

from readback.errors import AudioError
from readback.records.audio import MARGIN_S, cut_clips, decode_flac, encode_flac, envelope


@pytest.fixture
def two_stations(tmp_path):
    """Three seconds: station left says 1000 in the second second, right -2000 in the third."""
    samples = np.zeros((48_000, 2), np.int16)
    rng = np.random.default_rng(3)
    samples[16_000:32_000, 0] = rng.integers(-1000, 1000, 16_000)
    samples[32_000:, 1] = rng.integers(-2000, 2000, 16_000)
    path = tmp_path / "two.wav"
    soundfile.write(path, samples, 16_000)
    return path, samples


def test_each_clip_is_of_its_station_and_time(two_stations):
    path, samples = two_stations

    clips = cut_clips(path, [(1.0, 2.0, "left"), (2.0, 3.0, "right")])

    left, right = (decode_flac(clip)[0] for clip in clips)
    margin = round(MARGIN_S * 16_000)
    assert np.array_equal(left, samples[16_000 - margin : 32_000 + margin, 0])
    assert np.array_equal(right, samples[32_000 - margin :, 1])


def test_clips_may_overlap_and_come_in_any_order(two_stations):
    path, samples = two_stations

    clips = cut_clips(path, [(1.5, 2.0, "left"), (1.0, 1.75, "left")])

    first, second = (decode_flac(clip)[0] for clip in clips)
    assert np.array_equal(first, samples[20_800:35_200, 0])
    assert np.array_equal(second, samples[12_800:31_200, 0])


def test_damaged_sound_is_told():
    with pytest.raises(AudioError, match="is damaged"):
        decode_flac(encode_flac(np.zeros(100, np.int16))[:20])


def test_the_envelope_is_the_loudest_of_each_part():
    pcm = np.array([0, 16384, -32768, 0, 0, 0, 0, 8192], np.int16)

    assert envelope(pcm, 4).tolist() == [0.5, 1.0, 0.0, 0.25]


def test_the_envelope_of_nothing_is_zero():
    assert envelope(np.zeros(0, np.int16), 3).tolist() == [0.0, 0.0, 0.0]
