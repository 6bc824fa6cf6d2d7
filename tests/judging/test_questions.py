"""Answers to CONFIRM: the answer may rightly differ, after NEGATIVE.

Source: ICAO Doc 9432, 4th edition 2007, 2.6 (CONFIRM, NEGATIVE; seen as quoted); the calls of the
ramp are common practice, no source.
"""

import pytest

from readback.judging.check import check
from readback.judging.model import Outcome, Severity


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        ("confirm bypass pin installed", "bypass pin installed"),
        ("confirm steering pin removed", "pin removed"),
        ("confirm tow bar connected", "tow bar connected"),
        ("confirm chocks removed", "chocks are away"),
        ("confirm chocks removed", "affirm"),
    ],
)
def test_what_was_asked_about_answers_confirm(question, answer):
    assert check(question, answer).verdict == Outcome.CORRECT


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        ("confirm bypass pin installed", "bypass pin removed"),
        ("confirm tow bar disconnected", "tow bar connected"),
        ("confirm chocks removed", "chocks in place"),
        ("confirm brakes set", "brakes released"),
        ("release brakes", "negative, brakes set"),
        ("brakes set", "negative, brakes released"),
    ],
)
def test_another_state_without_a_question_and_negative_is_wrong(question, answer):
    assert check(question, answer).verdict == Outcome.INCORRECT


def test_roger_answers_no_question():
    assert check("confirm bypass pin installed", "roger").verdict == Outcome.INCOMPLETE


@pytest.mark.parametrize(
    ("question", "answer", "heard"),
    [
        ("confirm brakes set", "negative, brakes released", "released"),
        ("are the brakes released", "negative, brakes set", "set"),
        ("confirm chocks removed", "negative, chocks in place", "in"),
        ("confirm bypass pin removed", "negative, pin installed", "installed"),
    ],
)
def test_negative_and_another_state_answers_a_question(question, answer, heard):
    verdict = check(question, answer)

    (remark,) = [f for f in verdict.findings if f.severity is Severity.ADVISORY]
    assert verdict.verdict == Outcome.CORRECT
    assert f"NEGATIVE, {heard}" in remark.message
    assert not any(f.element and f.element.endswith("state") for f in verdict.findings)
