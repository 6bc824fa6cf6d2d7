"""The list of readings judged by trying every sentence."""

import math

import pytest

from readback.speech.ear.decoder import Decoder, Settings
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.phones import BLANK
from tests.ear.test_decoder import (
    EXACT,
    GRAMMARS,
    TWO_WORDS,
    noise,
    score,
    sentences,
    spoken,
)


@pytest.mark.parametrize("name", GRAMMARS)
@pytest.mark.parametrize("seed", range(6))
def test_readings_are_those_of_trying_every_sentence(name, seed):
    heard = noise(seed, steps=9)
    scores = {}
    for said in sentences(GRAMMARS[name]):
        words = tuple(word for word, _ in said)
        scores[words] = max(scores.get(words, 0.0), score(heard, said, max))
    scores = {words: value for words, value in scores.items() if value}
    scores[()] = math.exp(float(heard[:, BLANK].sum()))

    _, readings = Decoder(compile_graph(GRAMMARS[name]), EXACT).decode_all(heard, 20, width=1e3)

    spoken_ones = [reading for reading in readings if not reading.unheard]
    best = max(scores.values())
    assert spoken_ones[0].score == pytest.approx(math.log(best), abs=1e-4)
    # One start for each end of a word: a lower bound, and "a eat" may be hidden by "eat".
    assert name == "optional" or {one.words for one in spoken_ones} == {*scores}
    for reading in spoken_ones:
        exact = math.log(scores[reading.words])
        assert exact - 2.0 < reading.score < exact + 1e-4


def test_best_reading_is_the_one_that_is_decoded():
    heard = spoken(["EY", "D", "AE", "D"])

    words, readings = Decoder(compile_graph(TWO_WORDS)).decode_all(heard, 5)

    assert readings[0].words == tuple(word.word for word in words) == ("a", "dad")


def test_no_reading_is_much_less_probable_than_the_best():
    heard = spoken(["EY", "T", "IY"])

    _, readings = Decoder(compile_graph(TWO_WORDS), EXACT).decode_all(heard, 20, width=6.0)

    assert all(readings[0].score - reading.score <= 6.0 for reading in readings)


def test_speech_in_no_word_is_told_beside_the_words():
    settings = Settings(filler_phone=0.7, filler_entry=6.0, stranger_entry=1e3)
    heard = spoken("EY T IY M ER SH UW Z OY G NG V UH HH ZH".split())

    _, readings = Decoder(compile_graph(TWO_WORDS), settings).decode_all(heard, 5)

    ((start, end),) = readings[0].unheard
    assert readings[0].words == ("a", "tea")
    assert 0 < start < end


def test_silence_has_no_readings():
    heard = spoken(["EY"])[:0]

    assert Decoder(compile_graph(TWO_WORDS)).decode_all(heard, 5) == ((), ())
