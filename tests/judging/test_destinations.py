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
