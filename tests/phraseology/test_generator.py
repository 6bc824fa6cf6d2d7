import random
from itertools import pairwise

import pytest

from readback.errors import InputError
from readback.phraseology.callsigns import read_callsign
from readback.phraseology.forms import callsign_forms, value_forms
from readback.phraseology.generator import element_rules, element_sets, say_call, say_calls
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.phraseology.samples import random_callsign, random_value
from readback.phraseology.values import AUTHORITIES, DIGITS, KINDS, same_value

GRAMMAR = load_grammar()
EVERY_CALL = tuple(
    (call, elements) for call in GRAMMAR.calls for elements in element_sets(GRAMMAR, call)
)
EVERY_ELEMENT = tuple(dict.fromkeys(rule.split("__")[0] for rule in GRAMMAR.elements))
TIMES = 10


def drawn(elements, rng):
    return {
        name: random_callsign(rng) if name == "callsign" else random_value(GRAMMAR, name, rng)
        for name in elements
    }


def same(element, value):
    return element.value == value or (
        element.kind in KINDS and same_value(element.kind, element.value, value)
    )


@pytest.mark.parametrize("authority", AUTHORITIES)
@pytest.mark.parametrize(("call", "elements"), EVERY_CALL, ids=lambda item: str(item))
def test_what_is_generated_parses_back(call, elements, authority):
    rng = random.Random(f"{call} {elements} {authority}")
    for _ in range(TIMES):
        values = drawn(elements, rng)

        words = say_call(GRAMMAR, call, values, rng, authority)

        reading = parse(" ".join(words), GRAMMAR)
        assert [found.name for found in reading.calls] == [call], words
        assert reading.unparsed == (), words
        found = {element.name: element for element in reading.calls[0].elements}
        assert found.keys() == values.keys(), words
        assert all(same(found[name], value) for name, value in values.items()), words


def test_no_article_is_left_without_its_noun():
    rng = random.Random(11)
    said = [
        words
        for call, elements in EVERY_CALL
        for _ in range(60)
        for words in (say_call(GRAMMAR, call, drawn(elements, rng), rng),)
    ]

    assert any("the" in words for words in said)
    for words in said:
        assert words[-1] not in ("the", "to", "my", "your"), words
        after = [later for word, later in pairwise(words) if word == "the"]
        assert not {"at", "on", "via", *DIGITS}.intersection(after), words


def test_every_call_of_the_grammar_is_generated():
    covered = {call for call, _ in EVERY_CALL}

    assert covered == set(GRAMMAR.calls)
    assert len(EVERY_CALL) * len(AUTHORITIES) * TIMES > 5_000


def test_every_element_is_carried_by_a_call():
    carried = {name for _, elements in EVERY_CALL for name in elements}

    assert carried >= set(EVERY_ELEMENT)


def test_equal_seeds_say_equal_words():
    values = {"runway": "27L", "intersection": "A1"}

    first = say_call(GRAMMAR, "line_up", values, random.Random(5))
    second = say_call(GRAMMAR, "line_up", values, random.Random(5))

    assert first == second


def test_the_wordings_of_a_call_vary():
    said = {
        " ".join(say_call(GRAMMAR, "cross", {"runway": "27L"}, random.Random(seed)))
        for seed in range(100)
    }

    assert len(said) > 8
    assert all("two seven left" in text for text in said)


def test_parsed_calls_are_said_again():
    reading = parse("Larkspur 421, taxi via A, B, hold short of runway 27L", GRAMMAR)

    again = parse(say_calls(GRAMMAR, reading.calls, random.Random(1)), GRAMMAR)

    def carried(calls):
        return [(call.name, [(e.name, e.value) for e in call.elements]) for call in calls]

    assert carried(again.calls) == carried(reading.calls)


@pytest.mark.parametrize(
    ("call", "values"),
    [
        ("no_such_call", {}),
        ("hold_short", {"runway": "27L", "qnh": "1013"}),
        ("qnh", {}),
        ("callsign", {}),
        ("callsign", {"callsign": "ZEPPELIN-?"}),
        ("qnh", {"qnh": "27L"}),
        ("bypass_pin", {"pin_state": "bent"}),
    ],
)
def test_what_cannot_be_said_is_an_input_error(call, values):
    with pytest.raises(InputError):
        say_call(GRAMMAR, call, values, random.Random(1))


@pytest.mark.parametrize("element", EVERY_ELEMENT)
@pytest.mark.parametrize("authority", AUTHORITIES)
def test_random_values_can_be_said(element, authority):
    rng = random.Random(element)
    rules = element_rules(GRAMMAR, element)
    for _ in range(50):
        value = random_value(GRAMMAR, element, rng)

        assert any(value_forms(GRAMMAR, rule, value, authority) for rule in rules), value


def test_an_unknown_element_is_an_input_error():
    with pytest.raises(InputError, match="No element 'colour'"):
        random_value(GRAMMAR, "colour", random.Random(1))


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_callsigns_read_back(authority):
    rng = random.Random(authority)
    for _ in range(500):
        callsign = random_callsign(rng)

        forms = callsign_forms(GRAMMAR, callsign, authority)

        assert forms
        assert {read_callsign(tuple(form.split())) for form in forms} == {callsign}


# FAA AIM 4-2-4 a5: flight numbers in group form; ICAO Annex 10 Vol II 5.2.1.4.1.1: by digits.
@pytest.mark.parametrize(
    ("authority", "form"),
    [("faa", "larkspur four fifty two"), ("icao", "larkspur four five two")],
)
def test_a_callsign_starts_with_the_standard_form(authority, form):
    assert callsign_forms(GRAMMAR, "LARKSPUR 452", authority)[0] == form


# ICAO Annex 10 Vol II 5.2.1.4.1.1 says two digits; FAA JO 7110.65 2-4-3 no leading zero.
@pytest.mark.parametrize(
    ("authority", "forms"), [("icao", {"zero nine left"}), ("faa", {"nine left"})]
)
def test_a_runway_is_said_in_the_authority_way(authority, forms):
    said = {
        " ".join(say_call(GRAMMAR, "runway", {"runway": "09L"}, random.Random(seed), authority))
        for seed in range(30)
    }

    assert {text.partition("runway ")[2].removesuffix(" in use") for text in said} == forms
