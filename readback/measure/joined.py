"""Long recordings joined from transmissions, with what lies between them on a real line."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from readback.measure.conditions import Condition
from readback.measure.sounds import breath, shaped_noise
from readback.speech.channel import active_level
from readback.speech.recogniser import SAMPLE_RATE_HZ

Samples = NDArray[np.floating]

LONGEST_PAUSE_S = 0.4
"""Of a speaker who hesitates within a transmission."""
SHORTEST_GAP_S = 0.6
"""Between the speech of two transmissions."""
LONGEST_GAP_S = 5.0
_LOUD = 0.02
"""Of the loudest sample: what is fainter at both ends of a clip is no speech."""
_STEP_ON = 0.12
"""Share of transmissions that another station steps on."""
_HESITATE = 0.25
_BETWEEN = ("quiet", "hiss", "clicks", "breath", "burst", "hum")


@dataclass(frozen=True)
class Joined:
    """One recording with some transmissions in it."""

    samples: Samples
    """Shape ``(n,)``, in [-1, 1], at 16 kHz."""
    spans: tuple[tuple[float, float], ...]
    """Seconds from the first to the last sound of the speech of each transmission; one that was
    stepped on, and the one that did it, are one."""
    between: str
    """What is heard between them: quiet, hiss, clicks, breath, burst or hum."""
    stepped_on: int
    """How many of the spans are of two stations at once."""


def join_clips(clips: Sequence[Samples], condition: Condition, seed: int) -> Joined:
    """Join clean clips of one transmission each, sent over a channel.

    Args:
        clips: As many as there are to be transmissions; each with speech in it.
        condition: The channel and its noise.
        seed: Picks gaps, pauses, what lies between, and who steps on whom.
    """
    rng = np.random.default_rng(seed)
    between = _BETWEEN[seed % len(_BETWEEN)]
    parts: list[Samples] = [_gap(between, rng.uniform(0.3, 2.0), 0.05, rng)]
    spans: list[tuple[float, float]] = []
    stepped_on = 0
    for number, clip in enumerate(clips):
        speech = _hesitant(clip, rng) if rng.random() < _HESITATE else clip
        first, last = speech_span(speech)
        sent: Samples = np.asarray(condition.send(speech, f"{seed} {number}"), np.float64)
        if rng.random() < _STEP_ON:
            sent, last = _step_on(sent, last, clips[number - 1], condition, rng)
            stepped_on += 1
        at = sum(map(len, parts)) / SAMPLE_RATE_HZ
        spans.append((at + first, at + last))
        parts.append(sent)
        # The clip's own quiet ends count as a part of the gap.
        own = len(sent) / SAMPLE_RATE_HZ - last + 0.25
        gap = np.exp(rng.uniform(np.log(SHORTEST_GAP_S), np.log(LONGEST_GAP_S)))
        parts.append(_gap(between, max(0.05, gap - own), active_level(sent), rng))
    return Joined(np.clip(np.concatenate(parts), -1.0, 1.0), tuple(spans), between, stepped_on)


def speech_span(clip: Samples) -> tuple[float, float]:
    """Find where the speech of a clean clip starts and ends, seconds."""
    loud = np.flatnonzero(np.abs(clip) > _LOUD * np.abs(clip).max())
    return float(loud[0]) / SAMPLE_RATE_HZ, float(loud[-1] + 1) / SAMPLE_RATE_HZ


def _hesitant(clip: Samples, rng: np.random.Generator) -> Samples:
    """Lengthen the quietest moment in the middle half of a clip."""
    frame = SAMPLE_RATE_HZ // 50
    power = np.convolve(clip**2, np.ones(frame) / frame, mode="same")
    quarter = len(clip) // 4
    at = quarter + int(np.argmin(power[quarter : 3 * quarter]))
    pause = np.zeros(round(rng.uniform(0.15, LONGEST_PAUSE_S) * SAMPLE_RATE_HZ))
    return np.concatenate([clip[:at], pause, clip[at:]])


def _step_on(
    sent: Samples, last: float, other: Samples, condition: Condition, rng: np.random.Generator
) -> tuple[Samples, float]:
    """Let another station key before the first has finished; give the sound and its new end."""
    second = np.asarray(condition.send(other, f"stepping {rng.integers(1_000_000)}"), np.float64)
    start = round(rng.uniform(0.3, 0.9) * last * SAMPLE_RATE_HZ)
    mixed = np.zeros(max(len(sent), start + len(second)))
    mixed[: len(sent)] += sent
    mixed[start : start + len(second)] += rng.uniform(0.5, 1.0) * second
    return mixed, max(last, start / SAMPLE_RATE_HZ + speech_span(other)[1])


def _gap(between: str, seconds: float, level: float, rng: np.random.Generator) -> Samples:
    """Fill a gap as loud as a line of that kind is, against the level of the speech."""
    length = round(seconds * SAMPLE_RATE_HZ)
    quiet = 1e-4 * rng.standard_normal(length)
    if between == "hiss":
        noise = shaped_noise(length, 0.0, rng)
        return quiet + rng.uniform(0.1, 0.7) * level * noise / max(float(np.std(noise)), 1e-12)
    if between == "hum":
        # Aircraft mains and its harmonics, as loud as the noise around them.
        seconds_at = np.arange(length) / SAMPLE_RATE_HZ
        hum = sum(
            (np.sin(2 * np.pi * 400.0 * k * seconds_at) / k for k in (1, 2, 3)),
            start=np.zeros(length),
        )
        noise = shaped_noise(length, 1.0, rng)
        noise *= float(np.std(hum)) / max(float(np.std(noise)), 1e-12)
        return quiet + rng.uniform(0.1, 0.4) * level * (hum + noise)
    if between == "quiet":
        return quiet
    longest_s = {"clicks": 0.02, "breath": 0.9, "burst": 0.3}[between]
    for _ in range(rng.integers(1, 4)):
        count = min(round(rng.uniform(0.2, 1.0) * longest_s * SAMPLE_RATE_HZ), length)
        start = int(rng.integers(length - count + 1))
        rush = breath(count, rng) if between == "breath" else shaped_noise(count, 0.5, rng)
        loud = rng.uniform(0.2, 0.8) if between == "breath" else rng.uniform(0.5, 2.0)
        quiet[start : start + count] += loud * level * rush / max(float(np.std(rush)), 1e-12)
    return quiet
