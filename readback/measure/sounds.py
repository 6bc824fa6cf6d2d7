"""Sounds that are no call, made by program: noise, tones, music, clicks, breath, babble."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from readback.speech.recogniser import SAMPLE_RATE_HZ

Samples = NDArray[np.floating]

PEAK = 0.5
_SCALE = (0, 2, 4, 5, 7, 9, 11, 12)
"""Semitones of a major scale."""
_KEYPAD_HZ = ((697, 770, 852, 941), (1209, 1336, 1477, 1633))
"""Pairs of tones of a telephone's keypad: ITU-T Q.23, from memory."""


@dataclass(frozen=True)
class Sound:
    """One sound in which nobody makes a call."""

    name: str
    kind: str
    samples: Samples
    """Shape ``(n,)``, in [-1, 1], at 16 kHz."""


def make_sounds(*, tuning: bool = False) -> Iterator[Sound]:
    """Make 86 sounds without a voice; the same each time.

    Args:
        tuning: Make those that thresholds are set by, others than those that figures are
            reported on.

    Yields:
        20 of ``noise``, 20 of ``music``, 14 of ``tone``, 12 of ``click``, 12 of ``breath``, and 8
        of ``quiet``, 2 to 5 s long.
    """
    makers: dict[str, tuple[int, Callable[[int, np.random.Generator], Samples]]] = {
        "noise": (20, _noise),
        "music": (20, _music),
        "tone": (14, _tone),
        "click": (12, _clicks),
        "breath": (12, _breath),
        "quiet": (8, _quiet),
    }
    for seed, (kind, (count, make)) in enumerate(makers.items()):
        for number in range(count):
            rng = np.random.default_rng((seed, number, 1) if tuning else (seed, number))
            length = round(rng.uniform(2.0, 5.0) * SAMPLE_RATE_HZ)
            yield Sound(f"{kind} {number}", kind, make(length, rng))


def backwards(name: str, samples: Samples) -> Sound:
    """Play a recording of speech backwards: the sounds of a voice, and no word."""
    return Sound(f"{name} backwards", "backwards", samples[::-1].copy())


def babble(name: str, voices: Sequence[Samples]) -> Sound:
    """Let some people talk at once, as loud as each other."""
    mixed = np.zeros(max(len(voice) for voice in voices))
    for voice in voices:
        mixed[: len(voice)] += voice / np.std(voice)
    return Sound(name, "babble", _level(mixed))


def shaped_noise(length: int, exponent: float, rng: np.random.Generator) -> Samples:
    """Make noise whose power falls with the frequency to the power of ``exponent``."""
    hz = np.fft.rfftfreq(length, 1 / SAMPLE_RATE_HZ)
    spectrum = np.fft.rfft(rng.standard_normal(length))
    return np.fft.irfft(spectrum / np.maximum(hz, 40.0) ** (exponent / 2), length)


def breath(length: int, rng: np.random.Generator) -> Samples:
    """Make one breath: a rush between 500 Hz and 4 kHz that swells and dies away."""
    hz = np.fft.rfftfreq(length, 1 / SAMPLE_RATE_HZ)
    spectrum = np.fft.rfft(rng.standard_normal(length))
    centre = rng.uniform(900.0, 1800.0)
    gain = np.exp(-((np.log2(np.maximum(hz, 1.0) / centre)) ** 2))
    return np.fft.irfft(spectrum * gain, length) * np.hanning(length)


def _noise(length: int, rng: np.random.Generator) -> Samples:
    noise = shaped_noise(length, rng.choice([0.0, 1.0, 2.0]), rng)
    seconds = np.arange(length) / SAMPLE_RATE_HZ
    if rng.random() < 0.5:
        # As fast as syllables come, the hardest for what looks for speech.
        noise *= 1 + 0.9 * np.sin(2 * np.pi * rng.uniform(2.0, 8.0) * seconds)
    if rng.random() < 0.3:
        whine = np.sin(2 * np.pi * rng.uniform(400.0, 3000.0) * seconds)
        noise += rng.uniform(0.3, 1.0) * np.std(noise) * whine
    return _level(noise)


def _tone(length: int, rng: np.random.Generator) -> Samples:
    seconds = np.arange(length) / SAMPLE_RATE_HZ
    kind = rng.integers(4)
    if kind == 0:
        return _level(np.sin(2 * np.pi * rng.uniform(200.0, 3000.0) * seconds))
    if kind == 1:
        first, last = sorted(rng.uniform(150.0, 3000.0, 2))
        turns = first * seconds + (last - first) * seconds**2 / (2 * seconds[-1])
        return _level(np.sin(2 * np.pi * turns))
    if kind == 2:
        # A horn: the harmonics of a voice's pitch, and nothing that moves.
        pitch = rng.uniform(90.0, 300.0)
        return _level(
            sum(
                (np.sin(2 * np.pi * pitch * k * seconds) / k for k in range(1, 12)),
                start=np.zeros(length),
            )
        )
    samples = np.zeros(length)
    step = SAMPLE_RATE_HZ // 5
    for start in range(0, length - step, step):
        part = np.arange(step // 2) / SAMPLE_RATE_HZ
        for tones in _KEYPAD_HZ:
            samples[start : start + step // 2] += np.sin(2 * np.pi * rng.choice(tones) * part)
    return _level(samples)


def _music(length: int, rng: np.random.Generator) -> Samples:
    """Play a melody of plucked or held notes over chords, with a beat."""
    samples = np.zeros(length)
    beat = round(rng.uniform(0.18, 0.45) * SAMPLE_RATE_HZ)
    base, held = rng.uniform(110.0, 260.0), rng.random() < 0.5
    for start in range(0, length, beat):
        count = min(beat, length - start)
        seconds = np.arange(count) / SAMPLE_RATE_HZ
        fade = np.hanning(count) if held else np.exp(-6 * seconds)
        for _ in range(3):
            pitch = base * 2 ** (rng.choice(_SCALE) / 12)
            for k in range(1, 6):
                samples[start : start + count] += fade * np.sin(2 * np.pi * k * pitch * seconds) / k
        drum = np.exp(-40 * seconds) * rng.standard_normal(count)
        samples[start : start + count] += rng.uniform(0.0, 2.0) * drum
    return _level(samples)


def _clicks(length: int, rng: np.random.Generator) -> Samples:
    samples = 1e-3 * rng.standard_normal(length)
    for _ in range(rng.integers(2, 12)):
        count = round(rng.uniform(0.001, 0.03) * SAMPLE_RATE_HZ)
        start = rng.integers(length - count)
        seconds = np.arange(count) / SAMPLE_RATE_HZ
        knock = np.sin(2 * np.pi * rng.uniform(150.0, 3000.0) * seconds)
        samples[start : start + count] += knock * np.exp(-5 * np.linspace(0, 1, count))
    return _level(samples)


def _breath(length: int, rng: np.random.Generator) -> Samples:
    samples = 1e-3 * rng.standard_normal(length)
    start = round(rng.uniform(0.1, 0.4) * SAMPLE_RATE_HZ)
    while start < length:
        count = min(round(rng.uniform(0.4, 1.2) * SAMPLE_RATE_HZ), length - start)
        if count > SAMPLE_RATE_HZ // 10:
            rush = breath(count, rng)
            samples[start : start + count] += rush / np.abs(rush).max()
        start += count + round(rng.uniform(0.3, 1.0) * SAMPLE_RATE_HZ)
    return _level(samples)


def _quiet(length: int, rng: np.random.Generator) -> Samples:
    """Make what an open line carries while nobody speaks: its own noise, and perhaps hum."""
    seconds = np.arange(length) / SAMPLE_RATE_HZ
    hum = rng.choice([0.0, 3e-3]) * np.sin(2 * np.pi * rng.choice([50.0, 60.0, 400.0]) * seconds)
    return np.asarray(10 ** rng.uniform(-4.0, -2.5) * rng.standard_normal(length) + hum)


def _level(samples: Samples) -> Samples:
    loudest = float(np.abs(samples).max())
    return samples * (PEAK / loudest) if math.isfinite(loudest) and loudest else samples
