import pytest

from readback.records.describing import describe_time


@pytest.mark.parametrize(
    ("seconds", "tenths", "clock"),
    [
        (None, "00:00.0", "00:00"),
        (7.26, "00:07.3", "00:07"),
        (59.96, "01:00.0", "00:59"),
        (3599.99, "1:00:00.0", "59:59"),
        (3725.4, "1:02:05.4", "1:02:05"),
    ],
)
def test_a_time_is_rounded_to_tenths_or_a_second_is_over(seconds, tenths, clock):
    assert describe_time(seconds) == tenths
    assert describe_time(seconds, tenths=False) == clock
