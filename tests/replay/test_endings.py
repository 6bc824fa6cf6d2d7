import numpy as np
import pytest
import soundfile

from readback.speech.endings import is_cut_off

FORMATS = {
    "wav": {},
    "ogg": {"subtype": "VORBIS"},
    "opus": {"format": "OGG", "subtype": "OPUS"},
}


@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize("share", [0.3, 0.6, 0.99])
def test_a_recording_without_its_end_is_told_from_a_whole_one(tmp_path, ending, share):
    path = tmp_path / f"noise.{ending}"
    noise = np.random.default_rng(1).normal(0, 0.1, 48_000)
    # Files as libsndfile writes them.
    soundfile.write(path, noise, 16_000, **FORMATS[ending])
    whole = is_cut_off(path)

    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)])

    assert not whole
    assert is_cut_off(path)


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_size_that_nobody_knew_tells_nothing(tmp_path, size):
    soundfile.write(tmp_path / "noise.wav", np.zeros(800), 16_000)
    data = bytearray((tmp_path / "noise.wav").read_bytes())
    data[4:8] = size.to_bytes(4, "little")
    (tmp_path / "noise.wav").write_bytes(data)

    assert not is_cut_off(tmp_path / "noise.wav")


def test_other_formats_are_left_to_their_decoders(tmp_path):
    (tmp_path / "any.flac").write_bytes(b"fLaC")

    assert not is_cut_off(tmp_path / "any.flac")
