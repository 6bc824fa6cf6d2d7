"""The faults of PocketSphinx stay in its adapter."""

import dataclasses

import numpy as np
import pytest

from readback.errors import RecogniserError
from readback.search import Arc
from readback.speech.channel import vhf_radio
from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser
from tests.speech.conftest import PRONUNCIATIONS, read_pcm, read_samples


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"arcs": (Arc(0, 1, "beacon"), Arc(0, 1, None))}, "no pronunciation for: beacon"),
        ({"pronunciations": {}}, "no words"),
        ({"arcs": ()}, "no words"),
        ({"final_states": frozenset()}, "no words"),
        ({"pronunciations": PRONUNCIATIONS | {"two": ("",)}}, '"two" has an empty'),
        ({"pronunciations": PRONUNCIATIONS | {"two": ()}}, '"two" has an empty'),
        ({"pronunciations": PRONUNCIATIONS | {"two": ("T QQ",)}}, '"T QQ" of "two"'),
    ],
)
def test_a_grammar_that_cannot_be_searched_is_refused(grammar, capfd, change, what):
    with pytest.raises(RecogniserError, match=what) as refusal:
        PocketSphinxRecogniser(dataclasses.replace(grammar, **change))

    assert "\n" not in str(refusal.value)
    assert capfd.readouterr() == ("", "")


def test_silent_steps_in_a_row_are_followed(grammar):
    """5.1.1 follows one only, and hears nothing where two are needed."""
    arcs = (Arc(0, 1, None), Arc(1, 2, None), Arc(2, 1, None), Arc(2, 3, "cross"), Arc(3, 4, None))
    arcs += (Arc(4, 5, "runway"), Arc(5, 6, "zero"), Arc(6, 7, "niner"), Arc(7, 8, None))
    arcs += (Arc(8, 9, None), Arc(9, 9, None))
    chained = dataclasses.replace(grammar, arcs=arcs, final_states=frozenset({9}))

    heard = PocketSphinxRecogniser(chained).recognise(read_pcm("cross"))

    assert heard.text == "cross runway zero niner"


def test_a_second_pronunciation_leaves_no_mark_on_the_word(grammar):
    """ "five" as awb says it matches the second, "fife", which the decoder calls "five(2)"."""
    swapped = {word: tuple(reversed(said)) for word, said in PRONUNCIATIONS.items()}

    for pronunciations in (PRONUNCIATIONS, swapped):
        changed = dataclasses.replace(grammar, pronunciations=pronunciations)
        heard = PocketSphinxRecogniser(changed).recognise(read_pcm("instruction"))
        assert heard.text == "larkspur four five two hold short of runway two seven left"


def test_no_silence_or_noise_mark_leaves_the_adapter(grammar):
    recogniser = PocketSphinxRecogniser(grammar)
    pauses = bytes(20_000).join([read_pcm("cross"), read_pcm("instruction")])

    for pcm in (pauses, read_pcm("wrong_readback")[:90_000]):
        for start in range(0, len(pcm), 8_000):
            partial = recogniser.feed(pcm[start : start + 8_000])
            assert {word.word for word in partial.words} <= set(PRONUNCIATIONS)
        assert {word.word for word in recogniser.finish().words} <= set(PRONUNCIATIONS)


def test_certainty_falls_with_the_signal(grammar):
    recogniser = PocketSphinxRecogniser(grammar)
    speech = read_samples("wrong_readback") / 32768

    means = []
    for snr_db in (40, 20, 10):
        radio = (vhf_radio(speech, snr_db, 1) * 32767).astype(np.int16)
        means.append(np.mean([w.certainty for w in recogniser.recognise(radio.tobytes()).words]))

    assert means[0] > 0.95
    assert means == sorted(means, reverse=True)


def test_a_closed_recogniser_says_so(grammar):
    recogniser = PocketSphinxRecogniser(grammar)
    recogniser.feed(read_pcm("cross"))
    recogniser.close()
    recogniser.close()

    with pytest.raises(RecogniserError, match="closed"):
        recogniser.recognise(read_pcm("cross"))


def test_whatever_the_engine_raises_is_a_recogniser_error(grammar):
    recogniser = PocketSphinxRecogniser(grammar)
    recogniser.feed(read_pcm("cross"))

    with pytest.raises(RecogniserError, match="the engine broke") as failure:
        recogniser.feed("no bytes")  # type: ignore[arg-type]

    assert isinstance(failure.value.__cause__, TypeError)
