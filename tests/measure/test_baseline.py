from pathlib import Path

import pytest

from readback.measure.baseline import GeneralRecogniser, differing_share, judge_by_words
from readback.speech.hearing import hear_transmission

CLIPS = Path(__file__).parents[2] / "audio_demo_synth" / "measure_set"


# By hand: of 4 and 4 words one on each side differs, so 2 of 8.
@pytest.mark.parametrize(
    ("instruction", "readback", "share"),
    [
        ("cross runway one four", "cross runway one four", 0.0),
        ("cross runway one four", "cross runway one five", 2 / 8),
        ("cross runway one four", "one four runway cross", 0.0),
        ("cross runway one four", "", 1.0),
        ("cross runway one four", "roger", 1.0),
    ],
)
def test_differing_words_are_counted_wherever_they_stand(instruction, readback, share):
    assert differing_share(instruction, readback) == pytest.approx(share)


@pytest.mark.parametrize(
    ("readback", "verdict"),
    [
        ("crossing runway one four", "correct"),
        # What makes it a baseline: a wrong digit is no more to it than a participle.
        ("cross runway one five", "correct"),
        ("roger", "incorrect"),
        ("", "say again"),
    ],
)
def test_words_alone_pass_a_wrong_digit(readback, verdict):
    assert judge_by_words("cross runway one four", readback) == verdict


def test_a_general_recogniser_hears_words_of_no_grammar():
    general = GeneralRecogniser()

    heard = hear_transmission(CLIPS / "r001.opus", general)
    general.close()

    assert len(heard.words) > 3
    assert all(word.word.isascii() and word.certainty is None for word in heard.words)
