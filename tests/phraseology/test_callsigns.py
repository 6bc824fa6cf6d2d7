"""Callsigns in full and short, at either end; similar ones in one roster."""

import pytest

from readback.judging.check import check
from readback.phraseology.callsigns import (
    compare_callsigns,
    permitted_forms,
    read_callsign,
    similar_callsigns,
)
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse

GRAMMAR = load_grammar()


def found(text, callsigns=()):
    return [
        call.elements[0].value
        for call in parse(text, GRAMMAR, callsigns).calls
        if call.name == "callsign"
    ]


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("larkspur four two one", "LARKSPUR 421"),
        # Group form: FAA AIM 4-2-4 a5 (452 four fifty-two, 1004 ten zero four, 101 one zero one).
        ("bluefin four fifty two", "BLUEFIN 452"),
        ("bluefin ten zero four", "BLUEFIN 1004"),
        ("bluefin one zero one", "BLUEFIN 101"),
        ("larkspur four two one heavy", "LARKSPUR 421"),
        ("northgate one five alfa", "NORTHGATE 15A"),
        ("golf alfa bravo charlie delta", "G-ABCD"),
        ("golf charlie delta", "G-CD"),
        ("november one two three four alfa", "N1234A"),
        ("tug nine", "TUG 9"),
        ("tug twelve", "TUG 12"),
        ("fire two", "FIRE 2"),
    ],
)
def test_a_callsign_is_written_as_a_strip_has_it(words, value):
    assert read_callsign(tuple(words.split())) == value


@pytest.mark.parametrize("text", ["{}, hold position", "hold position, {}", "{} hold position {}"])
@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("Larkspur 421", "LARKSPUR 421"),
        ("Larkspur four twenty-one", "LARKSPUR 421"),
        ("G-ABCD", "G-ABCD"),
        ("Golf Charlie Delta", "G-CD"),
        ("N1234A", "N1234A"),
        ("Tug 9", "TUG 9"),
        ("Checker four", "CHECKER 4"),
        # Operators that the grammar does not have, of one word and of two.
        ("Fastair 345", "FASTAIR 345"),
        ("Coast Guard 12", "COAST GUARD 12"),
    ],
)
def test_a_callsign_stands_at_either_end(text, said, value):
    assert set(found(text.format(said, said))) == {value}


@pytest.mark.parametrize(
    ("callsign", "forms"),
    [
        # ICAO Annex 10 Vol II 5.2.1.7.2.2 (from memory); FAA AIM 4-2-4 a2.
        ("G-ABCD", {"golf alfa bravo charlie delta", "golf charlie delta"}),
        (
            "N1234A",
            {"november one two three four alfa", "november four alfa", "three four alfa"},
        ),
        ("LARKSPUR 421", {"larkspur four two one"}),
        ("TUG 9", {"tug nine"}),
    ],
)
def test_the_permitted_short_forms(callsign, forms):
    assert {" ".join(form) for form in permitted_forms(callsign)} == forms


@pytest.mark.parametrize(
    ("addressed", "heard", "expected"),
    [
        ("G-ABCD", "G-ABCD", "same"),
        ("G-ABCD", "G-CD", "short"),
        ("N1234A", "34A", "short"),
        ("G-CD", "G-CE", "other"),
        ("LARKSPUR 421", "421", "number only"),
        ("LARKSPUR 421", "LARKSPUR 412", "other"),
        ("LARKSPUR 421", "BLUEFIN 421", "other"),
        ("COAST GUARD 12", "COASTGUARD 12", "same"),
        ("TUG 9", "TUG 5", "other"),
    ],
)
def test_callsigns_are_compared(addressed, heard, expected):
    assert compare_callsigns(addressed, heard) == expected


@pytest.mark.parametrize(
    ("readback", "verdict"),
    [
        ("hold short runway two six, golf alfa bravo charlie delta", "correct"),
        ("golf alfa bravo charlie delta, hold short runway two six", "correct"),
        ("hold short runway two six, G-CD", "correct"),
        ("hold short runway two six, golf charlie echo", "incorrect"),
        ("hold short runway two six", "incomplete"),
    ],
)
def test_the_callsign_decides_too(readback, verdict):
    assert check("G-ABCD, hold short of runway 26", readback).verdict == verdict


def test_a_misspelt_operator_is_the_one_addressed():
    verdict = check("Fastair 345, cross runway 18", "crossing runway 18, Fastar 345")

    assert verdict.verdict == "correct"


@pytest.mark.parametrize(
    ("addressed", "heard"),
    [
        ("Northgate 8", "Northgate 80"),
        ("Northgate 8", "Northgate eight zero"),
        ("Larkspur 42", "Larkspur four two one"),
        ("Larkspur 42", "Larkspur 42A"),
        ("Tug 1", "Tug 12"),
        ("Golf Charlie Delta", "Golf Charlie Delta Echo"),
    ],
)
@pytest.mark.parametrize("text", ["crossing runway 18, {}", "{}, crossing runway 18"])
def test_a_callsign_that_goes_on_is_another(addressed, heard, text):
    verdict = check(f"{addressed}, cross runway 18", text.format(heard))

    assert verdict.verdict == "incorrect"


@pytest.mark.parametrize(
    "text", ["Larkspur 421, 121.8", "Larkspur four two one, one two one decimal eight"]
)
def test_a_frequency_after_a_callsign_is_not_part_of_it(text):
    assert check("Larkspur 421, contact ground 121.8", text).verdict == "correct"


def test_another_operator_with_the_same_number_is_wrong():
    verdict = check("Larkspur 421, cross runway 18", "crossing runway 18, Fastair 421")

    assert verdict.verdict == "incorrect"
    assert verdict.mistakes[0].call == "callsign"


@pytest.mark.parametrize(
    "text",
    [
        "going to cross runway one eight",
        "about two minutes",
        "sorry four three one two",
        "over to tower",
        "we are ready in ten minutes",
        "bicycle for forty pounds",
    ],
)
def test_ordinary_words_are_no_operators(text):
    assert found(text) == []


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        ("LARKSPUR 421", "BLUEFIN 421", "same number 421"),
        ("G-ABCD", "G-AXCD", "same short form golf charlie delta"),
        ("LARKSPUR 421", "LARKSPUR 412", "same signs in another order: 421, 412"),
        ("LARKSPUR 421", "LARKSPUR 423", "one sign apart: 421, 423"),
        ("LARKSPUR 1421", "LARKSPUR 721", "same last two signs 21"),
        ("BLUEFIN 73", "BLUEFIN 735", "73 is part of 735"),
        ("TUG 12", "OPS 12", "same number 12"),
    ],
)
def test_similar_callsigns_are_flagged(one, other, why):
    (pair,) = similar_callsigns([one, "QUILLFORD 889", other])

    assert (pair.one, pair.other, pair.why) == (one, other, why)
    assert pair.source


@pytest.mark.parametrize(
    "roster",
    [
        [],
        ["LARKSPUR 421"],
        ["LARKSPUR 421", "LARKSPUR 421"],
        ["LARKSPUR 421", "BLUEFIN 73", "G-ABCD", "TUG 9"],
        ["LARKSPUR 421", "LARKSPUR 867"],
    ],
)
def test_callsigns_that_differ_are_not_flagged(roster):
    assert similar_callsigns(roster) == []


def test_every_similar_pair_is_flagged_once():
    pairs = similar_callsigns(["LARKSPUR 421", "LARKSPUR 412", "BLUEFIN 421"])

    assert [(pair.one, pair.other) for pair in pairs] == [
        ("LARKSPUR 421", "LARKSPUR 412"),
        ("LARKSPUR 421", "BLUEFIN 421"),
    ]
