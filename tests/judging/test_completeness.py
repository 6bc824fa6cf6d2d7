import pytest

from readback.judging.check import check
from readback.judging.completeness import is_complete

HOLD = "larkspur four two one hold short of runway two seven left"


# Read back in full is what must be read back, then the callsign: ICAO Doc 4444 4.5.7.5, Doc 9432
# 2.8.3.7. What may still come is common practice, no source.
@pytest.mark.parametrize(
    ("instruction", "heard", "complete"),
    [
        (HOLD, "", None),
        (HOLD, "holding short of", False),
        (HOLD, "holding short of runway two", False),
        (HOLD, "holding short of runway two seven left", False),
        (HOLD, "holding short of runway two seven left larkspur four two one", True),
        (HOLD, "holding short of runway two seven right larkspur four two one", True),
        (HOLD, "roger larkspur four two one", True),
        (HOLD, "larkspur four two one", False),
        (HOLD, "larkspur four two one holding short of runway two seven right", None),
        ("release brakes", "brakes released", True),
        ("set brakes", "brakes released", None),
    ],
)
def test_a_readback_is_complete_when_nothing_more_is_awaited(instruction, heard, complete):
    assert is_complete(check(instruction, heard)) is complete
