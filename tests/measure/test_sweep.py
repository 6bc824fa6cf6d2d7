import pytest

from readback.measure.statistics import Share
from readback.measure.sweep import LEAST_CHOSEN, Point, choose_noisy, choose_point


def point(value, passed, rejected, again):
    return Point(
        point=value,
        passed=Share(count=passed, total=100),
        rejected=Share(count=rejected, total=100),
        caught=Share(count=100 - passed, total=100),
        say_again=Share(count=again, total=200),
    )


# Points as (least certainty, passed, rejected, say again) of 100, 100 and 200; costs by hand as
# 5 * passed / 0.005 + rejected / 0.02 + say again / 0.04 clean, 0.08 from 20 dB, 0.15 under it.
@pytest.mark.parametrize(
    ("curves", "chosen"),
    [
        # 30, 1 + 1.125, 11.25.
        ([(None, [(0.0, 3, 0, 0), (0.5, 0, 2, 9), (0.9, 0, 0, 90)])], 0.5),
        # 4.5 + 0.56 against 2.5 + 1.25: four repetitions for an accusation at 20 dB.
        ([(20.0, [(0.5, 0, 9, 9), (0.9, 0, 5, 20)])], 0.9),
        # One passed costs 10, more than to ask 70 of 200 again in noise.
        (
            [
                (20.0, [(0.0, 0, 0, 0), (0.5, 0, 0, 2)]),
                (0.0, [(0.0, 1, 0, 0), (0.5, 0, 0, 70)]),
            ],
            0.5,
        ),
        # Less than to ask for everything again, 25: one that is passed at any point rules nothing.
        ([(None, [(0.5, 1, 0, 10), (1.0, 0, 0, 200)])], 0.5),
        # The same repetitions weigh more where it is quiet.
        (
            [
                (None, [(0.5, 0, 6, 0), (0.9, 0, 2, 20)]),
                (10.0, [(0.5, 0, 6, 0), (0.9, 0, 2, 20)]),
            ],
            0.9,
        ),
        # Of equal costs the strictest.
        ([(None, [(0.0, 0, 0, 0), (0.5, 0, 0, 0)])], 0.5),
    ],
)
def test_the_threshold_costs_least_in_units_of_what_is_allowed(curves, chosen):
    made = [(level, [point(*values) for values in curve]) for level, curve in curves]

    assert choose_point(made) == chosen


# As above: 100, 100 and 200. In noise 1 may be passed and 2 rejected.
@pytest.mark.parametrize(
    ("curves", "chosen"),
    [
        # The least that holds it, however often it asks again.
        ([[(0.5, 2, 0, 9), (0.7, 1, 2, 90), (0.9, 0, 0, 150)]], 0.7),
        # In each condition.
        (
            [
                [(0.5, 0, 3, 9), (0.7, 0, 2, 90), (0.9, 0, 0, 150)],
                [(0.5, 0, 0, 9), (0.7, 2, 0, 90), (0.9, 1, 0, 199)],
            ],
            0.9,
        ),
        # Less probable than not is never chosen.
        ([[(0.0, 0, 0, 0), (0.5, 0, 0, 50)]], 0.5),
        # The strictest where none holds it.
        ([[(0.5, 9, 0, 9), (0.9, 2, 0, 150)]], 0.9),
    ],
)
def test_in_noise_the_least_point_that_is_safe_is_chosen(curves, chosen):
    assert choose_noisy([[point(*values) for values in curve] for curve in curves]) == chosen


def test_coverage_and_error_are_of_the_verdicts_given():
    one = point(0.5, passed=3, rejected=6, again=20)

    assert one.coverage == pytest.approx(0.9)
    assert one.error == pytest.approx(9 / 180)


def test_without_any_verdict_there_is_no_error():
    assert point(1.0, passed=0, rejected=0, again=200).error is None


def test_no_threshold_is_chosen_that_passes_what_is_probably_wrong():
    cheap_at_zero = [point(value, 0, 0, int(100 * value)) for value in (0.0, 0.3, 0.5, 0.9)]

    assert choose_point([(None, cheap_at_zero)]) == LEAST_CHOSEN
