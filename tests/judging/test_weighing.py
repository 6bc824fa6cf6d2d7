"""Verdicts over all readings of a sound, each with its probability."""

import pytest

from readback.judging.check import check
from readback.judging.model import Outcome, Status
from readback.transmission import Alternative, Transmission, Word

INSTRUCTION = "Larkspur 421, hold short of runway 27 left"
RIGHT = "holding short of runway two seven left larkspur four two one"
WRONG = "holding short of runway two seven right larkspur four two one"


def heard(*alternatives, certainty=1.0):
    """A transmission of readings: (text, probability), or (text, probability, same sound)."""
    readings = tuple(
        Alternative(
            words=tuple(text.split()),
            probability=probability,
            same_sound=tuple(tuple(other.split()) for other in same),
        )
        for text, probability, *same in alternatives
    )
    words = tuple(Word(word=word, certainty=certainty) for word in readings[0].words)
    return Transmission(words=words, alternatives=readings)


def verdict(*alternatives, instruction=INSTRUCTION, least=0.8, certainty=1.0):
    return check(instruction, heard(*alternatives, certainty=certainty), least_certainty=least)


@pytest.mark.parametrize(
    ("alternatives", "expected"),
    [
        ([(RIGHT, 1.0)], Outcome.CORRECT),
        ([(RIGHT, 0.95), (WRONG, 0.05)], Outcome.CORRECT),
        ([(RIGHT, 0.7), (WRONG, 0.3)], Outcome.SAY_AGAIN),
        ([(WRONG, 0.7), (RIGHT, 0.3)], Outcome.SAY_AGAIN),
        ([(WRONG, 0.98), (RIGHT, 0.02)], Outcome.SAY_AGAIN),
        ([(WRONG, 0.99), (RIGHT, 0.01)], Outcome.INCORRECT),
    ],
)
def test_verdict_is_the_one_that_is_probable_enough(alternatives, expected):
    assert verdict(*alternatives).verdict is expected


@pytest.mark.parametrize("instruction", ["slow down", "stand by for push back"])
def test_a_callsign_beside_speech_in_no_word_acknowledges_nothing(instruction):
    callsign = heard(("larkspur four two one", 1.0))
    beside = callsign.model_copy(
        update={
            "alternatives": tuple(
                one.model_copy(update={"unheard": True}) for one in callsign.alternatives
            )
        }
    )

    for said, expected in ((callsign, Outcome.CORRECT), (beside, Outcome.SAY_AGAIN)):
        found = check(f"Larkspur 421, {instruction}", said, least_certainty=0.8)
        assert found.verdict is expected


def test_readings_that_mean_the_same_count_together():
    variants = [
        (RIGHT, 0.4),
        (RIGHT.replace("holding", "hold"), 0.4),
        (RIGHT.replace("short of runway", "short of the runway"), 0.2),
    ]

    assert verdict(*variants).verdict is Outcome.CORRECT


def test_say_again_names_the_element_that_was_unclear():
    findings = verdict((RIGHT, 0.6), (WRONG, 0.4)).findings

    unclear = [(f.call, f.element) for f in findings if f.status is Status.NOT_CERTAIN]
    assert unclear == [("hold_short", "runway")]


def test_element_is_as_certain_as_its_value_over_all_readings():
    variant = RIGHT.replace("holding", "hold")
    readings = heard((RIGHT, 0.5), (variant, 0.3), (WRONG, 0.2), certainty=0.95)

    calls = check(INSTRUCTION, readings).readback.calls

    certainties = {e.value: e.certainty for call in calls for e in call.elements}
    assert certainties == {"27L": pytest.approx(0.8), "LARKSPUR 421": pytest.approx(0.95)}


def test_accusation_wants_one_finding_that_is_certain():
    # Wrong in any case, but each reading hears another runway: nothing is certain but the noise.
    runways = ["two seven right", "one seven left", "two zero left"]
    readings = [(RIGHT.replace("two seven left", runway), 1 / 3) for runway in runways]

    assert verdict(*readings).verdict is Outcome.SAY_AGAIN


def test_accusation_wants_words_that_are_certain():
    assert verdict((WRONG, 1.0), certainty=0.95).verdict is Outcome.INCORRECT
    assert verdict((WRONG, 1.0), certainty=0.6).verdict is Outcome.SAY_AGAIN


def test_missing_element_wants_all_words_to_be_certain():
    short = "larkspur four two one"

    assert verdict((short, 1.0), certainty=0.95).verdict is Outcome.INCOMPLETE
    assert verdict((short, 1.0), certainty=0.6).verdict is Outcome.SAY_AGAIN


def test_reading_with_the_missing_words_makes_missing_uncertain():
    short = "larkspur four two one"

    assert verdict((short, 0.9), (RIGHT, 0.1)).verdict is Outcome.SAY_AGAIN


def test_speech_in_no_word_may_be_what_is_missing():
    short = tuple("larkspur four two one".split())
    words = tuple(Word(word=word, certainty=1.0) for word in short)
    alternative = Alternative(words=short, probability=1.0, unheard=True)
    said = Transmission(words=words, alternatives=(alternative,))

    assert check(INSTRUCTION, said, least_certainty=0.8).verdict is Outcome.SAY_AGAIN


def test_critical_call_is_passed_with_less_doubt_than_others():
    squawk = "Larkspur 421, squawk 4721"
    right = "squawk four seven two one larkspur four two one"
    wrong = "squawk four seven two two larkspur four two one"

    assert verdict((right, 0.85), (wrong, 0.15), instruction=squawk).verdict is Outcome.CORRECT
    assert verdict((RIGHT, 0.85), (WRONG, 0.15)).verdict is Outcome.SAY_AGAIN


@pytest.mark.parametrize("first", ["for", "four"])
def test_what_sounds_like_the_right_words_is_taken_for_them(first):
    second = {"for": "four", "four": "for"}[first]
    text = "taxi via hotel six {} runway two seven larkspur four two one"

    outcome = verdict(
        (text.format(first), 1.0, text.format(second)),
        instruction="Larkspur 421, taxi via hotel 6, runway 27",
    ).verdict

    assert outcome is Outcome.CORRECT


def test_instruction_misheard_makes_no_right_readback_wrong():
    instructed = "larkspur four two one hold short of runway two seven {}"
    instruction = heard((instructed.format("left"), 0.6), (instructed.format("right"), 0.4))

    outcome = check(instruction, heard((WRONG, 1.0)), least_certainty=0.8).verdict

    assert outcome is Outcome.SAY_AGAIN


def test_times_of_words_are_kept_in_the_reading_that_is_judged():
    words = tuple(Word(word=w, start=i, end=i + 1) for i, w in enumerate(WRONG.split()))
    readings = (
        Alternative(words=tuple(WRONG.split()), probability=0.05),
        Alternative(words=tuple(RIGHT.split()), probability=0.95),
    )

    said = check(
        INSTRUCTION, Transmission(words=words, alternatives=readings), least_certainty=0.8
    ).readback

    assert said.text == RIGHT
    assert [word.start for word in said.words] == [0, 1, 2, 3, 4, 5, None, 7, 8, 9, 10]


def test_least_certainty_of_zero_takes_the_best_reading():
    assert verdict((WRONG, 0.51), (RIGHT, 0.49), least=0.0).verdict is Outcome.INCORRECT


def test_parts_of_one_transmission_are_joined_with_all_their_readings():
    first = heard(("holding short of runway two seven", 0.6), ("hold short runway two six", 0.4))
    second = heard(("left larkspur four two one", 0.9), ("right larkspur four two one", 0.1))

    joined = first.followed_by(second)

    assert [round(one.probability, 2) for one in joined.alternatives] == [0.54, 0.36, 0.06, 0.04]
    assert joined.alternatives[0].words == (
        *first.alternatives[0].words,
        "left",
        *"larkspur four two one".split(),
    )


def test_typed_words_join_without_alternatives():
    joined = Transmission.typed("hold short").followed_by(Transmission.typed("runway 27"))

    assert (joined.text, joined.alternatives) == ("hold short runway 27", ())


@pytest.mark.parametrize(("unit", "expected"), [("tower", "correct"), ("<name>", "say again")])
def test_a_name_that_is_not_listened_for_is_not_passed(unit, expected):
    said = f"contacting {unit} one one eight decimal seven larkspur four two one"

    found = verdict((said, 1.0), instruction="Larkspur 421, contact tower 118.7")

    assert found.verdict.value == expected
