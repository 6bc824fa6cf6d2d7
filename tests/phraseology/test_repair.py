"""Words one or two letters off, words that sound like values, and English that is no call."""

from pathlib import Path

import pytest

from readback.judging.rules import load_rules
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.phraseology.repair import near_misses
from readback.phraseology.values import DIGITS, LETTERS
from readback.phraseology.words import ordinary_words

GRAMMAR = load_grammar()
ENGLISH = (Path(__file__).parents[1] / "data" / "ordinary_english.txt").read_text(encoding="utf-8")
VALUES = (*DIGITS, *LETTERS, "left", "right", "centre")


def element(text, call, name):
    found = next(found for found in parse(text, GRAMMAR).calls if found.name == call)
    return found.element(name)


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        # Letters left out, doubled, changed or swapped: made up.
        ("holdng", "holding"),
        ("corssing", "crossing"),
        ("runwya", "runway"),
        ("taxxi", "taxi"),
        ("larkspr", "larkspur"),
        ("instaled", "installed"),
        ("diconnect", "disconnect"),
        ("frequancy", "frequency"),
        ("contac", "contact"),
        # Written as it sounds.
        ("chox", "chocks"),
        ("squork", "squawk"),
        ("wiskey", "whiskey"),
        ("nien", "nine"),
    ],
)
def test_a_slip_is_taken_for_the_word_meant(slip, meant):
    assert near_misses(slip, GRAMMAR)[0].word == meant


@pytest.mark.parametrize("word", ["xqzvt", "ab", "b2", "", "hello!", "kjfdhg"])
def test_a_word_near_to_none_is_left_alone(word):
    assert near_misses(word, GRAMMAR) == ()


@pytest.mark.parametrize("word", sorted(ordinary_words())[::40])
def test_ordinary_english_is_never_repaired(word):
    assert near_misses(word, GRAMMAR) == ()


@pytest.mark.parametrize("value", VALUES)
def test_a_value_is_never_repaired_into_another(value):
    for other in VALUES:
        assert parse(f"{other} {value} {other}", GRAMMAR).repairs == (), other


def test_a_repair_is_marked_with_its_span():
    reading = parse("holdng short of runway two seven", GRAMMAR)

    assert [(item.span, item.said, item.taken_as) for item in reading.repairs] == [
        ((0, 1), "holdng", "holding")
    ]
    assert reading.calls[0].name == "hold_short"


def test_a_value_word_with_another_as_near_is_doubtful():
    # One letter off eight, two off right.
    found = element("cross runway two eigth", "cross", "runway")

    assert (found.value, found.doubtful) == ("28", True)


@pytest.mark.parametrize(
    ("text", "call", "name", "value", "doubtful"),
    [
        # two, too, to
        ("hold short of runway two seven left", "hold_short", "runway", "27L", False),
        ("hold short of runway too seven left", "hold_short", "runway", "27L", False),
        ("hold short of runway to seven left", "hold_short", "runway", "27L", False),
        ("taxi to holding point bravo too", "taxi", "holding_point", "B2", False),
        ("taxi to holding point bravo to", "taxi", "holding_point", "B2", True),
        ("taxi via alfa to bravo", "taxi", "route", "A2 B", True),
        ("taxi to stand to", "taxi", "stand", "2", True),
        ("taxi to stand two", "taxi", "stand", "2", False),
        ("hold short of runway two seven to", "hold_short", "runway", "27", False),
        # four, for
        ("squawk for three one two", "squawk", "squawk", "4312", False),
        ("hold short of runway two for", "hold_short", "runway", "24", True),
        ("hold short of runway two four", "hold_short", "runway", "24", False),
        ("expect departure at for niner", "expect_departure", "time", "49", False),
        ("taxi via hotel for runway two seven", "taxi", "route", "H", False),
        # nine, niner, none, nein
        ("cross runway two nine", "cross", "runway", "29", False),
        ("cross runway two niner", "cross", "runway", "29", False),
        ("cross runway two none", "cross", "runway", "29", True),
        ("cross runway two fine", "cross", "runway", "25", True),
        ("cross runway two fife", "cross", "runway", "25", False),
        # right, write; hold, old; others that only sound alike
        ("cross runway two seven right", "cross", "runway", "27R", False),
        ("cross runway two seven write", "cross", "runway", "27R", False),
        ("old short of runway two seven", "hold_short", "runway", "27", False),
        ("contact tower one won ate decimal seven", "contact", "frequency", "118.700", False),
        ("runway tow seven", "runway", "runway", "27", True),
        ("confirm breaks released", "brakes_order", "brake_state", "released", False),
        ("steering bypass pen removed", "bypass_pin", "pin_state", "removed", False),
    ],
)
def test_words_that_sound_like_values(text, call, name, value, doubtful):
    found = element(text, call, name)

    assert (found.value, found.doubtful) == (value, doubtful)


@pytest.mark.parametrize("text", ["old", "old old", "hodl", "waiter recited"])
def test_repaired_words_alone_make_no_instruction(text):
    assert [call.name for call in parse(text, GRAMMAR).calls] == []


@pytest.mark.parametrize(("text", "call"), [("rogre", "roger"), ("afirm", "affirm")])
def test_a_mere_answer_may_be_misspelt(text, call):
    assert [found.name for found in parse(text, GRAMMAR).calls] == [call]


def _clearances_by_repair(text):
    """Calls that must not be said without instruction and hold a repaired word."""
    rules = load_rules("icao")
    reading = parse(text, GRAMMAR)
    found = []
    for call in reading.calls:
        rule = rules.rule(call.name)
        if rule is None or (rule.unissued is None and rule.answer == "none"):
            continue
        if any(call.span[0] <= item.span[0] < call.span[1] for item in reading.repairs):
            if any(part.doubtful for part in call.elements):
                continue
            found.append((call.name, text))
    return found


def test_two_hundred_english_sentences_hold_no_repaired_clearance():
    """Public-domain prose (Dickens, Carroll, Austen, Twain and others, from memory) and our own."""
    lines = ENGLISH.splitlines()

    assert len(lines) >= 200
    assert [found for line in lines for found in _clearances_by_repair(line)] == []


def test_a_long_english_text_holds_no_repaired_clearance():
    assert _clearances_by_repair(ENGLISH) == []


def test_english_holds_no_runway_clearance_at_all():
    named = {call.name for call in parse(ENGLISH, GRAMMAR).calls}

    assert named.isdisjoint(
        {"hold_short", "cross", "line_up", "enter_runway", "backtrack", "take_off", "land"}
    )
