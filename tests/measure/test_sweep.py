import pytest

from readback.measure.statistics import Share
from readback.measure.sweep import Point, choose_point


def point(value, passed, rejected, again):
    return Point(
        point=value,
        passed=Share(count=passed, total=100),
        rejected=Share(count=rejected, total=100),
        caught=Share(count=100 - passed, total=100),
        say_again=Share(count=again, total=200),
    )


# Points as (least certainty, passed, rejected, say again) of 100, 100 and 200; costs by hand as
# rejected / 0.02 + say again / 0.08.
@pytest.mark.parametrize(
    ("curves", "chosen"),
    [
        # Passed at 0.0; then 1 + 0.56 against 0 + 5.6.
        ({"clean": [(0.0, 3, 0, 0), (0.5, 0, 2, 9), (0.9, 0, 0, 90)]}, 0.5),
        # 4.5 + 0.56 against 2.5 + 1.25: four repetitions for an accusation.
        ({"clean": [(0.0, 3, 1, 0), (0.5, 0, 9, 9), (0.9, 0, 5, 20)]}, 0.9),
        # Safe in every condition, not on average.
        (
            {
                "clean": [(0.0, 0, 0, 0), (0.5, 0, 0, 2)],
                "radio 0 dB": [(0.0, 1, 0, 0), (0.5, 0, 0, 70)],
            },
            0.5,
        ),
        # Of equal costs the lowest.
        ({"clean": [(0.0, 0, 0, 0), (0.5, 0, 0, 0)]}, 0.0),
        # Nothing is safe: as strict as can be.
        ({"clean": [(0.0, 9, 0, 0), (0.5, 5, 0, 9), (0.9, 2, 9, 90)]}, 0.9),
    ],
)
def test_the_threshold_holds_wrong_ones_passed_before_the_other_costs(curves, chosen):
    made = {name: [point(*values) for values in curve] for name, curve in curves.items()}

    assert choose_point(made) == chosen


def test_coverage_and_error_are_of_the_verdicts_given():
    one = point(0.5, passed=3, rejected=6, again=20)

    assert one.coverage == pytest.approx(0.9)
    assert one.error == pytest.approx(9 / 180)


def test_without_any_verdict_there_is_no_error():
    assert point(1.0, passed=0, rejected=0, again=200).error is None
