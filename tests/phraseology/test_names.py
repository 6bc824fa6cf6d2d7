"""Names that the grammar takes as any word: found in what is typed, and pronounced."""

import pytest

from readback.errors import GrammarError, InputError
from readback.phraseology.grammar import load_grammar
from readback.phraseology.lexicon import PHONES
from readback.phraseology.names import find_names, load_names, pronunciations
from readback.phraseology.pronouncing import load_letters, pronounce

GRAMMAR = load_grammar()


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Larkspur 23, cleared to Quillford, Zennorby 2 alfa departure", ("quillford", "zennorby")),
        ("Kestrel 23, hold short of runway 27L", ("kestrel",)),
        ("Quillford ground, Larkspur 23, request taxi", ("quillford",)),
        ("Larkspur 23, hold short of runway 27L", ()),
        ("Larkspur 23, hold shrot of runway 27L", ()),
        ("the weather over there is rather lovely", ()),
    ],
)
def test_names_are_found_in_typed_instructions(text, names):
    assert find_names(text, GRAMMAR) == names


@pytest.mark.parametrize(
    ("name", "phones"),
    [("dublin", "D AH B L IH N"), ("geneva", "JH AH N IY V AH"), ("kelsey", "K EH L S IY")],
)
def test_a_known_name_is_said_as_the_dictionary_says(name, phones):
    """Source: CMU Pronouncing Dictionary, stress left out."""
    said = pronounce(name)

    assert said.phones[0] == phones
    assert not said.guessed


@pytest.mark.parametrize(
    ("name", "phones"),
    [
        ("kestrel", "K EH S T R AH L"),
        ("quillford", "K W IH L F ER D"),
        ("thornby", "TH AO R N B IY"),
    ],
)
def test_an_unknown_name_is_guessed_from_its_letters_and_marked_so(name, phones):
    """Sources: Merriam-Webster for kestrel; the others by English spelling, from memory."""
    said = pronounce(name)

    assert phones in said.phones
    assert said.guessed


def test_accents_change_no_guess():
    assert pronounce("málaga").phones == pronounce("malaga").phones


def test_letters_say_known_phones_alone():
    said = {phone for phones in load_letters().table.values() for phone in phones}

    assert said <= PHONES
    assert len(said) == len(PHONES)


def test_a_name_without_letters_is_refused_with_what_to_do():
    with pytest.raises(InputError, match=r"lexicon"):
        pronounce("北京")


def test_an_operators_lexicon_says_its_own_names(tmp_path):
    lexicon = tmp_path / "own.dict"
    lexicon.write_text("kestrel K AA S T\nrunway R AH N\n", "utf-8")

    said = pronunciations(["kestrel", "dublin", "taxi"], GRAMMAR, [lexicon])

    assert {name: one.phones[0] for name, one in said.items()} == {
        "kestrel": "K AA S T",
        "dublin": "D AH B L IH N",
    }


def test_a_list_of_names_is_read_a_word_a_line(tmp_path):
    path = tmp_path / "own.names"
    path.write_text("# places\nQuillford\n\nKestrel\nkestrel\n", "utf-8")

    assert load_names(path) == ("quillford", "kestrel")


@pytest.mark.parametrize("text", ["Port Ellery\n", "27L\n"])
def test_a_line_of_more_than_a_word_is_told_with_its_number(tmp_path, text):
    path = tmp_path / "own.names"
    path.write_text("Kestrel\n" + text, "utf-8")

    with pytest.raises(GrammarError, match="line 2"):
        load_names(path)
