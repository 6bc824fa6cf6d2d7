"""Names that the grammar takes as any word: heard from a list, and never forced into it."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from readback.judging.check import check
from readback.judging.model import Outcome
from readback.phraseology.grammar import load_grammar
from readback.phraseology.pronouncing import pronounce
from readback.search import OTHER_NAME, Arc, SearchGrammar
from readback.speech.ear import EarRecogniser
from readback.speech.ear.calibration import Calibration
from readback.speech.ear.decoder import Decoder, Heard, Settings
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.phones import BLANK, PHONES

DATA = Path(__file__).parent / "data"
SAYINGS = {
    "to": ("T UW",),
    "two": ("T UW",),
    "marlow": ("M AA R L OW",),
    "harlow": ("HH AA R L OW",),
}
TO_A_PLACE = SearchGrammar(
    jsgf="",
    pronunciations=SAYINGS,
    phrases=(),
    arcs=(Arc(0, 1, "to"), *(Arc(1, 2, name) for name in ("marlow", "harlow", OTHER_NAME))),
    final_states=frozenset({1, 2}),
)

CALLS_ALONE = Settings(filler_entry=1e3, stranger_entry=1e3)
"""So short a grammar is all names: none of it is to be taken for talk."""


def spoken(phones, sure=0.97):
    """Log-probabilities in which these phones follow each other, blanks after each."""
    values = np.full((3 * len(phones), len(PHONES)), (1 - sure) / (len(PHONES) - 1))
    values[:, BLANK] = sure
    for number, phone in enumerate(phones):
        values[3 * number] = (1 - sure) / (len(PHONES) - 1)
        values[3 * number, PHONES.index(phone)] = sure
    return np.log(values / values.sum(axis=1, keepdims=True)).astype(np.float32)


@pytest.mark.parametrize("name", ["marlow", "harlow"])
def test_names_of_the_list_are_told_apart(name):
    heard = spoken(["T", "UW", *SAYINGS[name][0].split()])

    words = Decoder(compile_graph(TO_A_PLACE), CALLS_ALONE).decode(heard)

    assert [word.word for word in words] == ["to", name]
    assert words[1].probability > 0.9


@pytest.mark.parametrize("phones", ["B R IH K S AH M", "AA Z L OW", "K EH L S IY V IH K"])
def test_a_name_that_is_not_listened_for_is_not_forced_into_the_list(phones):
    words = Decoder(compile_graph(TO_A_PLACE), CALLS_ALONE).decode(
        spoken(["T", "UW", *phones.split()])
    )

    assert [word.word for word in words] == ["to", OTHER_NAME]


@pytest.mark.parametrize("phones", [[], ["K"]])
def test_no_name_is_heard_where_nothing_or_next_to_nothing_is_said(phones):
    words = Decoder(compile_graph(TO_A_PLACE), CALLS_ALONE).decode(spoken(["T", "UW", *phones]))

    assert OTHER_NAME not in [word.word for word in words]


def test_what_an_unheard_name_was_is_never_certain():
    calibration = Calibration(Settings())

    assert calibration.certainty(Heard(OTHER_NAME, 0, 9, probability=1.0)) == 0
    assert calibration.certainty(Heard("marlow", 0, 9, probability=0.99)) > 0.9


def test_names_are_listened_for_where_the_grammar_takes_any_word():
    grammar = load_grammar()
    names = {"marlow": ("M AA R L OW",)}

    without, with_names = grammar.search(), grammar.search(names=names)

    assert not {arc.word for arc in without.arcs} & {"marlow", OTHER_NAME}
    places = {(arc.source, arc.target) for arc in with_names.arcs if arc.word == "marlow"}
    assert places == {(a.source, a.target) for a in with_names.arcs if a.word == OTHER_NAME}
    assert len(places) > 10
    assert with_names.pronunciations["marlow"] == names["marlow"]
    assert with_names.jsgf == without.jsgf


def test_a_word_of_the_grammar_is_no_name():
    search = load_grammar().search(names={"runway": ("M AA R L OW",)})

    assert search.pronunciations["runway"] == load_grammar().search().pronunciations["runway"]


NEAR = {name: pronounce(name).phones for name in ("marlow", "harlow")}


@pytest.fixture(scope="module")
def ear():
    recogniser = EarRecogniser(load_grammar().search(names=NEAR))
    yield recogniser
    recogniser.close()


def recorded(name):
    """A Kokoro voice (Apache-2.0), am_adam or bf_emma, never trained on."""
    samples, _ = soundfile.read(DATA / f"{name}.opus", dtype="int16")
    return samples.astype("<i2").tobytes()


@pytest.mark.parametrize("name", NEAR)
def test_two_names_that_sound_alike_are_told_apart_in_speech(ear, name):
    heard = ear.recognise(recorded(f"to_{name}"))

    assert heard.text == f"cleared to {name} larkspur two three"


def test_a_name_in_speech_that_is_not_listened_for_is_not_forced(ear):
    heard = ear.recognise(recorded("to_kelso"))

    assert heard.text.startswith(f"cleared to {OTHER_NAME} ")
    assert heard.text.endswith(" larkspur two three")
    assert not {word.word for word in heard.words} & set(NEAR)
    assert heard.words[2].certainty == 0


def test_a_new_name_needs_its_pronunciation_alone():
    ear = EarRecogniser(load_grammar().search(names={"kelso": ("K EH L S OW",)}))

    assert ear.recognise(recorded("to_kelso")).words[2].word == "kelso"


def test_a_long_roster_hides_neither_a_name_nor_a_call():
    others = (f"{a}{b}{c}{d}" for a in "bdgklmprst" for b in "aeiou" for c in "lnrst" for d in "oy")
    roster = {name: pronounce(name).phones for name in others} | NEAR
    ear = EarRecogniser(load_grammar().search(names=roster))

    assert ear.recognise(recorded("to_marlow")).text == "cleared to marlow larkspur two three"
    assert len(roster) > 500


@pytest.mark.parametrize("instructed", ["marlow", "kelso"])
def test_an_unheard_name_is_asked_for_again_and_never_passed(ear, instructed):
    heard = ear.recognise(recorded("to_kelso"))

    found = check(f"larkspur two three cleared to {instructed}", heard, least_certainty=0.5)

    assert found.verdict == Outcome.SAY_AGAIN
