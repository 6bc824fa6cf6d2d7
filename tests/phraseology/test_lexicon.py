"""How every word is pronounced: the shipped lexicon and an operator's own."""

import pytest

from readback.data import data_directory
from readback.errors import GrammarError
from readback.phraseology.grammar import load_grammar
from readback.phraseology.lexicon import (
    PHONES,
    load_lexicon,
    load_lexicons,
    require_pronunciations,
)


def test_every_word_of_the_grammar_has_a_pronunciation():
    require_pronunciations(load_grammar().vocabulary, load_lexicons())


def test_every_word_that_can_be_heard_is_in_the_search_graph():
    search = load_grammar().search()

    assert set(search.pronunciations) <= set(load_lexicons())
    assert {"hold", "short", "runway", "chocks"} <= set(search.pronunciations)


@pytest.mark.parametrize("word", ["him", "bonjour", "yeah", "across", "kindly"])
def test_words_that_are_only_typed_are_not_listened_for(word):
    assert word in load_grammar().vocabulary
    assert word not in load_grammar().search().pronunciations


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        # ICAO Annex 10 Vol II 5.2.1.4.3.1: TREE, FOWER, FIFE, NINER, TOUSAND, DAYSEEMAL.
        ("three", "T R IY"),
        ("four", "F OW ER"),
        ("five", "F AY F"),
        ("nine", "N AY N ER"),
        ("thousand", "T AW Z AH N D"),
        ("decimal", "D EY S IY M AH L"),
        # CMU Pronouncing Dictionary.
        ("hold", "HH OW L D"),
        ("cross", "K R AO S"),
    ],
)
def test_published_pronunciations_are_known(word, phones):
    assert phones in load_lexicons()[word]


def test_the_lexicon_is_sorted_and_says_nothing_twice():
    path = data_directory("grammars") / "lexicon.dict"
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line[:1] != "#"]
    words = [line.split()[0].split("(")[0] for line in lines]

    assert words == sorted(words)
    assert len(set(lines)) == len(lines)
    assert all(set(line.split()[1:]) <= PHONES for line in lines)


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("hold HH OW L D\nshort\n", 2, "not 'word PH PH ...'"),
        ("# remark\n\nhold HH OW1 L D\n", 3, "'OW1' is no phone"),
        ("hold QQ\n", 1, "'QQ' is no phone"),
    ],
)
def test_a_mistake_is_told_with_file_and_line(tmp_path, text, line, what):
    path = tmp_path / "own.dict"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(GrammarError) as caught:
        load_lexicon(path)

    assert f"own.dict, line {line}: {what}" in str(caught.value)


def test_a_missing_lexicon_is_told(tmp_path):
    with pytest.raises(GrammarError, match=r"nowhere\.dict: cannot be read"):
        load_lexicon(tmp_path / "nowhere.dict")


def test_an_operators_own_pronunciation_comes_first(tmp_path):
    path = tmp_path / "own.dict"
    path.write_text("runway R AA N W EY\nquillford K W IH L F ER D\n", encoding="utf-8")

    lexicon = load_lexicons((path,))

    assert lexicon["runway"][0] == "R AA N W EY"
    assert "R AH N W EY" in lexicon["runway"]
    assert lexicon["quillford"] == ("K W IH L F ER D",)


def test_a_word_without_pronunciation_is_named():
    with pytest.raises(GrammarError, match="No pronunciation for quillford, zennorby"):
        require_pronunciations(["zennorby", "hold", "quillford"], load_lexicons())
