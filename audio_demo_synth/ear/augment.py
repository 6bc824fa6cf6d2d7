"""Sound spoiled on the fly, on the device that trains: channels, noise, rooms, keys, speakers.

Broader on purpose than `readback.speech.channel`, on which the ear is reported.
"""

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as functional
from torch import Tensor

from readback.speech.ear.phones import HOP, SAMPLE_RATE_HZ, WINDOW


@dataclass(frozen=True)
class Spoiler:
    """Draws everything from torch's generator: seed it with ``torch.manual_seed``."""

    device: torch.device

    def between(self, batch: int, low: float, high: float) -> Tensor:
        """Uniform numbers, (batch, 1)."""
        return torch.rand(batch, 1, device=self.device) * (high - low) + low

    def chance(self, batch: int, share: float) -> Tensor:
        """True in ``share`` of the batch, (batch, 1)."""
        return torch.rand(batch, 1, device=self.device) < share

    def sometimes(self, batch: int, share: float, value: Tensor) -> Tensor:
        """``value`` in ``share`` of the batch, else 0."""
        return torch.where(self.chance(batch, share), value, torch.zeros_like(value))

    def shaped_noise(self, batch: int, length: int, gain: Tensor) -> Tensor:
        """Noise with the given gain over frequency."""
        spectrum = torch.fft.rfft(torch.randn(batch, length, device=self.device))
        return torch.fft.irfft(spectrum * gain, length)

    def place(
        self, sound: Tensor, lengths: Tensor, speed: Tensor, lead: Tensor, tail: Tensor
    ) -> tuple[Tensor, Tensor]:
        """Play at another speed (pitch and vocal tract move with it), silence before and after."""
        total = (lengths[:, None] / speed + lead + tail).long()
        length = -(-int(total.max()) // 16_000) * 16_000  # few FFT sizes, all smooth
        at = (torch.arange(length, device=self.device)[None] - lead) * speed
        whole = at.floor().long()
        part = at - whole
        inside = (whole >= 0) & (whole < lengths[:, None] - 1)
        whole = whole.clamp(0, sound.shape[1] - 2)
        near, far = sound.gather(1, whole), sound.gather(1, whole + 1)
        return (near * (1 - part) + far * part) * inside, total

    def room(self, sound: Tensor) -> Tensor:
        """Convolve with a random decay: a cabin, a hangar, a ramp."""
        batch, length = sound.shape
        decay = torch.arange(6400, device=self.device)[None] / (
            self.between(batch, 0.02, 0.12) * SAMPLE_RATE_HZ
        )
        response = torch.randn(batch, 6400, device=self.device) * torch.exp(-decay)
        response[:, 0] = self.between(batch, 9, 36)[:, 0]
        full = length + 8000
        spectrum = torch.fft.rfft(sound, full) * torch.fft.rfft(response, full)
        wet = torch.fft.irfft(spectrum, full)[:, :length]
        return wet / (peak(wet)) * peak(sound)

    def noise(self, sound: Tensor, band: Tensor, inside: Tensor, ramp: Tensor) -> Tensor:
        """Hiss of the channel, engines, whine, other talkers; level of about one.

        ``ramp`` (batch, 1) marks interphone sound: rumble and turbine whine.
        """
        batch, length = sound.shape
        f = torch.fft.rfftfreq(length, 1 / SAMPLE_RATE_HZ, device=self.device)[None]
        t = torch.arange(length, device=self.device)[None] / SAMPLE_RATE_HZ
        slope = self.sometimes(batch, 0.4, self.between(batch, 0, 1))
        slope = torch.where(ramp, self.between(batch, 0.2, 1.1), slope)
        wide = band_gain(f, self.between(batch, 30, 100), self.between(batch, 3500, 8000), 1)
        gain = torch.where(self.chance(batch, 0.25) | ramp, wide, band)
        hiss = self.shaped_noise(batch, length, gain * f.clamp(min=50) ** -slope)
        hiss = hiss / level(hiss, inside)
        depth = self.sometimes(batch, 0.25, self.between(batch, 0, 0.9))
        turn = self.between(batch, 0.5, 25) * t + self.between(batch, 0, 1)
        hiss = hiss * (1 + depth * torch.sin(2 * math.pi * turn))
        hum = torch.where(ramp, self.between(batch, 300, 4500), self.between(batch, 80, 900))
        tones = sum(
            torch.sin(2 * math.pi * (hum * k * t + self.between(batch, 0, 1)))
            * self.between(batch, 0, 1)
            / k
            for k in (1, 2, 3, 5)
        )
        share = torch.where(ramp, self.chance(batch, 0.5), self.chance(batch, 0.15))
        hiss = (
            hiss + torch.where(share, self.between(batch, 0.2, 1.5), torch.zeros_like(hum)) * tones
        )
        (other,) = others(sound, 1)
        talk = self.sometimes(batch, 0.08, self.between(batch, 0.3, 1.0))
        return hiss + talk * other / level(other, inside)

    def no_speech(self, sound: Tensor) -> Tensor:
        """Make sound without a talker: melodies and alarms, bursts of noise, a crowd.

        Args:
            sound: (batch, samples) Speech, for the crowd.

        Returns:
            (batch, samples) At most about one.
        """
        batch = len(sound)
        b = lambda low, high: self.between(batch, low, high)  # noqa: E731
        melody, since, span, gain = self.melody(sound)
        swell = torch.sin(math.pi * since / span)
        f = torch.fft.rfftfreq(sound.shape[1], 1 / SAMPLE_RATE_HZ, device=self.device)[None]
        octaves = torch.log2(f.clamp(min=30) / (300 * 12 ** b(0, 1))) / b(0.5, 3)
        bursts = self.shaped_noise(batch, sound.shape[1], torch.exp(-(octaves**2)))
        bursts = bursts / level(bursts, torch.ones_like(bursts)) / 4 * swell * gain
        crowd = sum(one / level(one, (one.abs() > 0).float()) for one in others(sound, 3)) / 9
        kind = b(0, 1 if batch > 3 else 0.75)
        return torch.where(kind < 0.5, melody, torch.where(kind < 0.75, bursts, crowd))

    def melody(self, sound: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Play notes as long as the sound: plucked, held or sliding, alone or two at once.

        Returns:
            Four of (batch, samples): the melody; samples since its note began, that note's
            length, and how loud it is, 0 in rests.
        """
        batch, length = sound.shape
        b = lambda low, high: self.between(batch, low, high)  # noqa: E731
        count = length // 1000 + 1
        uneven = self.sometimes(batch, 0.6, b(0, 0.7))
        spread = 1 + uneven * (torch.rand(batch, count, device=self.device) * 2 - 1)
        spans = 0.07 * 12 ** b(0, 1) * SAMPLE_RATE_HZ * spread
        ends = spans.cumsum(1)
        t = torch.arange(length, device=self.device, dtype=torch.float32)[None].expand(batch, -1)
        note = torch.searchsorted(ends, t.contiguous(), right=True).clamp(max=count - 1)
        span = spans.gather(1, note)
        since = t - (ends - spans).gather(1, note)
        tune = torch.rand(batch, count, device=self.device) * b(0, 24)
        tune = torch.where(self.chance(batch, 0.6), tune.round(), tune).gather(1, note)
        slide = self.sometimes(batch, 0.25, b(-0.8, 1.5)) * since / span
        waver = self.sometimes(batch, 0.3, b(0, 0.03)) * torch.sin(
            2 * math.pi * b(3, 9) * t / SAMPLE_RATE_HZ
        )
        hertz = 70 * 8 ** b(0, 1) * 2 ** (tune / 12) * (1 + slide + waver)
        turns = (hertz / SAMPLE_RATE_HZ).cumsum(1)
        second = 2 ** (b(1, 12).round() / 12)
        both = self.chance(batch, 0.5)
        fall = self.sometimes(batch, 0.8, b(0.3, 3))
        top = torch.where(self.chance(batch, 0.25), 1, 8)
        tones = torch.zeros_like(sound)
        for k in range(1, 9):
            for ratio, sounds in ((1.0, k <= top), (second, (k <= top) & both)):
                heard = sounds & (k * ratio * hertz < 7600)
                sine = torch.sin(2 * math.pi * k * ratio * turns)
                tones += heard * k**-fall * b(0.3, 1) * sine
        plucked = torch.exp(-since / (b(0.03, 0.6) * SAMPLE_RATE_HZ))
        swelling = torch.sin(math.pi * since / span)
        held = (torch.minimum(since, span - since) / 80).clamp(0, 1)
        shape = b(0, 1)
        envelope = torch.where(shape < 0.4, plucked, torch.where(shape < 0.6, swelling, held))
        loud = 0.4 + 0.6 * torch.rand(batch, count, device=self.device)
        rests = torch.rand(batch, count, device=self.device) < b(0, 0.4)
        gain = (loud * ~rests).gather(1, note)
        beat = torch.exp(-since / (b(0.01, 0.06) * SAMPLE_RATE_HZ)) * torch.randn_like(sound)
        beats = self.sometimes(batch, 0.4, b(0, 1.5))
        return (tones * envelope * gain + beats * beat) / 8, since, span, gain

    def spoil(self, sound: Tensor, lengths: Tensor, mute: float = 0.06) -> tuple[Tensor, ...]:
        """Spoil a batch for training.

        Args:
            sound: (batch, samples) within -1 and 1, zero after each clip's end.
            lengths: Samples in each clip.
            mute: Share of the batch from which the speech is taken away, leaving noise or
                `no_speech`.

        Returns:
            Sound, lengths, and which of the batch are mute.
        """
        batch = len(sound)
        b = lambda low, high: self.between(batch, low, high)  # noqa: E731
        lead, tail = b(0.0, 0.5) * SAMPLE_RATE_HZ, b(0.0, 0.5) * SAMPLE_RATE_HZ
        y, total = self.place(sound, lengths, b(0.8, 1.3), lead, tail)
        length = y.shape[1]
        t = torch.arange(length, device=self.device)[None]
        inside = (t < total).float()
        muted = self.chance(batch, mute)
        noise_only = muted & self.chance(batch, 0.3)
        y = torch.where(muted & ~noise_only, self.no_speech(y) * inside, y)
        late = t > first_sound(y) + b(0, 0.12) * SAMPLE_RATE_HZ
        y = torch.where(self.chance(batch, 0.15), y * late, y)  # pressed late
        y = torch.where(self.chance(batch, 0.2), self.room(y), y)
        kind = b(0, 1)
        clean, ramp = kind < 0.25, (kind >= 0.25) & (kind < 0.48)
        f = torch.fft.rfftfreq(length, 1 / SAMPLE_RATE_HZ, device=self.device)[None]
        low = torch.where(clean, b(20, 120), torch.where(ramp, b(80, 350), b(200, 450)))
        high = torch.where(clean, b(3700, 9000), torch.where(ramp, b(3300, 7000), b(2300, 3900)))
        telephone = clean & self.chance(batch, 0.5)  # recorded at 8 kHz: nothing at all above
        high = torch.where(telephone, b(3300, 4000), high)
        order = torch.where(telephone, b(40, 41), b(2, 9).floor())
        band = band_gain(f, low, high, order)
        tilt = 10 ** (b(-6, 8) / 20 * torch.log2(f.clamp(min=100) / 1000) / 1.5)  # Lombard: up
        y = torch.fft.irfft(torch.fft.rfft(y) * band * tilt, length)
        y = self.compress(y, f, clean)
        y = torch.fft.irfft(torch.fft.rfft(y) * band, length)
        gated = self.chance(batch, 0.2) | (telephone & self.chance(batch, 0.4))
        y = torch.where(gated, y * open_gate(y, b(6, 26)), y)
        begins = first_sound(y)
        active = (y.abs() > 0.05 * peak(y)).float()
        loud = level(y, active)
        noise = self.noise(y, band, inside, ramp)
        snr = torch.where(clean, b(20, 80), b(0, 30))
        y = torch.where(noise_only, torch.zeros_like(y), y)
        y = y + noise / level(noise, inside) * loud * 10 ** (-snr / 20)
        y = torch.where(self.chance(batch, 0.1), codec(y), y)
        y = self.open_key(y, begins)
        y = self.unkey(y, t, total, band, loud)
        y = y / peak(y) * 10 ** b(-1.5, -0.05)
        floor = torch.randn(batch, length, device=self.device) * 10 ** b(-5.0, -3.6)
        return (y + floor) * inside, total[:, 0], muted[:, 0]

    def compress(self, y: Tensor, f: Tensor, clean: Tensor) -> Tensor:
        """Gain control with a one-pole envelope, then soft clipping; less of both when clean."""
        batch = len(y)
        pole = 1 + 1j * f / self.between(batch, 1.5, 20)
        envelope = torch.fft.irfft(torch.fft.rfft(y.abs()) / pole, y.shape[1]).clamp(min=0)
        knee = self.between(batch, 0.03, 0.2) * envelope.amax(1, keepdim=True) + 1e-6
        ratio = self.sometimes(batch, 0.8, self.between(batch, 0.3, 0.8)) * ~clean
        held = (knee / envelope.clamp(min=1e-7)) ** ratio
        y = y * torch.where(envelope > knee, held, torch.ones_like(y))
        hard = self.chance(batch, 0.8) & ~clean
        drive = torch.where(hard, self.between(batch, 1, 6), torch.full_like(knee, 0.3))
        return torch.tanh(drive * y / peak(y))

    def open_key(self, y: Tensor, begins: Tensor) -> Tensor:
        """No carrier, and so no noise, until at most 0.1 s before the speech, in three of ten."""
        opens = begins - self.between(len(y), 0, 0.1) * SAMPLE_RATE_HZ
        carrier = torch.arange(y.shape[1], device=self.device)[None] >= opens
        return torch.where(self.chance(len(y), 0.3), y * carrier, y)

    def unkey(self, y: Tensor, t: Tensor, total: Tensor, band: Tensor, loud: Tensor) -> Tensor:
        """End of a transmission: squelch tail, then sometimes nothing; a click at the start."""
        batch, length = y.shape
        squelch = self.chance(batch, 0.3) & (t > total - self.between(batch, 0.02, 0.3) * 16_000)
        tail = self.shaped_noise(batch, length, band) * self.between(batch, 0.2, 8) * loud
        y = torch.where(squelch, tail, y)
        click = self.sometimes(batch, 0.25, self.between(batch, 0.5, 3)) * loud
        y[:, :40] += click * torch.hann_window(40, device=self.device)
        gone = self.chance(batch, 0.3) & (t > total - self.between(batch, 0.05, 0.3) * 16_000)
        return torch.where(gone, torch.zeros_like(y), y)

    def measure(self, sound: Tensor, lengths: Tensor, snr_db: float) -> tuple[Tensor, Tensor]:
        """Spoil a batch the same way for all: a 300-2800 Hz channel at one level, or clean (99)."""
        batch = len(sound)
        same = lambda value: torch.full((batch, 1), float(value), device=self.device)  # noqa: E731
        y, total = self.place(sound, lengths, same(1), same(3200), same(4800))
        length = y.shape[1]
        inside = (torch.arange(length, device=self.device)[None] < total).float()
        if snr_db < 99:
            f = torch.fft.rfftfreq(length, 1 / SAMPLE_RATE_HZ, device=self.device)[None]
            band = band_gain(f, same(300), same(2800), same(6))
            y = torch.fft.irfft(torch.fft.rfft(y) * band, length)
            active = (y.abs() > 0.05 * peak(y)).float()
            hiss = self.shaped_noise(batch, length, band)
            y = y + hiss / level(hiss, inside) * level(y, active) * 10 ** (-snr_db / 20)
        y = y / peak(y) * 0.5 + torch.randn_like(y) * 1e-4
        return y * inside, total[:, 0]

    def mask(self, mel: Tensor, frames: Tensor) -> tuple[Tensor, Tensor]:
        """Bend mel bands (vocal tract), stretch time (pace without pitch), blot out patches."""
        batch, bands, steps = mel.shape
        c = torch.arange(bands, device=self.device)[None].float()
        at = (c * self.between(batch, 0.9, 1.11)).clamp(max=bands - 1.001)
        bent = interpolate(mel, at, 1)
        mel = torch.where(self.chance(batch, 0.5)[..., None], bent, mel)
        if torch.rand(()) < 0.4:
            pace = float(torch.empty(()).uniform_(0.85, 1.25))
            steps = steps if pace > 1 else steps * 6 // 5  # two sizes only: see BATCH_SIZES
            at = torch.arange(steps, device=self.device).float()[None] * pace
            mel = interpolate(mel, at.clamp(max=mel.shape[2] - 1.001).expand(batch, -1), 2)
            frames = (frames / pace).long().clamp(max=steps)
        for _ in range(2):
            start, width = self.between(batch, 0, bands), self.between(batch, 0, 12)
            blot = (c >= start) & (c < start + width) & self.chance(batch, 0.6)
            mel = mel.masked_fill(blot[:, :, None], 0)
            t = torch.arange(mel.shape[2], device=self.device)[None].float()
            start = torch.rand(batch, 1, device=self.device) * frames[:, None]
            blot = (t >= start) & (t < start + self.between(batch, 0, 14)) & self.chance(batch, 0.5)
            mel = mel.masked_fill(blot[:, None], 0)
        inside = torch.arange(mel.shape[2], device=self.device)[None] < frames[:, None]
        return mel * inside[:, None], frames


def others(sound: Tensor, count: int) -> list[Tensor]:
    """The sound of the next clips of the batch, so many of them, in each one's place."""
    return [sound.roll(number, 0) for number in range(1, count + 1)]


def band_gain(f: Tensor, low: Tensor, high: Tensor, order: Tensor | int) -> Tensor:
    """Gain of Butterworth filters of ``order`` at both edges."""
    above = 1 / (1 + (low / f.clamp(min=1)) ** (2 * order))
    return (above / (1 + (f / high) ** (2 * order))).sqrt()


def level(x: Tensor, where: Tensor) -> Tensor:
    """Root mean square over the part marked 1, (batch, 1)."""
    power = (x**2 * where).sum(1, keepdim=True) / where.sum(1, keepdim=True).clamp(min=1)
    return power.sqrt() + 1e-8


def peak(x: Tensor) -> Tensor:
    """Largest magnitude, (batch, 1)."""
    return x.abs().amax(1, keepdim=True) + 1e-6


def first_sound(x: Tensor) -> Tensor:
    """First sample of the first 10 ms that come within 26 dB of the peak, (batch, 1)."""
    peaks = functional.max_pool1d(x.abs()[:, None], SAMPLE_RATE_HZ // 100)[:, 0]
    return (peaks > 0.05 * peak(x)).float().argmax(1, keepdim=True) * (SAMPLE_RATE_HZ // 100)


def open_gate(x: Tensor, depth_db: Tensor) -> Tensor:
    """1 from the first to the last 5 ms that come within ``depth_db`` of the peak, else 0.

    What a key that the voice itself works leaves of a transmission, or a recorder that trims by
    loudness: a weak first or last consonant is lost. (batch, samples)
    """
    span = SAMPLE_RATE_HZ // 200
    length = x.shape[1]
    loud = functional.max_pool1d(x.abs()[:, None], span, span, ceil_mode=True)[:, 0]
    on = (loud > peak(x) * 10 ** (-depth_db / 20)).float()
    after, before = on.cummax(1).values, on.flip(1).cummax(1).values.flip(1)
    return (after * before).repeat_interleave(span, 1)[:, :length]


def codec(y: Tensor) -> Tensor:
    """Six-bit companding."""
    top = peak(y)
    coded = (torch.sign(y) * torch.log1p(255 * y.abs() / top) / math.log(256) * 32).round() / 32
    return torch.sign(coded) * (256 ** coded.abs() - 1) / 255 * top


def interpolate(mel: Tensor, at: Tensor, axis: int) -> Tensor:
    """Read ``mel`` at broken indices along bands (1) or time (2); ``at`` is (batch, places)."""
    whole = at.floor().long().clamp(max=mel.shape[axis] - 2)
    part = at - whole
    shape = (-1, -1, mel.shape[2]) if axis == 1 else (-1, mel.shape[1], -1)
    place = whole[:, :, None] if axis == 1 else whole[:, None]
    part = part[:, :, None] if axis == 1 else part[:, None]
    near = mel.gather(axis, place.expand(*shape))
    return near * (1 - part) + mel.gather(axis, (place + 1).expand(*shape)) * part


def log_mel(sound: Tensor, lengths: Tensor, filters: Tensor) -> tuple[Tensor, Tensor]:
    """`readback.speech.ear.spectrum.log_mel` for a batch: (batch, 80, frames) and frames."""
    window = torch.hann_window(WINDOW, device=sound.device)
    bins = torch.stft(sound, WINDOW, HOP, window=window, pad_mode="reflect", return_complex=True)
    log = (filters @ bins[..., :-1].abs() ** 2).clamp(min=1e-10).log10()
    frames = lengths // HOP
    inside = torch.arange(log.shape[2], device=sound.device)[None] < frames[:, None]
    top = log.masked_fill(~inside[:, None], -10).amax((1, 2), keepdim=True)
    return (torch.maximum(log, top - 8) + 4) / 4 * inside[:, None], frames
