import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.measure.statistics import (
    Retrieval,
    Share,
    calibration_bins,
    expected_calibration_error,
    wilson,
)

# Newcombe 1998, Statist. Med. 17:857-872, table I, method 3 (score, no continuity correction);
# its figures from memory, worked again by hand from Wilson's formula.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("count", "total", "low", "high"), NEWCOMBE)
def test_wilson_intervals_are_the_published_ones(count, total, low, high):
    assert wilson(count, total) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 500), st.data())
def test_an_interval_holds_its_share_and_mirrors_its_complement(total, data):
    count = data.draw(st.integers(0, total))

    low, high = wilson(count, total)

    assert 0 <= low <= count / total <= high <= 1
    assert wilson(total - count, total) == pytest.approx((1 - high, 1 - low))


def test_nothing_counted_leaves_everything_open():
    nothing = Share(count=0, total=0)

    assert nothing.share is None
    assert nothing.interval == (0.0, 1.0)


# van Rijsbergen 1979, chapter 7: F1 is the harmonic mean of precision and recall.
@pytest.mark.parametrize(("right", "heard", "said"), [(3, 4, 6), (1, 1, 2), (7, 9, 8)])
def test_f1_is_the_harmonic_mean(right, heard, said):
    precision, recall = right / heard, right / said

    found = Retrieval(right=right, heard=heard, said=said)

    assert found.f1 == pytest.approx(2 / (1 / precision + 1 / recall))
    assert (found.precision.share, found.recall.share) == (precision, recall)


def slow_calibration_error(certainties, right, bins):
    """The definition, written out: sort, deal into bins of like size, weigh the differences."""
    ranked = sorted(range(len(certainties)), key=lambda index: certainties[index])
    total = 0.0
    for number in range(bins):
        first = len(ranked) * number // bins
        last = len(ranked) * (number + 1) // bins
        inside = ranked[first:last]
        if inside:
            claimed = sum(certainties[index] for index in inside) / len(inside)
            true = sum(1 for index in inside if right[index]) / len(inside)
            total += len(inside) / len(ranked) * abs(claimed - true)
    return total


@given(
    st.lists(st.tuples(st.floats(0, 1), st.booleans()), min_size=20, max_size=200),
    st.integers(10, 15),
)
def test_the_calibration_error_is_that_of_its_definition(values, bins):
    certainties, right = zip(*values, strict=True)

    error = expected_calibration_error(calibration_bins(certainties, right, bins))

    assert error == pytest.approx(slow_calibration_error(certainties, right, bins), abs=1e-9)


def test_bins_have_equal_mass():
    certainties = [number / 100 for number in range(100)]

    sizes = {one.count for one in calibration_bins(certainties, [True] * 100, 15)}

    assert sizes <= {6, 7}


# By hand: claimed 0.9 four times and three right is 0.15 off; claimed 0.4 and none right, 0.4.
def test_a_hand_worked_calibration_error():
    bins = calibration_bins([0.9] * 4 + [0.4] * 4, [True, True, True, False] + [False] * 4, 2)

    assert expected_calibration_error(bins) == pytest.approx((0.15 + 0.4) / 2)


def test_without_values_there_is_no_calibration_error():
    assert expected_calibration_error(calibration_bins([], [])) is None
