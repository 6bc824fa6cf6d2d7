import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.measure.word_errors import WordErrors, align, normal_words, raw_words

# Worked by hand: reference, hypothesis, then hits, substitutions, deletions, insertions.
ALIGNMENTS = [
    ("hold short of runway two seven left", "hold short of runway two seven left", (7, 0, 0, 0)),
    ("runway two seven left", "runway two seven right", (3, 1, 0, 0)),
    ("hold short of runway one four", "hold short runway one four", (5, 0, 1, 0)),
    ("cross runway one four", "cross runway one two four", (4, 0, 0, 1)),
    ("brakes set", "", (0, 0, 2, 0)),
    ("", "roger", (0, 0, 0, 1)),
    ("one two three", "two three four", (2, 0, 1, 1)),
    ("start number two", "starting number one now", (1, 2, 0, 1)),
]


@pytest.mark.parametrize(("reference", "hypothesis", "counts"), ALIGNMENTS)
def test_alignments_worked_by_hand(reference, hypothesis, counts):
    found = align(reference.split(), hypothesis.split())

    assert (found.hits, found.substitutions, found.deletions, found.insertions) == counts


def slow_distance(reference, hypothesis):
    """Wagner and Fischer 1974: the table of all prefixes."""
    row = list(range(len(hypothesis) + 1))
    for index, said in enumerate(reference, 1):
        above, row = row, [index]
        for place, heard in enumerate(hypothesis, 1):
            same = above[place - 1] + (said != heard)
            row.append(min(same, above[place] + 1, row[-1] + 1))
    return row[-1]


WORDS = st.lists(st.sampled_from(["one", "two", "left", "right", "hold"]), max_size=12)


@given(WORDS, WORDS)
def test_errors_are_as_few_as_can_be_and_no_word_is_lost(reference, hypothesis):
    found = align(reference, hypothesis)

    assert found.errors == slow_distance(reference, hypothesis)
    assert found.reference == len(reference)
    assert found.hits + found.substitutions + found.insertions == len(hypothesis)


def test_rates_are_of_all_words_not_means_of_rates():
    both = align(["one"], ["two"]) + align(["one", "two", "three"], ["one", "two", "three"])

    assert both.rate == 1 / 4


def test_a_rate_of_no_words_is_none():
    assert WordErrors(insertions=2).rate is None


@pytest.mark.parametrize(
    ("said", "heard"),
    [("runway zero niner", "runway zero nine"), ("RWY 27L", "runway two seven left")],
)
def test_spellings_count_raw_but_not_normalised(said, heard):
    assert align(raw_words(said), raw_words(heard)).errors > 0
    assert align(normal_words(said), normal_words(heard)).errors == 0


def test_case_and_commas_never_count():
    assert raw_words("Roger, Larkspur four.") == ("roger", "larkspur", "four")
