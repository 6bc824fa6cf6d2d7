"""Sound to the log-mel spectrum that the ear's network was trained on."""

import numpy as np
import numpy.typing as npt

from readback.speech.ear.phones import HOP, MEL_BANDS, SAMPLE_RATE_HZ, WINDOW

Floats = npt.NDArray[np.float32]

LEAST_SAMPLES = SAMPLE_RATE_HZ // 5
"""Shorter sound is filled up with silence to this length."""


def mel_filters() -> Floats:
    """Make the triangular mel filters, (bands, bins).

    Source: Slaney, Auditory Toolbox (1998): linear below 1 kHz, logarithmic above, each triangle
    of area one; as in the Whisper encoder that the network starts from.
    """

    def to_hz(mel: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        linear = mel * 200 / 3
        return np.where(mel < 15, linear, 1000 * np.exp((mel - 15) * np.log(6.4) / 27))

    top = 15 + np.log(SAMPLE_RATE_HZ / 2 / 1000) / (np.log(6.4) / 27)
    edges = to_hz(np.linspace(0, top, MEL_BANDS + 2))
    bins = np.fft.rfftfreq(WINDOW, 1 / SAMPLE_RATE_HZ)
    slopes = edges[:, None] - bins[None]
    widths = np.diff(edges)
    rising, falling = -slopes[:-2] / widths[:-1, None], slopes[2:] / widths[1:, None]
    triangles = np.maximum(0, np.minimum(rising, falling))
    return (triangles * (2 / (edges[2:] - edges[:-2]))[:, None]).astype(np.float32)


_FILTERS = mel_filters()
_HANN = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)).astype(np.float32)


def log_mel(samples: Floats) -> Floats:
    """Turn 16 kHz samples into the network's input.

    Args:
        samples: Mono, within -1 and 1; any length.

    Returns:
        (80, frames), 100 frames a second, over the real length, with no padding to 30 s; the
        floor is 8 (80 dB) under the loudest point of the whole sound.
    """
    if len(samples) < LEAST_SAMPLES:
        samples = np.pad(samples, (0, LEAST_SAMPLES - len(samples)))
    count = len(samples) // HOP
    padded = np.pad(samples.astype(np.float32), WINDOW // 2, mode="reflect")
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::HOP][:count] * _HANN
    power = np.abs(np.fft.rfft(frames, axis=1)).astype(np.float32) ** 2
    log = np.log10(np.maximum(_FILTERS @ power.T, 1e-10))
    return np.asarray((np.maximum(log, log.max() - 8) + 4) / 4, np.float32)
