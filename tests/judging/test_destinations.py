"""A holding point named with or without the word; common practice, no source."""

import pytest

from readback.judging.check import check
from readback.judging.model import Outcome

NAMED = "Larkspur 421, taxi to holding point C1 via D C"
BARE = "Larkspur 421, taxi C1 via D C"


@pytest.mark.parametrize("instruction", [NAMED, BARE])
@pytest.mark.parametrize(
    "readback",
    [
        "taxi C1 via D C",
        "taxi to holding point C1 via D C",
        "taxi holding point C1, D, C",
        "taxi C1, D, C",
    ],
)
def test_the_words_holding_point_change_nothing(instruction, readback):
    assert check(instruction, f"{readback}, Larkspur 421").verdict == Outcome.CORRECT


@pytest.mark.parametrize("instruction", [NAMED, BARE])
@pytest.mark.parametrize(
    "readback",
    [
        "taxi C2 via D C",
        "taxi C1 via C D",
        "taxi D1 via C C",
        "taxi to holding point C2 via D C",
        "taxi to holding point C1 via D",
    ],
)
def test_another_holding_point_or_route_is_not_passed(instruction, readback):
    assert check(instruction, f"{readback}, Larkspur 421").verdict != Outcome.CORRECT


def test_a_holding_point_alone_is_no_route():
    answer = "taxi C1, Larkspur 421"

    # ICAO wants the taxi route no more than acknowledged, the United Kingdom wants it read back.
    assert check(NAMED, answer).verdict == Outcome.CORRECT
    (left_out,) = check(NAMED, answer, authority="uk").mistakes
    assert (left_out.element, left_out.status) == ("route", "missing")


@pytest.mark.parametrize("instruction", [NAMED, "Larkspur 421, taxi to holding point D via D C"])
@pytest.mark.parametrize("point", ["C2", "D"])
def test_another_name_alone_is_a_wrong_route(instruction, point):
    assert check(instruction, f"taxi {point}, Larkspur 421").verdict == Outcome.INCORRECT
