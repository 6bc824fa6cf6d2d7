"""The microphone through PortAudio: every rate, a device that goes away, the level check."""

import threading
import time

import numpy as np
import pytest

from readback.errors import AudioError
from readback.speech.devices import Device, choose_device, device_opener, list_devices
from readback.speech.level import Level, check_level
from readback.speech.live import Ended, LiveListener
from readback.speech.microphone import Microphone, record
from tests.live.fakes import quiet, read_speech

PIN = ("ip05_bypass_pin.flac", "steering bypass pin installed")
HOLD_SHORT = "gc01_hold_short.flac"


def device(name: str = "headset_mic") -> Device:
    return choose_device(list_devices(), name)


def microphone(name: str = "headset_mic") -> Microphone:
    return Microphone(device_opener(device(name)))


def said(file: str = PIN[0]) -> np.ndarray:
    return np.concatenate([quiet(0.4), read_speech(file), quiet(0.3)])


def test_the_devices_are_listed_by_name(sound):
    names = [one.name for one in list_devices()]

    assert "headset_mic (ALSA)" in names
    assert "second_mic (ALSA)" in names


@pytest.mark.parametrize(
    ("card_hz", "opened_hz"),
    [(8_000, 8_000), (44_100, 44_100), (48_000, 48_000), (8_000, 48_000), (48_000, 8_000)],
)
def test_a_tone_keeps_its_pitch_and_level_at_each_rate(sound, card_hz, opened_hz):
    sound.unplug("headset")
    sound.plug_in("headset", card_hz)
    opened = Device(device().number, device().name, opened_hz)
    tone = 0.5 * np.sin(2 * np.pi * 1_000 * np.arange(24_000) / 16_000)

    with sound.playing("headset", tone):
        pcm = record(Microphone(device_opener(opened)), 1.4)

    # Half a second in which the player is neither starting nor at its end.
    began = int(np.argmax(np.abs(pcm) > 8_000)) + 1_600
    part = pcm[began : began + 8_000] / 32_768
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part))))
    assert np.argmax(spectrum) * 2 == pytest.approx(1_000, abs=2)
    assert np.sqrt(2 * np.mean(np.square(part))) == pytest.approx(0.5, rel=0.05)


def test_words_played_into_the_microphone_are_heard(sound, recogniser):
    live = LiveListener(microphone(), recogniser)

    with sound.playing("headset", said()):
        take = live.hear(seconds=10.0)

    assert take.transmission.text == PIN[1]
    assert (take.ended, take.losses) == (Ended.PAUSE, 0)


def test_unplugged_in_mid_take_the_words_until_then_are_kept(sound, recogniser, capfd):
    live = LiveListener(microphone(), recogniser)

    with sound.playing("headset", said(HOLD_SHORT)[:32_000]):
        unplugging = threading.Timer(2.2, sound.unplug, ("headset",))
        unplugging.start()
        began = time.monotonic()
        take = live.hear(hands_free=False, seconds=30.0)
    unplugging.join()

    assert take.ended is Ended.UNPLUGGED
    assert time.monotonic() - began < 10.0
    assert take.transmission.text.startswith("holding short")
    assert take.problem.startswith("The microphone is gone.")
    assert capfd.readouterr().err == ""


def test_after_that_another_device_is_chosen_without_a_restart(sound, recogniser):
    lost = microphone()
    unplugging = threading.Timer(0.5, sound.unplug, ("headset",))
    unplugging.start()
    with pytest.raises(AudioError, match="microphone is gone"):
        list(lost.blocks())
    unplugging.join()
    with pytest.raises(AudioError, match="cannot be opened"):
        list(lost.blocks())

    sound.plug_in("second")
    live = LiveListener(microphone("second_mic"), recogniser)
    with sound.playing("second", said()):
        take = live.hear(seconds=10.0)

    assert take.transmission.text == PIN[1]


def test_the_same_device_plugged_in_again_is_heard_again(sound, recogniser):
    live = LiveListener(microphone(), recogniser)
    sound.unplug("headset")
    with pytest.raises(AudioError, match="cannot be opened"):
        live.hear(seconds=1.0)

    sound.plug_in("headset")
    with sound.playing("headset", said()):
        take = live.hear(seconds=10.0)

    assert take.transmission.text == PIN[1]


def loud(gain_db: float, noise: float = 0.0) -> np.ndarray:
    speech = said(HOLD_SHORT)[:48_000]
    hiss = np.random.default_rng(1).normal(0, 1.0, len(speech))
    return speech * 10 ** (gain_db / 20) + noise * hiss


@pytest.mark.parametrize(
    ("played", "level"),
    [
        (loud(0.0), Level.GOOD),
        (loud(-36.0), Level.TOO_QUIET),
        (loud(25.0), Level.CLIPPED),
        (loud(-200.0, noise=0.05), Level.NOISE_ONLY),
        (None, Level.MUTED),
    ],
    ids=["good", "too quiet", "clipped", "noise only", "muted"],
)
def test_the_level_check_tells_what_is_wrong(sound, played, level):
    with sound.playing("headset", quiet(0.1) * 0 if played is None else played):
        report = check_level(record(microphone(), 2.8))

    assert report.level is level
