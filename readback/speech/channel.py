"""What a microphone signal goes through before it is heard: VHF radio, interphone, or a clean line.

Samples are float in [-1, 1], mono, at `SAMPLE_RATE_HZ`. The same input and seed give the same
output. Figures marked *from memory* were not checked against the document they are said to come
from.
"""

import math

import numpy as np
from numpy.typing import NDArray

from readback.errors import AudioError
from readback.speech.recogniser import SAMPLE_RATE_HZ

Samples = NDArray[np.float32]
_Signal = NDArray[np.float64]

PEAK = 10 ** (-3 / 20)
"""Largest magnitude of any output: -3 dBFS."""
RADIO_BAND_HZ = (300.0, 3400.0)
"""Audio passband of an aeronautical VHF set. EUROCAE ED-23, RTCA DO-186, from memory."""
INTERPHONE_BAND_HZ = (300.0, 5000.0)
"""A wired headset line, from memory."""
SQUELCH_TAIL_S = 0.12
"""Noise until the squelch closes, seconds. 50 to 200 ms, from memory."""
SQUELCH_CLOSED_S = 0.1
"""Quiet kept after the squelch has closed, seconds; our choice."""

_FRAME = SAMPLE_RATE_HZ // 50
_RECORDER_FLOOR = 1e-4
"""-80 dBFS: a recorder is never digitally silent."""
_TONES_HZ = (400.0, 800.0, 1200.0, 2000.0)
"""Aircraft mains of 400 Hz (MIL-STD-704, from memory) and harmonics picked up by the line."""
_TONAL_SHARE = 0.2
"""Part of the ramp noise's power that is in tones; our choice."""


def vhf_radio(
    samples: NDArray[np.floating], snr_db: float, seed: int, *, late_key_s: float = 0.0
) -> Samples:
    """Send speech over an amplitude-modulated VHF radio, from the press of the key to its release.

    Band 300 to 3400 Hz, 2:1 compression with 20 ms time constant, soft clipping (all from memory),
    noise in the same band, a click as the key goes down, a squelch tail after it is let go. Not
    modelled: fading, carrier offset, the phase of the filters, two stations at once.

    Args:
        samples: Shape ``(n,)``, with speech in them.
        snr_db: Active speech level against the noise, both after the receiver's filter, dB. Open
            sets of recorded traffic have 5 to 20 dB (Zuluaga-Gomez et al. 2022, arXiv 2203.16822).
        seed: Picks the noise.
        late_key_s: Seconds of the start cut off because the key was pressed late. 0.1 to 0.3 s
            takes the first syllable, from memory.

    Returns:
        Shape ``(n - late_key_s * 16000 + tail,)``; the tail is 0.12 s of noise and 0.1 s of quiet.

    Raises:
        AudioError: The samples are no mono signal, or hold no speech.
    """
    rng = np.random.default_rng(seed)
    keyed = np.asarray(samples)[max(0, round(late_key_s * SAMPLE_RATE_HZ)) :]
    speech = _checked(keyed, snr_db)
    speech = _band(_soft_clip(_compress(_band(speech, RADIO_BAND_HZ))), RADIO_BAND_HZ)
    level = active_level(speech)
    noise = _scaled(_band(rng.standard_normal(len(speech)), RADIO_BAND_HZ), level, snr_db)
    # An open squelch is near as loud as speech: the receiver's gain control has no carrier to hold.
    tail_samples = round(SQUELCH_TAIL_S * SAMPLE_RATE_HZ)
    tail = _scaled(_band(rng.standard_normal(tail_samples), RADIO_BAND_HZ), level, 3.0)
    quiet = np.zeros(round(SQUELCH_CLOSED_S * SAMPLE_RATE_HZ))
    received = np.concatenate([speech + noise + _click(len(speech), level), tail, quiet])
    return _recorded(received, rng)


def interphone(samples: NDArray[np.floating], snr_db: float, seed: int) -> Samples:
    """Send speech from a headset on the ramp over the wired interphone.

    Band 300 to 5000 Hz. The noise that the microphone picks up is broad-band, falling 3 dB an
    octave, with steady tones (aircraft mains and the whine of an auxiliary power unit). The speech
    is tilted by 2 dB an octave between 500 Hz and 4 kHz, as people speak in noise (Lombard effect;
    the size is from memory). Above about 1 kHz ramp noise enters through the microphone (US Army,
    1978, seen as an abstract). Not modelled: wind, rubbing cords, raised pitch.

    Args:
        samples: Shape ``(n,)``, with speech in them.
        snr_db: Active speech level against the noise, both after the line's filter, dB.
        seed: Picks the noise.

    Returns:
        Shape ``(n,)``.

    Raises:
        AudioError: The samples are no mono signal, or hold no speech.
    """
    rng = np.random.default_rng(seed)
    speech = _band(_raise_voice(_checked(samples, snr_db)), INTERPHONE_BAND_HZ)
    noise = _scaled(_ramp_noise(len(speech), rng), active_level(speech), snr_db)
    return _recorded(speech + noise, rng)


def clean(samples: NDArray[np.floating]) -> Samples:
    """Record speech from a headset in a quiet room: its level set, a recorder's floor under it.

    Args:
        samples: Shape ``(n,)``, with speech in them.

    Returns:
        Shape ``(n,)``.

    Raises:
        AudioError: The samples are no mono signal, or hold no speech.
    """
    speech = _checked(samples, 0.0)
    return _recorded(speech - speech.mean(), np.random.default_rng(0))


def active_level(samples: NDArray[np.floating]) -> float:
    """Measure the root-mean-square level of the parts in which someone speaks.

    Args:
        samples: Shape ``(n,)``.

    Returns:
        The level over the 20 ms frames that are less than 26 dB under the loudest one; 0.0 for
        silence. A short form of the active speech level of ITU-T P.56, which holds on for pauses.
    """
    padded = np.pad(np.asarray(samples, np.float64), (0, -len(samples) % _FRAME))
    power = np.mean(padded.reshape(-1, _FRAME) ** 2, axis=1) if len(padded) else np.zeros(1)
    return math.sqrt(power[power >= power.max() * 10**-2.6].mean())


def _checked(samples: NDArray[np.floating], snr_db: float) -> _Signal:
    signal = np.asarray(samples, np.float64)
    if signal.ndim != 1 or not np.isfinite(signal).all():
        raise AudioError("The signal is not one channel of finite samples.", "Give mono audio.")
    if not math.isfinite(snr_db):
        raise AudioError(
            f"A signal-to-noise ratio of {snr_db} dB cannot be made.", "Give a number."
        )
    if not len(signal) or np.ptp(signal) < _RECORDER_FLOOR:
        raise AudioError("The signal is silent.", "Give a recording with speech in it.")
    return signal


def _band(signal: _Signal, band_hz: tuple[float, float]) -> _Signal:
    """Keep a band, with skirts of about half an octave below and a quarter above."""
    low, high = band_hz
    padded = len(signal) + SAMPLE_RATE_HZ // 10
    hz = np.fft.rfftfreq(padded, 1 / SAMPLE_RATE_HZ)
    gain = np.interp(hz, [low / 1.5, low, high, high * 1.2], [0.0, 1.0, 1.0, 0.0])
    return np.fft.irfft(np.fft.rfft(signal, padded) * gain, padded)[: len(signal)]


def _raise_voice(signal: _Signal) -> _Signal:
    hz = np.fft.rfftfreq(len(signal), 1 / SAMPLE_RATE_HZ)
    octaves = np.log2(np.clip(hz, 500.0, 4000.0) / 500.0)
    return np.fft.irfft(np.fft.rfft(signal) * 10 ** (2.0 * octaves / 20), len(signal))


def _compress(signal: _Signal) -> _Signal:
    decay = np.exp(-np.arange(SAMPLE_RATE_HZ // 10) / (0.02 * SAMPLE_RATE_HZ))
    padded = len(signal) + len(decay)
    spectrum = np.fft.rfft(signal**2, padded) * np.fft.rfft(decay / decay.sum(), padded)
    envelope = np.sqrt(np.maximum(np.fft.irfft(spectrum, padded)[: len(signal)], 1e-12))
    threshold = 0.25 * envelope.max()
    gain: _Signal = np.sqrt(threshold / np.maximum(envelope, threshold))
    return signal * gain


def _soft_clip(signal: _Signal) -> _Signal:
    drive = 1.2
    return np.asarray(np.tanh(drive * signal / np.abs(signal).max()), np.float64)


def _click(length: int, level: float) -> _Signal:
    click = np.zeros(length)
    pulse = np.hanning(SAMPLE_RATE_HZ // 800)
    click[: len(pulse)] = (2 * level * pulse)[:length]
    return _band(click, RADIO_BAND_HZ)


def _ramp_noise(length: int, rng: np.random.Generator) -> _Signal:
    hz = np.fft.rfftfreq(length, 1 / SAMPLE_RATE_HZ)
    pink = np.fft.rfft(rng.standard_normal(length)) / np.sqrt(np.maximum(hz, 50.0))
    broad = _band(np.fft.irfft(pink, length), INTERPHONE_BAND_HZ)
    seconds = np.arange(length) / SAMPLE_RATE_HZ
    tones_hz = (*_TONES_HZ, rng.uniform(2200.0, 3800.0))
    tones: _Signal = sum(
        (np.sin(2 * np.pi * (tone * seconds + rng.uniform())) for tone in tones_hz),
        start=np.zeros(length),
    )
    share = math.sqrt(_TONAL_SHARE / (1 - _TONAL_SHARE))
    return broad + tones * float(share * np.std(broad) / np.std(tones))


def _scaled(noise: _Signal, level: float, snr_db: float) -> _Signal:
    return noise * float(level * 10 ** (-snr_db / 20) / np.sqrt(np.mean(noise**2)))


def _recorded(signal: _Signal, rng: np.random.Generator) -> Samples:
    floor = _RECORDER_FLOOR * rng.standard_normal(len(signal))
    loudest = np.abs(signal).max() / (PEAK - 6 * _RECORDER_FLOOR)
    recorded: Samples = np.clip(signal / loudest + floor, -PEAK, PEAK).astype(np.float32)
    return recorded
