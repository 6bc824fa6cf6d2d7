"""Other traffic and what it does.

Source: the condition of a conditional clearance is read back, ICAO Doc 9870, 1st edition 2007,
Appendix A, 2.5-2.7; the sides are common practice, no source.
"""

import pytest

from readback.judging.check import check
from readback.judging.model import Outcome

LINE_UP = "line up runway 09 behind"


@pytest.mark.parametrize(
    ("instruction", "readback"),
    [
        ("give way to the Boeing from your left", "giving way to the Boeing from the right"),
        ("give way to the Airbus on your right", "giving way to the Airbus on my left"),
        (
            "give way to the Boeing passing left to right",
            "giving way to the Boeing passing right to left",
        ),
        (f"behind the Boeing landing, {LINE_UP}", f"behind the Boeing departing, {LINE_UP}"),
        (f"behind the landing Airbus, {LINE_UP}", f"behind the landing Boeing, {LINE_UP}"),
        (
            f"behind the Boeing on two mile final, {LINE_UP}",
            f"behind the Boeing on four mile final, {LINE_UP}",
        ),
    ],
)
def test_other_traffic_is_wrong(instruction, readback):
    verdict = check(f"Larkspur 421, {instruction}", f"{readback}, Larkspur 421")

    assert verdict.verdict == Outcome.INCORRECT
    assert [finding.element for finding in verdict.mistakes] == ["traffic"]
    assert verdict.mistakes[0].expected != verdict.mistakes[0].heard


@pytest.mark.parametrize(
    ("instruction", "readback"),
    [
        ("give way to the Boeing from your left", "giving way to the Boeing"),
        ("give way to the Boeing from your left", "giving way to the Boeing on my left"),
        ("give way to the Boeing passing left to right", "giving way to the Boeing from the left"),
        (f"behind the landing Boeing, {LINE_UP}", f"behind the landing 737, {LINE_UP}"),
        (
            f"behind the Boeing on two mile final, {LINE_UP}",
            f"behind the Boeing on short final, {LINE_UP}",
        ),
    ],
)
def test_the_same_traffic_in_fewer_or_other_words_is_right(instruction, readback):
    verdict = check(f"Larkspur 421, {instruction}", f"{readback}, Larkspur 421")

    assert verdict.verdict == Outcome.CORRECT
