"""Names that the grammar takes as any word: heard from a list, and never forced into it."""

import numpy as np
import pytest

from readback.phraseology.grammar import load_grammar
from readback.search import OTHER_NAME, Arc, SearchGrammar
from readback.speech.ear.calibration import Calibration
from readback.speech.ear.decoder import Decoder, Heard, Settings
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.phones import BLANK, PHONES

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
