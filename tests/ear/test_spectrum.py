"""The log-mel spectrum, to the letter as the network was trained."""

import numpy as np
import pytest

from readback.speech.ear.spectrum import LEAST_SAMPLES, log_mel, mel_filters

RATE = 16_000


def test_filters_are_those_of_the_published_scale():
    """Points of librosa.filters.mel(sr=16000, n_fft=400, n_mels=80), ISC licence, from memory of
    its formula: 1 kHz is mel 15; its largest weight, 0.0258807, and the sum of each triangle."""
    filters = mel_filters()

    assert filters.shape == (80, 201)
    assert filters.max() == pytest.approx(0.0258807, abs=2e-6)
    assert filters[:, 0].max() == 0
    assert (filters.sum(axis=1) * 40)[20:] == pytest.approx(1, abs=0.1)


@pytest.mark.parametrize("hz", [300, 1000, 3000])
def test_a_tone_is_loudest_in_the_band_of_its_pitch(hz):
    tone = np.sin(2 * np.pi * hz * np.arange(RATE) / RATE).astype(np.float32)
    centre = mel_filters()[:, hz // 40].argmax()

    assert log_mel(tone)[:, 50].argmax() == centre


def test_one_frame_is_that_of_the_definition():
    samples = np.random.default_rng(1).normal(0, 0.1, RATE).astype(np.float32)
    spectrum = log_mel(samples)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(400) / 400)
    piece = samples[10 * 160 - 200 : 10 * 160 + 200].astype(np.float64) * window
    turns = np.exp(-2j * np.pi * np.outer(np.arange(201), np.arange(400)) / 400)
    log = np.log10(np.maximum(mel_filters() @ np.abs(turns @ piece) ** 2, 1e-10))

    assert spectrum[:, 10] == pytest.approx((log + 4) / 4, abs=1e-4)


@pytest.mark.parametrize("samples", [0, 1, 100, LEAST_SAMPLES, 12_345])
def test_any_length_has_a_spectrum(samples):
    spectrum = log_mel(np.full(samples, 0.1, np.float32))

    assert spectrum.shape == (80, max(samples, LEAST_SAMPLES) // 160)
    assert np.isfinite(spectrum).all()


def test_the_floor_is_eighty_decibels_under_the_loudest():
    spectrum = log_mel(np.random.default_rng(2).normal(0, 0.1, RATE).astype(np.float32) * 0 + 0.2)

    assert spectrum.max() - spectrum.min() <= 2.0 + 1e-6
