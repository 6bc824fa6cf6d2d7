import threading

import numpy as np
import pytest

from readback.errors import AudioError
from readback.speech.channel import PEAK
from readback.speech.duplex import HalfDuplex
from readback.speech.synthesisers import (
    MANNERS,
    EspeakProgram,
    find_synthesiser,
    manner_of,
    spoken_text,
)
from readback.speech.voice import Speaker, through_channel, tone
from tests.live.fakes import read_speech


class FakeSynthesiser:
    name = "fake"

    def __init__(self, *, broken: bool = False):
        self.said = []
        self._broken = broken

    def speak(self, text, station):
        self.said.append((station, text))
        if self._broken:
            raise AudioError("fake did not speak.", "Read the text instead.")
        return read_speech("gc01_hold_short.flac")


class FakePlayer:
    def __init__(self, duplex, *, broken: bool = False):
        self.played = []
        self.listened = []
        self._duplex = duplex
        self._broken = broken

    def play(self, samples, cancelled):
        if self._broken:
            raise AudioError("The sound cannot be played.", "Read the text instead.")
        self.played.append(samples)
        self.listened.append(self._duplex.may_listen)


def make_speaker(*, synthesiser=None, broken=False):
    duplex = HalfDuplex()
    player = FakePlayer(duplex, broken=broken)
    return Speaker(synthesiser, player, duplex), player


def test_the_station_speaks_and_the_microphone_is_out_meanwhile():
    synthesiser = FakeSynthesiser()
    speaker, player = make_speaker(synthesiser=synthesiser)

    spoken = speaker.say("controller", "larkspur 421, taxi", "radio")

    assert (spoken.by, spoken.problem) == ("voice", None)
    assert synthesiser.said == [("controller", "larkspur 421, taxi")]
    assert player.listened == [False]
    assert np.abs(player.played[0]).max() <= PEAK + 1e-6


def test_without_synthesiser_a_tone_marks_the_call():
    speaker, player = make_speaker()

    spoken = speaker.say("headset", "brakes released")

    assert spoken.by == "tone"
    assert np.array_equal(player.played[0], tone())


def test_a_broken_synthesiser_is_told_and_the_tone_sounds():
    speaker, player = make_speaker(synthesiser=FakeSynthesiser(broken=True))

    spoken = speaker.say("headset", "brakes released")

    assert spoken.by == "tone"
    assert "did not speak" in spoken.problem
    assert len(player.played) == 1


def test_without_output_the_text_is_all_there_is():
    duplex = HalfDuplex()

    assert Speaker(FakeSynthesiser(), None, duplex).say("headset", "stop").by == "text"
    assert make_speaker(broken=True)[0].say("headset", "stop").by == "text"
    assert Speaker(None, None, duplex).name == "text only"


@pytest.mark.parametrize("channel", ["radio", "interphone", "clean"])
def test_the_same_words_sound_the_same_again(channel):
    speech = read_speech("gc01_hold_short.flac")

    first = through_channel(speech, channel, "hold short")

    assert np.array_equal(first, through_channel(speech, channel, "hold short"))


# Pass band of the radio: 300 to 3400 Hz (see `readback.speech.channel`).
def test_the_radio_cuts_what_is_above_its_band():
    speech = read_speech("gc01_hold_short.flac")

    spectrum = np.abs(np.fft.rfft(through_channel(speech, "radio", "x"))) ** 2

    above = spectrum[round(len(spectrum) * 4_500 / 8_000) :].sum()
    assert above < 1e-4 * spectrum.sum()


def test_stations_have_different_voices():
    assert len({(manner.espeak, manner.pitch) for manner in MANNERS.values()}) == len(MANNERS)
    assert len({manner.semitones for manner in MANNERS.values()}) == len(MANNERS)
    assert manner_of("Northgate 80") == manner_of("Northgate 80")


@pytest.mark.parametrize(
    ("text", "spoken"),
    [
        ("larkspur 421, runway 27L", "larkspur 4 2 1, runway 2 7 L"),
        ("contact 121.805", "contact 1 2 1.8 0 5"),
        ("-v mad [push] <x>", "-v mad push x"),
        ("taxi via A3", "taxi via A 3"),
    ],
)
def test_numbers_are_said_digit_by_digit(text, spoken):
    assert spoken_text(text) == spoken


def test_espeak_that_fails_is_one_line(tmp_path):
    program = tmp_path / "espeak-ng"
    program.write_text("#!/bin/sh\nexit 3\n")
    program.chmod(0o755)

    with pytest.raises(AudioError, match="did not speak") as caught:
        EspeakProgram(str(program)).speak("brakes set", "headset")

    assert "\n" not in str(caught.value)


def test_espeak_that_gives_no_sound_is_one_line(tmp_path):
    program = tmp_path / "espeak-ng"
    program.write_text("#!/bin/sh\ncat >/dev/null\necho nothing\n")
    program.chmod(0o755)

    with pytest.raises(AudioError, match="no sound"):
        EspeakProgram(str(program)).speak("brakes set", "headset")


def test_no_program_and_no_package_is_no_voice(monkeypatch):
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)

    assert find_synthesiser() is None


def test_cancel_reaches_the_player():
    class Waiting:
        def play(self, samples, cancelled):
            threading.Timer(0.05, speaker.cancel).start()
            assert cancelled.wait(5.0)

    speaker = Speaker(FakeSynthesiser(), Waiting(), HalfDuplex())

    assert speaker.say("headset", "stop").by == "voice"
