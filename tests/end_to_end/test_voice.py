"""The voice through PortAudio: its words come back, and it is never listened to."""

import threading
import time

import numpy as np
import pytest

from readback.speech.devices import choose_device, device_opener, list_devices
from readback.speech.duplex import ECHO_S, HalfDuplex
from readback.speech.live import Ended, LiveListener
from readback.speech.microphone import Microphone
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.speech.synthesisers import MANNERS, find_synthesiser
from readback.speech.voice import DevicePlayer, Speaker, through_channel, tone
from tests.live.fakes import quiet, read_speech

CALL = "hold short of runway two seven left"


@pytest.fixture
def duplex() -> HalfDuplex:
    return HalfDuplex()


@pytest.fixture
def speaker(sound, duplex) -> Speaker:
    list_devices()
    return Speaker(find_synthesiser(), DevicePlayer("headset"), duplex)


def microphone() -> Microphone:
    return Microphone(device_opener(choose_device(list_devices(), "headset_mic")))


@pytest.mark.parametrize(
    ("station", "channel"),
    [("controller", "radio"), ("flight_deck", "interphone"), ("instructor", "clean")],
)
def test_the_words_that_the_voice_says_come_back(sound, speaker, recogniser, station, channel):
    with sound.recording("headset") as heard:
        spoken = speaker.say(station, CALL, channel)

    assert (spoken.by, spoken.problem) == ("voice", None)
    assert CALL in recogniser.recognise(bytes(heard)).text


@pytest.mark.parametrize("station", MANNERS)
def test_each_station_is_understood(recogniser, station):
    speech = find_synthesiser().speak(CALL, station)

    for channel in ("radio", "interphone"):
        sent = np.clip(through_channel(speech, channel, station), -1.0, 1.0)
        assert recogniser.recognise((sent * 32_767).astype("<i2").tobytes()).text == CALL


def test_a_station_has_one_voice_and_each_its_own():
    synthesiser = find_synthesiser()

    voices = [synthesiser.speak(CALL, station) for station in MANNERS]

    assert np.array_equal(
        synthesiser.speak(CALL, "controller"), synthesiser.speak(CALL, "controller")
    )
    spectra = [np.abs(np.fft.rfft(voice, 1 << 17)) for voice in voices]
    alike = [
        float(one @ other / np.linalg.norm(one) / np.linalg.norm(other))
        for number, one in enumerate(spectra)
        for other in spectra[number + 1 :]
    ]
    assert max(alike) < 0.9


def test_without_a_synthesiser_the_tone_is_heard(sound, duplex):
    list_devices()
    speaker = Speaker(None, DevicePlayer("headset"), duplex)

    with sound.recording("headset") as heard:
        spoken = speaker.say("controller", CALL)

    pcm = np.frombuffer(bytes(heard), "<i2") / 32_768
    loud = np.flatnonzero(np.abs(pcm) > np.abs(tone()).max() / 4)
    spectrum = np.abs(np.fft.rfft(pcm * np.hanning(len(pcm))))
    assert spoken.by == "tone"
    assert (loud[-1] - loud[0]) / SAMPLE_RATE_HZ == pytest.approx(len(tone()) / 16_000, abs=0.05)
    assert np.argmax(spectrum) * SAMPLE_RATE_HZ / len(pcm) == pytest.approx(1_000, abs=5)


def test_the_voice_is_not_listened_to_and_the_trainee_is(sound, speaker, duplex, recogniser):
    """The device plays back to its own microphone, without loss."""
    live = LiveListener(microphone(), recogniser, duplex)
    takes = []
    listening = threading.Thread(target=lambda: takes.append(live.hear(seconds=20.0)))

    with sound.recording("headset") as heard:
        listening.start()
        speaker.say("controller", CALL, "radio")
    during = bytes(heard)
    sound.play("headset", np.concatenate([quiet(0.5), read_speech("gc01_hold_short.flac")]))
    listening.join()

    assert CALL in recogniser.recognise(during).text
    assert takes[0].transmission.text == (
        "holding short of runway two seven left larkspur four two one"
    )


def test_the_end_of_the_voice_is_not_heard_by_who_listens_right_after(
    sound, speaker, duplex, recogniser
):
    live = LiveListener(microphone(), recogniser, duplex)

    for text in (CALL, "stop push back"):
        speaker.say("controller", text, "radio")
        take = live.hear(seconds=1.0)

        assert (take.ended, len(take.pcm)) == (Ended.TIME, 0)


def test_cancelled_it_falls_silent_at_once(sound, speaker):
    with sound.recording("headset") as heard:
        threading.Timer(0.6, speaker.cancel).start()
        speaker.say("controller", " ".join([CALL] * 5))

    loud = np.flatnonzero(np.abs(np.frombuffer(bytes(heard), "<i2")) > 300)
    assert (loud[-1] - loud[0]) / SAMPLE_RATE_HZ < 2.0


def test_a_loudspeaker_unplugged_in_mid_call_is_one_line_and_the_text_is_read(
    sound, speaker, duplex, capfd
):
    unplugging = threading.Timer(1.0, sound.unplug, ("headset",))
    unplugging.start()

    spoken = speaker.say("controller", " ".join([CALL] * 5))
    unplugging.join()

    assert spoken.by == "text"
    assert spoken.problem.endswith("Read the text instead.")
    assert "\n" not in spoken.problem
    assert capfd.readouterr().err == ""
    time.sleep(ECHO_S)
    assert duplex.may_listen
