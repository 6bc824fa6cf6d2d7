"""Recordings of every kind are read, or refused in one line."""

import os
import struct
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from readback.errors import AudioError
from readback.speech.audio import Recording, read_recording
from tests.speech.conftest import DATA, read_samples

TONE_HZ = 440.0


def tone(rate_hz: int, seconds: float = 1.0) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * TONE_HZ * np.arange(round(rate_hz * seconds)) / rate_hz)


def pitch_hz(samples: np.ndarray) -> float:
    power = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(power) * 16_000 / len(samples))


@pytest.mark.parametrize(
    ("suffix", "subtype", "rate_hz"),
    [
        ("wav", "PCM_16", 16_000),
        ("wav", "PCM_U8", 8_000),
        ("wav", "PCM_24", 44_100),
        ("wav", "PCM_32", 48_000),
        ("wav", "FLOAT", 96_000),
        ("wav", "DOUBLE", 192_000),
        ("wav", "ULAW", 8_000),
        ("wav", "IMA_ADPCM", 22_050),
        ("flac", "PCM_S8", 8_000),
        ("flac", "PCM_24", 96_000),
        ("ogg", "VORBIS", 44_100),
        ("ogg", "OPUS", 48_000),
        ("mp3", "MPEG_LAYER_III", 44_100),
        ("aiff", "PCM_16", 11_025),
    ],
)
def test_every_format_keeps_pitch_length_and_level(tmp_path, suffix, subtype, rate_hz):
    path = tmp_path / f"tone.{suffix}"
    soundfile.write(path, tone(rate_hz), rate_hz, subtype=subtype)

    samples = read_recording(path)[None]

    assert len(samples) == pytest.approx(16_000, abs=1_600)
    assert pitch_hz(samples) == pytest.approx(TONE_HZ, abs=2)
    assert np.std(samples[2_000:14_000]) == pytest.approx(0.5 / np.sqrt(2) * 32768, rel=0.05)


def test_a_16_khz_recording_is_given_sample_for_sample():
    expected, _ = soundfile.read(DATA / "cross.flac", dtype="int16")

    assert np.array_equal(read_samples("cross"), expected)
    assert np.array_equal(read_recording(DATA / "cross.flac")[None], expected)


@pytest.mark.parametrize("second", [lambda x: x, lambda x: -x, lambda x: 0.2 * x + 0.01])
def test_two_channels_with_the_same_signal_are_one(tmp_path, second: Callable[..., np.ndarray]):
    first = read_samples("cross") / 32768
    soundfile.write(tmp_path / "same.wav", np.column_stack([first, second(first)]), 16_000)

    recording = Recording(tmp_path / "same.wav")

    assert recording.stations == (None,)
    assert sum(len(block[0]) for block in recording.blocks()) == len(first)


def test_two_channels_that_differ_are_two_stations(tmp_path):
    left, right = (read_samples(name)[:30_000] for name in ("instruction", "cross"))
    soundfile.write(tmp_path / "two.flac", np.column_stack([left, right]), 16_000)

    heard = read_recording(tmp_path / "two.flac")

    assert np.array_equal(heard["left"], left)
    assert np.array_equal(heard["right"], right)


def test_a_station_that_never_speaks_is_still_a_station(tmp_path):
    left = read_samples("cross")
    soundfile.write(tmp_path / "half.wav", np.column_stack([left, 0 * left]), 16_000)

    assert Recording(tmp_path / "half.wav").stations == ("left", "right")


def test_samples_that_are_no_number_are_silence_and_loud_ones_are_clipped(tmp_path):
    odd = np.array([0.5, np.nan, np.inf, -np.inf, 7.0, 0.25] * 100, np.float32)
    soundfile.write(tmp_path / "odd.wav", odd, 16_000, subtype="FLOAT")

    samples = read_recording(tmp_path / "odd.wav")[None]

    assert samples[:6].tolist() == [16384, 0, 32767, -32768, 32767, 8192]


def test_a_truncated_wav_gives_what_it_has(tmp_path):
    whole = (DATA / "cross.flac").read_bytes()
    samples, _ = soundfile.read(DATA / "cross.flac", dtype="int16")
    soundfile.write(tmp_path / "whole.wav", samples, 16_000)
    data = (tmp_path / "whole.wav").read_bytes()
    (tmp_path / "half.wav").write_bytes(data[: len(data) // 2])
    (tmp_path / "half.flac").write_bytes(whole[: len(whole) // 2])

    assert len(read_recording(tmp_path / "half.wav")[None]) == pytest.approx(16_320, abs=50)
    with pytest.raises(AudioError, match=r"half\.flac: is damaged about"):
        read_recording(tmp_path / "half.flac")


def test_blocks_before_the_damage_come_first(tmp_path):
    soundfile.write(tmp_path / "long.flac", np.random.default_rng(1).normal(0, 0.1, 80_000), 16_000)
    data = (tmp_path / "long.flac").read_bytes()
    (tmp_path / "long.flac").write_bytes(data[: len(data) * 3 // 4])
    blocks = Recording(tmp_path / "long.flac").blocks()

    first = next(blocks)

    assert len(first[0]) > 10_000
    with pytest.raises(AudioError, match="damaged"):
        list(blocks)


def _wav_header(rate_hz: int, channels: int = 1, data: bytes = bytes(2_000)) -> bytes:
    """A PCM WAV header by hand: libsndfile writes no absurd ones."""
    form = struct.pack("<HHIIHH", 1, channels, rate_hz, rate_hz * 2 * channels, 2 * channels, 16)
    body = (
        b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(data)) + data
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize(
    ("name", "data", "what"),
    [
        ("none.wav", b"", "is empty"),
        ("no_samples.wav", _wav_header(16_000, data=b""), "holds no sound"),
        ("text.wav", b"hold short of runway two seven left\n" * 50, "is not a recording"),
        ("text.mp3", b"hold short of runway two seven left\n" * 50, "is not a recording"),
        ("cut.wav", _wav_header(16_000)[:20], "is not a recording"),
        ("cut.flac", (DATA / "cross.flac").read_bytes()[:40], "(is damaged|is not a recording)"),
        ("samples.raw", bytes(1_000), "raw samples"),
        ("slow.wav", _wav_header(1), "has a sample rate of 1 Hz"),
        ("fast.wav", _wav_header(2_000_000_000), "has a sample rate of 2000000000 Hz"),
        ("many.wav", _wav_header(16_000, channels=6), "has 6 channels"),
    ],
)
def test_what_cannot_be_heard_is_refused_in_one_line(tmp_path, capfd, name, data, what):
    path = tmp_path / name
    path.write_bytes(data)

    with pytest.raises(AudioError, match=f"{name}: {what}") as refusal:
        read_recording(path)

    assert "\n" not in str(refusal.value)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("path", "what"),
    [("nowhere.wav", "no such file"), (".", "is a folder"), ("a\0b.wav", "(no such|cannot be)")],
)
def test_a_path_to_no_recording_is_refused(tmp_path, path, what):
    with pytest.raises(AudioError, match=what):
        Recording(tmp_path / path)


def test_a_device_is_refused_and_not_waited_for():
    with pytest.raises(AudioError, match=r"(is not a file|no such file)"):
        Recording(os.devnull)


def test_a_file_that_may_not_be_read_says_so(tmp_path):
    class Locked(type(tmp_path)):  # Root may read anything, so permissions cannot be taken away.
        def open(self, *args: object, **kwargs: object) -> None:
            raise PermissionError(13, "Permission denied")

    from readback.speech.audio import _check_file

    path = tmp_path / "locked.wav"
    path.write_bytes(b"RIFF")

    with pytest.raises(AudioError, match="you may not read it"):
        _check_file(Locked(path))


def test_memory_does_not_grow_with_length(tmp_path):
    peaks = []
    for minutes in (1, 8):
        path = tmp_path / f"{minutes}.wav"
        with soundfile.SoundFile(path, "w", 16_000, 1) as file:
            for _ in range(minutes):
                file.write(np.random.default_rng(0).normal(0, 0.1, 16_000 * 60))
        tracemalloc.start()
        assert sum(len(block[0]) for block in Recording(path).blocks()) == minutes * 60 * 16_000
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()

    assert peaks[1] < 1.2 * peaks[0]


def _damaged(base: bytes) -> st.SearchStrategy[bytes]:
    """A recording with some bytes changed, some cut off, some put in."""

    def damage(edits: list[tuple[int, int]], cut: int, insert: bytes) -> bytes:
        data = bytearray(base)
        for place, value in edits:
            data[place % len(data)] = value
        del data[len(data) - cut % len(data) :]
        place = cut % (len(data) + 1)
        return bytes(data[:place] + insert + data[place:])

    places = st.one_of(st.integers(0, 80), st.integers(0, 10**6))
    edits = st.lists(st.tuples(places, st.integers(0, 255)), max_size=12)
    cuts = st.one_of(st.just(0), st.integers(0, 10**6))
    return st.builds(damage, edits, cuts, st.binary(max_size=8))


def _base(suffix: str) -> bytes:
    import io

    file = io.BytesIO()
    noise = np.random.default_rng(0).normal(0, 0.1, (4_000, 2))
    soundfile.write(file, noise, 16_000, format=suffix.upper())
    return file.getvalue()


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "mp3"])
@given(data=st.data())
@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_damage_raises_anything_but_an_audio_error(tmp_path: Path, suffix, data):
    path = tmp_path / f"fuzz.{suffix}"
    path.write_bytes(data.draw(_damaged(_base(suffix))))

    try:
        heard = read_recording(path)
    except AudioError as error:
        assert str(path) in str(error)
    else:
        assert all(samples.dtype == np.int16 for samples in heard.values())


@given(content=st.binary(max_size=3_000), suffix=st.sampled_from(["wav", "mp3", "flac", "x"]))
@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_random_bytes_raise_nothing_but_an_audio_error(tmp_path: Path, content, suffix):
    path = tmp_path / f"random.{suffix}"
    path.write_bytes(content)

    with pytest.raises(AudioError):
        read_recording(path)


@pytest.mark.parametrize("ending", ["wav", "flac", "mp3", "ogg"])
def test_nothing_is_lost_where_one_block_ends_and_the_next_begins(tmp_path, ending):
    path = tmp_path / f"sweep.{ending}"
    times = np.arange(4 * 16_000) / 16_000
    soundfile.write(path, 0.3 * np.sin(times**2 * 200), 16_000)

    read = read_recording(path)[None] / 32_768

    whole, _ = soundfile.read(path)
    assert np.abs(read[: len(whole)] - whole).max() < 0.001
