"""Words around a call that turn it round; pairs written by hand, common practice, no source."""

import pytest

from readback.judging.check import check
from readback.judging.model import Outcome, Severity

CROSS = "Larkspur 421, cross runway 14"
HOLD = "Larkspur 421, hold short of runway 27L"


def verdict(instruction, readback):
    return check(instruction, readback).verdict


@pytest.mark.parametrize(
    "readback",
    [
        "can we cross runway 14",
        "may we cross runway 14",
        "are we cleared to cross runway 14",
        "did you say cross runway 14",
        "was that cross runway 14",
        "confirm cross runway 14",
        "ready to cross runway 14",
        "waiting to cross runway 14",
        "requesting to cross runway 14",
        "holding until cleared to cross runway 14",
        "if able cross runway 14",
        "past the cross runway 14",
    ],
)
def test_a_question_or_a_wish_is_no_readback(readback):
    judged = check(CROSS, f"{readback}, Larkspur 421")

    assert judged.verdict != Outcome.CORRECT
    assert ("cross", "runway", "missing") in {
        (finding.call, finding.element, finding.status) for finding in judged.mistakes
    }


@pytest.mark.parametrize(
    "readback",
    [
        "we are crossing runway 14",
        "okay we're crossing runway 14 now",
        "roger, cross runway 14",
        "cleared to cross 14",
        "confirm cross runway 14? Crossing runway 14",
        "crossing runway 14, are we to expedite",
    ],
)
def test_words_around_a_readback_do_not_make_it_a_question(readback):
    assert verdict(CROSS, f"{readback}, Larkspur 421") == Outcome.CORRECT


@pytest.mark.parametrize(
    ("instruction", "readback"),
    [
        (HOLD, "not holding short runway 27L, Larkspur 421"),
        ("Larkspur 421, hold position", "not holding position, Larkspur 421"),
        (CROSS, "we won't cross runway 14, Larkspur 421"),
        (CROSS, "we cannot cross runway 14, Larkspur 421"),
        (CROSS, "we will not be crossing runway 14, Larkspur 421"),
    ],
)
def test_a_denied_readback_is_not_passed(instruction, readback):
    assert verdict(instruction, readback) != Outcome.CORRECT


@pytest.mark.parametrize(
    ("readback", "expected"),
    [
        ("crossing runway 14, Larkspur 421", Outcome.INCORRECT),
        ("roger, Larkspur 421", Outcome.INCOMPLETE),
        ("will not cross runway 14, Larkspur 421", Outcome.CORRECT),
        ("holding short of runway 14, Larkspur 421", Outcome.CORRECT),
        ("holding short of runway 15, Larkspur 421", Outcome.INCORRECT),
    ],
)
def test_do_not_cross_is_a_hold_short(readback, expected):
    judged = check("Larkspur 421, do not cross runway 14", readback)

    assert judged.verdict == expected
    assert not any("not understood" in finding.message for finding in judged.findings)


def test_a_hold_short_may_be_said_twice_over():
    instruction = "Larkspur 421, hold short of runway 14, do not cross"

    assert verdict(instruction, "holding short of runway 14, Larkspur 421") == Outcome.CORRECT
    assert verdict(instruction, "crossing runway 14, Larkspur 421") == Outcome.INCORRECT


def test_what_is_forbidden_and_not_known_is_not_judged():
    judged = check("Larkspur 421, do not expedite, hold position", "holding, Larkspur 421")

    assert judged.verdict == Outcome.SAY_AGAIN
    assert judged.mistakes[0].severity is Severity.REQUIRED
    assert judged.mistakes[0].instruction_span == (4, 5)


@pytest.mark.parametrize(
    ("instruction", "readback", "expected"),
    [
        ("report when ready to cross runway 14", "wilco", Outcome.CORRECT),
        ("before crossing runway 14 contact tower 118.7", "contact tower 118.7", Outcome.CORRECT),
        (
            "before crossing runway 14 contact tower 118.7",
            "contact tower 118.7, crossing runway 14",
            Outcome.INCORRECT,
        ),
    ],
)
def test_what_comes_only_later_is_not_instructed(instruction, readback, expected):
    assert verdict(f"Larkspur 421, {instruction}", f"{readback}, Larkspur 421") == expected


def test_not_ready_answers_no():
    question = "Larkspur 421, are you ready for immediate departure"

    judged = check(question, "not ready yet, Larkspur 421")

    assert judged.verdict == Outcome.CORRECT
    assert [call.name for call in judged.readback.calls] == ["ready", "callsign"]


@pytest.mark.parametrize("side", ["27L or right", "27 left right", "27L or R", "27 left or right"])
def test_two_sides_of_one_runway_are_not_certain(side):
    assert verdict(HOLD, f"holding short of runway {side}, Larkspur 421") == Outcome.SAY_AGAIN


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("27, 27 left", Outcome.CORRECT),
        ("27, 27 right", Outcome.INCORRECT),
        ("26, 27 left", Outcome.INCORRECT),
    ],
)
def test_a_runway_begun_twice_is_the_whole_one(said, expected):
    assert verdict(HOLD, f"holding short of runway {said}, Larkspur 421") == expected


@pytest.mark.parametrize("word", ["no", "negative", "sorry"])
def test_no_takes_back_what_follows_replaces(word):
    right = f"holding short of runway 27R, {word}, 27L, Larkspur 421"
    wrong = f"holding short of runway 27L, {word}, 27R, Larkspur 421"

    assert verdict(HOLD, right) == Outcome.CORRECT
    assert verdict(HOLD, wrong) == Outcome.INCORRECT


def test_a_push_back_with_its_nose_is_a_push_back():
    instruction = "push back approved, nose south"

    assert verdict(instruction, "push back, nose south") == Outcome.CORRECT
    assert verdict(instruction, "push back, nose north") == Outcome.INCORRECT
    assert verdict(instruction, "nose south") == Outcome.INCOMPLETE


def test_a_name_typed_in_capitals_with_its_number_is_a_callsign():
    readback = "HOLDING SHORT RWY 27L LARKSPUR421"

    assert verdict(HOLD, readback) == Outcome.CORRECT
