"""How loud a microphone is: one number for a meter, and a check that tells what is wrong."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

import numpy as np

from readback.speech.audio import Pcm
from readback.speech.channel import active_level
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.speech.segments import Segmenter

SILENT_DBFS = -80.0
"""No microphone is as quiet as this: it is muted."""
QUIET_DBFS = -40.0
"""Speech below this is too quiet; our choice, 14 dB under the -26 dBFS at which telephone speech is
tested (ITU-T P.56, from memory)."""
CLIPPED_SHARE = 5e-4
"""Share of the samples of speech at full scale that can be heard as a crackle; our choice."""
LEAST_SNR_DB = 10.0
"""Speech less above the noise than this is hard to recognise; our choice."""
LOWEST_DBFS = -90.0
"""What a meter shows for digital silence."""

_FULL_SCALE = 32_700


class Level(StrEnum):
    """What a level check found."""

    GOOD = "good"
    MUTED = "muted"
    NOISE_ONLY = "noise only"
    TOO_QUIET = "too quiet"
    CLIPPED = "clipped"
    NOISY = "noisy"


_ADVICE = {
    Level.GOOD: "The level is good.",
    Level.MUTED: "Nothing comes in: unmute the microphone, or choose another.",
    Level.NOISE_ONLY: "No voice was heard, only noise: speak while it listens, closer to it.",
    Level.TOO_QUIET: "Too quiet: turn the microphone up, or bring it closer.",
    Level.CLIPPED: "Too loud, it crackles: turn the microphone down, or move it to the side.",
    Level.NOISY: "The voice hardly stands out of the noise: bring the microphone closer.",
}


@dataclass(frozen=True)
class LevelReport:
    """What a level check found."""

    level: Level
    speech_dbfs: float | None
    """Active level of the speech; None where none was heard."""
    noise_dbfs: float
    """Level of the quietest tenth of the time."""
    peak_dbfs: float

    @property
    def advice(self) -> str:
        """What it means and what to do, in one line."""
        return _ADVICE[self.level]


def meter_dbfs(pcm: Pcm) -> float:
    """Give the level of a block in dB under full scale, for a meter; `LOWEST_DBFS` if silent."""
    if not len(pcm):
        return LOWEST_DBFS
    return _dbfs(math.sqrt(float(np.mean(np.square(pcm, dtype=np.float64)))) / 32768.0)


def check_level(pcm: Pcm) -> LevelReport:
    """Check the level of some seconds in which someone was asked to speak.

    Args:
        pcm: Mono samples at 16 kHz.
    """
    segmenter = Segmenter()
    segments = [*segmenter.feed(pcm), *segmenter.finish()]
    noise, peak = _noise_dbfs(pcm), _dbfs(_peak(pcm))
    if peak < SILENT_DBFS:
        return LevelReport(Level.MUTED, None, noise, peak)
    if not segments:
        # Speech cut to a square wave repeats at its pitch and is found; noise is not.
        return LevelReport(Level.NOISE_ONLY, None, noise, peak)
    speech = np.concatenate([segment.pcm for segment in segments])
    speech_dbfs = _dbfs(active_level(speech / 32768.0))
    return LevelReport(_judge(speech, speech_dbfs, noise), speech_dbfs, noise, peak)


def speech_fault(pcm: Pcm) -> Literal["clipped", "too quiet"] | None:
    """Tell what is wrong with the level of one transmission's sound.

    Args:
        pcm: Mono samples at 16 kHz, speech with little around it.
    """
    if clipped_share(pcm) > CLIPPED_SHARE:
        return "clipped"
    quiet = _dbfs(active_level(pcm / 32768.0)) < QUIET_DBFS
    return "too quiet" if quiet and len(pcm) else None


def _judge(speech: Pcm, speech_dbfs: float, noise_dbfs: float) -> Level:
    if clipped_share(speech) > CLIPPED_SHARE:
        return Level.CLIPPED
    if speech_dbfs < QUIET_DBFS:
        return Level.TOO_QUIET
    if speech_dbfs - noise_dbfs < LEAST_SNR_DB:
        return Level.NOISY
    return Level.GOOD


def clipped_share(pcm: Pcm) -> float:
    """Give the share of samples that stand at full scale, two or more in a row."""
    if not len(pcm):
        return 0.0
    full = np.abs(pcm.astype(np.int32)) >= _FULL_SCALE
    both = full[1:] & full[:-1]
    in_run = np.zeros(len(pcm), bool)
    in_run[1:] |= both
    in_run[:-1] |= both
    return float(in_run.mean())


def _peak(pcm: Pcm) -> float:
    return float(np.abs(pcm.astype(np.int32)).max()) / 32768.0 if len(pcm) else 0.0


def _noise_dbfs(pcm: Pcm) -> float:
    frame = SAMPLE_RATE_HZ // 50
    count = len(pcm) // frame
    if not count:
        return meter_dbfs(pcm)
    power = np.mean(np.square(pcm[: count * frame].reshape(count, frame), dtype=np.float64), axis=1)
    return _dbfs(math.sqrt(float(np.quantile(power, 0.1))) / 32768.0)


def _dbfs(level: float) -> float:
    return max(LOWEST_DBFS, 20 * math.log10(level)) if level > 0 else LOWEST_DBFS
