"""A part of a recording is what stands there in the whole, wherever reading begins."""

import numpy as np
import pytest
import soundfile

from readback.errors import AudioError
from readback.speech.audio import read_recording
from readback.speech.clips import read_clip

RATE_HZ = 16_000
FORMATS = [("wav", 16_000), ("flac", 44_100), ("mp3", 44_100), ("ogg", 48_000)]


def record(path, rate_hz: int, channels: int) -> None:
    times = np.arange(6 * rate_hz) / rate_hz
    sides = [np.sin(times**2 * 40 + one) * (times % 2 < 1) * 0.3 for one in range(channels)]
    soundfile.write(path, np.stack(sides, axis=1), rate_hz)


@pytest.mark.parametrize(("ending", "rate_hz"), FORMATS)
@pytest.mark.parametrize("channels", [1, 2])
def test_a_clip_is_that_part_of_the_whole(tmp_path, ending, rate_hz, channels):
    path = tmp_path / f"whole.{ending}"
    record(path, rate_hz, channels)
    whole = read_recording(path)
    mixed = sum(one.astype(np.float32) for one in whole.values()) / 32_768

    clip = read_clip(path, 2.1, 4.3, tuple(whole))

    expected = mixed[round(2.1 * RATE_HZ) : round(4.3 * RATE_HZ)]
    assert len(clip) == len(expected)
    # At its very edges the resampler knows nothing of what comes before.
    assert np.abs(clip - expected)[200:].max() < 0.002


def test_stations_that_are_not_known_are_found(tmp_path):
    path = tmp_path / "two.wav"
    record(path, RATE_HZ, 2)

    assert np.array_equal(read_clip(path, 1.0, 2.0), read_clip(path, 1.0, 2.0, ("left", "right")))


def test_beyond_its_end_there_is_nothing(tmp_path):
    path = tmp_path / "short.wav"
    record(path, RATE_HZ, 1)

    assert len(read_clip(path, 5.0, 9.0)) == RATE_HZ
    with pytest.raises(AudioError, match=r"nothing from 6.0 to 9.0 s"):
        read_clip(path, 6.0, 9.0)
