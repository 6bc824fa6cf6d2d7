"""Grammar to phone graph."""

import pytest

from readback.errors import RecogniserError
from readback.search import Arc, SearchGrammar
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.phones import PHONES


def make(arcs, pronunciations, final=(1,)):
    return SearchGrammar("", pronunciations, (), tuple(Arc(*a) for a in arcs), frozenset(final))


def test_arcs_with_one_word_and_target_share_a_chain():
    graph = compile_graph(make([(0, 1, "tea"), (2, 1, "tea"), (0, 2, None)], {"tea": ("T IY",)}))

    assert graph.words == ("tea",)
    assert list(graph.arc_source) == [0, 2]


def test_every_pronunciation_is_a_chain_of_its_phones():
    graph = compile_graph(make([(0, 1, "a")], {"a": ("AH", "EY T")}))

    spelled = [PHONES[phone] for phone in graph.node_phone]
    assert spelled == ["AH", "EY", "T"]
    assert list(graph.node_is_last) == [True, False, True]


def test_silent_steps_reach_the_end():
    graph = compile_graph(make([(0, 1, "a"), (1, 2, None), (2, 3, None)], {"a": ("AH",)}, (3,)))

    assert list(graph.accepts) == [False, True, True, True]


@pytest.mark.parametrize(
    ("arcs", "pronunciations", "named"),
    [
        ([], {}, "no words"),
        ([(0, 1, "tea")], {}, '"tea"'),
        ([(0, 1, "tea")], {"tea": ("T IH1",)}, "T IH1"),
        ([(0, 1, "tea")], {"tea": ("",)}, '"tea"'),
    ],
)
def test_a_grammar_that_cannot_be_said_is_refused_by_name(arcs, pronunciations, named):
    with pytest.raises(RecogniserError, match="ear: ") as refused:
        compile_graph(make(arcs, pronunciations))

    assert named in str(refused.value)
