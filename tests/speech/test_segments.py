"""Transmissions are found whole, and nothing else is."""

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from readback.speech.audio import Recording
from readback.speech.channel import interphone, vhf_radio
from readback.speech.segments import LONGEST_S, Segment, Segmenter, find_segments
from tests.speech.conftest import read_samples

RATE = 16_000
NAMES = ("instruction", "right_readback", "wrong_readback", "cross")


def segments_of(samples: npt.NDArray[np.int16], block: int = RATE) -> list[Segment]:
    segmenter = Segmenter()
    found = []
    for start in range(0, len(samples), block):
        found += segmenter.feed(samples[start : start + block])
    return found + segmenter.finish()


def as_pcm(samples: np.ndarray) -> npt.NDArray[np.int16]:
    return np.clip(np.rint(samples * 32768), -32768, 32767).astype(np.int16)


def spoken(name: str) -> tuple[float, float]:
    """Where the recording is above 2 % of full scale, in seconds: by eye, where speech is."""
    loud = np.flatnonzero(np.abs(read_samples(name)) > 655)
    return loud[0] / RATE, loud[-1] / RATE


def exchange(channel: str, between: str) -> tuple[np.ndarray, list[tuple[float, float]]]:
    """All recordings with 1.2 s between them, and where the speech in them is."""
    rng = np.random.default_rng(3)
    parts, truth, length = [], [], 0
    for number, name in enumerate(NAMES):
        gap = {"silence": 0.0, "hiss": 1e-3, "open squelch": 0.12}[between]
        parts.append(rng.normal(0, gap, round(1.2 * RATE)) if gap else np.zeros(round(1.2 * RATE)))
        length += len(parts[-1])
        speech = read_samples(name) / 32768
        if channel.startswith("radio"):
            speech = vhf_radio(speech, float(channel.split()[1]), number)
        truth.append(tuple(length / RATE + time for time in spoken(name)))
        parts.append(speech)
        length += len(speech)
    samples = np.concatenate(parts)
    if channel.startswith("interphone"):
        samples = interphone(samples, float(channel.split()[1]), 3)
    return samples, truth


@pytest.mark.parametrize(
    ("channel", "between"),
    [
        ("clean", "silence"),
        ("clean", "hiss"),
        ("interphone 20", "hiss"),
        ("interphone 10", "hiss"),
        ("radio 20", "silence"),
        ("radio 10", "hiss"),
        ("radio 20", "open squelch"),
        ("radio 10", "open squelch"),
    ],
)
def test_each_transmission_is_found_whole_and_alone(channel, between):
    samples, truth = exchange(channel, between)

    found = segments_of(as_pcm(samples))

    assert len(found) == len(truth)
    for segment, (start, end) in zip(found, truth, strict=True):
        assert start - 0.8 < segment.start_s <= start
        assert end <= segment.end_s < end + 0.8


@pytest.mark.parametrize("block", [137, 1_600, RATE, 10 * RATE])
def test_blocks_of_any_size_give_the_same_transmissions(block):
    samples = as_pcm(exchange("clean", "hiss")[0])
    whole = segments_of(samples, len(samples))

    found = segments_of(samples, block)

    assert [(s.start_s, s.end_s) for s in found] == [(s.start_s, s.end_s) for s in whole]
    assert all(np.array_equal(a.pcm, b.pcm) for a, b in zip(found, whole, strict=True))


def test_the_sound_of_a_segment_is_that_of_its_times():
    samples = as_pcm(exchange("clean", "hiss")[0])

    for segment in segments_of(samples):
        expected = samples[round(segment.start_s * RATE) : round(segment.end_s * RATE)]
        assert np.array_equal(segment.pcm, expected)


@pytest.mark.parametrize("name", NAMES)
def test_speech_from_the_first_to_the_last_sample_is_kept(name):
    start, end = spoken(name)
    tight = read_samples(name)[round(start * RATE) : round(end * RATE)]

    found = segments_of(tight)

    assert len(found) == 1
    assert found[0].start_s == 0
    assert found[0].end_s == pytest.approx(len(tight) / RATE, abs=0.02)


@pytest.mark.parametrize(("pause_s", "count"), [(0.2, 1), (1.0, 2)])
def test_only_a_long_pause_ends_a_transmission(pause_s, count):
    start, end = spoken("cross")
    words = read_samples("cross")[round(start * RATE) : round(end * RATE)]
    samples = np.concatenate([words, np.zeros(round(pause_s * RATE), np.int16), words])

    assert len(segments_of(samples)) == count


def _tone(hz: float, seconds: float = 10.0) -> np.ndarray:
    return 0.3 * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def _noise(level: float) -> np.ndarray:
    return np.random.default_rng(8).normal(0, level, 10 * RATE)


@pytest.mark.parametrize(
    "samples",
    [
        np.zeros(0),
        np.zeros(10),
        np.zeros(10 * RATE),
        np.full(10 * RATE, 0.3),
        _noise(1e-4),
        _noise(0.3),
        np.concatenate([np.zeros(RATE), _noise(0.1)] * 3),
        _tone(1000),
        np.concatenate([np.zeros(RATE), _tone(1000)]),
        _tone(400) + _tone(800) / 2 + _tone(1200) / 3,
        np.tile(np.concatenate([[0.9], np.zeros(RATE - 1)]), 10),
    ],
    ids=[
        *("nothing", "10 samples", "digital silence", "direct current", "faint noise"),
        *("loud noise", "bursts of noise", "tone", "tone from silence", "400 Hz hum", "clicks"),
    ],
)
def test_what_is_no_voice_is_no_transmission(samples):
    assert segments_of(as_pcm(samples)) == []


def test_a_voice_without_end_is_cut():
    speech = np.tile(read_samples("right_readback")[4_000:-4_000], 25)

    found = segments_of(speech)

    assert len(speech) > LONGEST_S * RATE
    assert all(segment.end_s - segment.start_s <= LONGEST_S + 0.1 for segment in found)
    assert sum(len(segment.pcm) for segment in found) > 0.95 * len(speech)


def test_two_stations_are_given_in_the_order_in_which_they_start(tmp_path):
    long, short = read_samples("instruction"), read_samples("cross")
    left = np.concatenate([long, np.zeros(5 * RATE, np.int16)])
    right = np.zeros_like(left)
    right[RATE : RATE + len(short)] = short
    right[-2 * RATE - len(short) : -2 * RATE] = short
    soundfile.write(tmp_path / "two.flac", np.column_stack([left, right]), RATE)

    found = list(find_segments(Recording(tmp_path / "two.flac")))

    assert [segment.channel for segment in found] == [0, 1, 1]
    assert [s.start_s for s in found] == sorted(s.start_s for s in found)
