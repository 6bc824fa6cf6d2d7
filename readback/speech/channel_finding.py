"""Over which channel a recording came, by the band and the noise of its speech.

Found for each transmission by itself: it was right for every one of the measured clips, and a
recording may hold a radio and an interphone.
"""

import numpy as np

from readback.speech.audio import Pcm
from readback.speech.recogniser import SAMPLE_RATE_HZ

_FFT = 1024
_HOP = 512
_MIDDLE_HZ = (1000.0, 3000.0)
_VOICE_HZ = (300.0, 3400.0)
_LOW_HZ = (60.0, 150.0)
"""The voice's own pitch: neither a radio nor an interphone carries it."""
_HIGH_HZ = (4200.0, 4900.0)
"""Above a radio's band, within an interphone's."""
_TOP_HZ = (6300.0, 7600.0)
"""Above both."""
_ABSENT_DB = -38.0
"""A band is absent where its loudest sounds are so far below the middle's. On the tuning voices the
bands that a channel cuts are at -43 and less, those that it carries at -31 and more, whatever the
noise."""
_PITCH_ABSENT_DB = -30.0
_QUIET_DB = 35.0
"""A clean line: speech stands so far above the noise. Tuning voices: 47 and more; 35 and less over
radio and interphone at 30 dB."""
_NOISY_DB = 3.4
"""Speech that stands no further above the noise is judged as noise asks, whatever the channel: all
of the tuning voices' clips over a radio at 0 dB, half of those at 5 dB and 5 % of those at 10 dB;
over an interphone half at 0 dB and none at 10 dB."""
_SILENT_DB = -110.0
_LEAST_FRAMES = 8


def find_channel(pcm: Pcm) -> str | None:
    """Tell over which channel speech came.

    Args:
        pcm: The sound of one transmission or more, 16 kHz, with speech in it.

    Returns:
        ``clean``, ``radio`` or ``interphone``, as `readback.speech.channel` makes them; ``noisy``
        where speech hardly stands above the noise; None where it is like none of them or too short
        to tell.

    The bands are those of that module, which names their sources; nothing was measured on real
    lines. Over simulated ones at 30 to 0 dB all of 880 clips of the tuning voices were told right,
    noise apart.
    Of 270 clips of recorded people as they are 170 were clean and 100 like none, noisy rooms and
    telephones; of 1,080 sent over the channels 1,054 were told right, none was taken for clean.
    """
    power = _power(pcm)
    if power is None:
        return None
    middle = _band(power, _MIDDLE_HZ)
    above_db = _above(middle)
    if _loud(middle) <= _SILENT_DB:
        return None
    if above_db < _NOISY_DB:
        return "noisy"
    low, high, top = (
        _loud(_band(power, band)) - _loud(middle) for band in (_LOW_HZ, _HIGH_HZ, _TOP_HZ)
    )
    if top > _ABSENT_DB:
        return "clean" if above_db > _QUIET_DB else None
    if low > _PITCH_ABSENT_DB:
        return None
    return "interphone" if high > _ABSENT_DB else "radio"


def above_noise_db(pcm: Pcm) -> float | None:
    """Tell how far the loudest sounds of speech stand above the noise between them, dB.

    Args:
        pcm: As for `find_channel`.

    Returns:
        Over the band that every channel carries; None where it is too short or too quiet to tell.
        Medians on the tuning voices: 59 clean; over a radio at 20, 10, 5 and 0 dB 23.2, 13.5, 9.0
        and 5.2; over an interphone 23.5, 13.9, 9.4 and 5.6.
    """
    power = _power(pcm)
    if power is None:
        return None
    voice = _band(power, _VOICE_HZ)
    return None if _loud(voice) <= _SILENT_DB else _above(voice)


def _power(pcm: Pcm) -> np.ndarray | None:
    """Power spectra, (frames, bands); None where there are too few."""
    if len(pcm) < _FFT + _HOP * (_LEAST_FRAMES - 1):
        return None
    frames = np.lib.stride_tricks.sliding_window_view(pcm, _FFT)[::_HOP] / 32768.0
    power: np.ndarray = np.abs(np.fft.rfft(frames * np.hanning(_FFT), axis=1)) ** 2 + 1e-12
    return power


def _above(band: np.ndarray) -> float:
    return float(_loud(band) - 10 * np.log10(np.percentile(band, 10)))


def _band(power: np.ndarray, band_hz: tuple[float, float]) -> np.ndarray:
    low, high = (round(hz * _FFT / SAMPLE_RATE_HZ) for hz in band_hz)
    mean: np.ndarray = power[:, low:high].mean(axis=1)
    return mean


def _loud(levels: np.ndarray) -> float:
    return float(10 * np.log10(np.percentile(levels, 90)))
