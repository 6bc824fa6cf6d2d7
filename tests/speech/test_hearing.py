"""Whole recordings, from file to words with times in the recording."""

import numpy as np
import pytest
import soundfile

from readback.errors import AudioError
from readback.speech.hearing import hear_file, hear_transmission
from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission, Word
from tests.speech.conftest import DATA, ENGLISH, read_samples

RATE = 16_000


@pytest.fixture(scope="module")
def pocketsphinx(grammar):
    return PocketSphinxRecogniser(grammar)


def pause(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * RATE), np.int16)


def test_an_exchange_is_heard_one_transmission_after_the_other(tmp_path, pocketsphinx):
    names = ("instruction", "wrong_readback", "cross")
    parts = [part for name in names for part in (pause(1.5), read_samples(name))]
    soundfile.write(tmp_path / "exchange.ogg", np.concatenate(parts), RATE)

    heard = list(hear_file(tmp_path / "exchange.ogg", pocketsphinx))

    assert [transmission.text for transmission in heard] == [ENGLISH.said[name] for name in names]
    starts = [1.5, 3.0 + len(parts[1]) / RATE, 4.5 + (len(parts[1]) + len(parts[3])) / RATE]
    for transmission, start in zip(heard, starts, strict=True):
        assert transmission.station is None
        assert transmission.start == pytest.approx(start, abs=0.5)
        assert transmission.start <= transmission.words[0].start
        assert transmission.words[-1].end <= transmission.end + 0.01


def test_each_channel_is_a_station(tmp_path, pocketsphinx):
    ground, crew = read_samples("instruction"), read_samples("right_readback")
    left = np.concatenate([ground, pause(1 + len(crew) / RATE)])
    right = np.concatenate([pause(1 + len(ground) / RATE), crew])
    soundfile.write(tmp_path / "two.wav", np.column_stack([left, right]), RATE)

    heard = list(hear_file(tmp_path / "two.wav", pocketsphinx))

    assert [(t.station, t.text) for t in heard] == [
        ("left", ENGLISH.said["instruction"]),
        ("right", ENGLISH.said["right_readback"]),
    ]


@pytest.mark.parametrize("name", ENGLISH.said)
def test_a_file_with_one_transmission_is_heard_as_one(pocketsphinx, name):
    heard = hear_transmission(DATA / f"{name}.flac", pocketsphinx)

    assert heard.text == ENGLISH.said[name]


def test_a_phrase_goes_on_after_a_pause_and_its_times_are_the_recordings(tmp_path, pocketsphinx):
    whole = pocketsphinx.recognise(read_samples("right_readback").tobytes())
    at = round((whole.words[3].end + whole.words[4].start) / 2 * RATE)  # After the callsign.
    first, second = np.split(read_samples("right_readback"), [at])
    soundfile.write(tmp_path / "pause.wav", np.concatenate([first, pause(3), second]), RATE)

    heard = hear_transmission(tmp_path / "pause.wav", pocketsphinx)

    assert heard.text == ENGLISH.said["right_readback"]
    assert heard.words[3].end == pytest.approx(whole.words[3].end, abs=0.15)
    assert heard.words[4].start == pytest.approx(whole.words[4].start + 3, abs=0.15)
    assert heard.words[10].end == pytest.approx(whole.words[10].end + 3, abs=0.15)


def test_silence_has_no_transmission(tmp_path):
    soundfile.write(tmp_path / "silent.wav", pause(5), RATE)
    never = ScriptedRecogniser(lambda pcm: Transmission.typed("heard"))

    assert list(hear_file(tmp_path / "silent.wav", never)) == []
    assert hear_transmission(tmp_path / "silent.wav", never) == Transmission()


def test_a_recogniser_without_times_is_heard_all_the_same(tmp_path):
    scripted = ScriptedRecogniser(lambda pcm: Transmission(words=(Word(word="hold"),)))

    heard = hear_transmission(DATA / "cross.flac", scripted)

    assert (heard.text, heard.words[0].start) == ("hold", None)


def test_many_transmissions_are_not_taken_for_one(tmp_path):
    speech = np.concatenate([read_samples("instruction"), pause(1)])
    soundfile.write(tmp_path / "long.flac", np.tile(speech, 20), RATE)

    with pytest.raises(AudioError, match=r"over 60 s of speech.*readback replay"):
        hear_transmission(tmp_path / "long.flac", ScriptedRecogniser(lambda pcm: Transmission()))
