"""Engines named at a start, whose numbers must come back.

Sources: ICAO Doc 4444 (PANS-ATM), 16th edition 2016, 12.7.1.1 (STARTING NUMBER with the engine;
seen) and ICAO Doc 9432, 4th edition 2007, 4.2.3 (either seat names the engine; seen as quoted). The
other wordings are common practice, no source.
"""

import pytest

from readback.judging.check import check
from readback.judging.model import Outcome
from readback.transmission import Transmission, Word

ONE = [
    "clear to start engine number two",
    "clear to start engines two",
    "clear to start engines number two",
    "clear to start engine no. 2",
    "clear to start the number two engine",
    "clear to start up engine two",
    "clear to start beginning with two",
    "clear to start, starting with number two",
    "cleared to start on engine two",
    "push back complete, clear to start engines two",
    "starting the number two engine",
    "are you ready to start engine two",
    "are you ready to start up number two",
]
SEVERAL = [
    "clear to start engines two and one",
    "clear to start engine two then one",
    "clear to start engines in order two one",
    "clear to start engine two, then engine one",
    "start engine two followed by engine one",
    "clear to start number two and number one",
    "clear to start engine two first then one",
    "start order two one",
]
WITHOUT = ["starting", "starting engines", "clear to start", "roger, ready to start engines"]


@pytest.mark.parametrize("readback", WITHOUT)
@pytest.mark.parametrize("instruction", [*ONE, *SEVERAL])
def test_a_start_read_back_without_its_engines_is_not_correct(instruction, readback):
    assert check(instruction, readback).verdict != Outcome.CORRECT


@pytest.mark.parametrize("readback", ["starting number two", "starting the number two engine"])
@pytest.mark.parametrize("instruction", ONE)
def test_the_engine_named_answers_the_start(instruction, readback):
    words = f"push back complete, {readback}" if "push back" in instruction else readback

    assert check(instruction, words).verdict == Outcome.CORRECT


@pytest.mark.parametrize("instruction", ONE)
def test_another_engine_is_wrong(instruction):
    verdict = check(instruction, "starting number one")

    assert (verdict.verdict, verdict.mistakes[-1].element) == (Outcome.INCORRECT, "engine")


@pytest.mark.parametrize(
    "readback",
    ["starting two then one", "start order two one", "clear to start engine two, then engine one"],
)
@pytest.mark.parametrize("instruction", SEVERAL)
def test_the_order_answers_the_start(instruction, readback):
    assert check(instruction, readback).verdict == Outcome.CORRECT


@pytest.mark.parametrize("readback", ["starting number two", "starting one and two"])
@pytest.mark.parametrize("instruction", SEVERAL)
def test_one_of_them_or_another_order_is_no_answer(instruction, readback):
    assert check(instruction, readback).verdict != Outcome.CORRECT


@pytest.mark.parametrize("answer", ["negative", "stand by"])
def test_a_question_that_names_an_engine_may_be_put_off(answer):
    assert check("are you ready to start engine two", answer).verdict == Outcome.CORRECT


@pytest.mark.parametrize(
    "instruction",
    [
        "clear to start",
        "clear to start engines",
        "clear to start in two minutes",
        "clear to start, number two for departure",
    ],
)
def test_a_start_that_names_no_engine_is_answered_by_starting(instruction):
    assert check(instruction, "starting").verdict == Outcome.CORRECT


def test_a_callsign_is_no_engine():
    verdict = check("clear to start, tug two", "starting, tug two")

    assert verdict.verdict == Outcome.CORRECT
    assert "engine" not in {finding.element for finding in verdict.findings}


def test_an_engine_hardly_heard_is_not_judged():
    words = [("starting", 0.9), ("the", 0.9), ("number", 0.9), ("one", 0.2), ("engine", 0.9)]
    heard = Transmission(
        words=tuple(
            Word(word=word, start=at, end=at + 1, certainty=certainty)
            for at, (word, certainty) in enumerate(words)
        )
    )

    verdict = check("clear to start engines two", heard, least_certainty=0.5)

    assert verdict.verdict == Outcome.SAY_AGAIN


def test_what_is_told_points_at_the_engine():
    verdict = check("clear to start engine two, then engine one", "starting two")

    missing = next(item for item in verdict.mistakes if item.element == "engine_sequence")
    assert missing.expected == "2 1"
    assert missing.instruction_span == (4, 8)
