import pytest

from readback.judging.check import check
from readback.judging.model import Outcome, Status
from readback.judging.second_opinion import heed
from readback.transmission import Transmission, Word

INSTRUCTION = "larkspur 421, hold short of runway 27 left, contact ground 121.7"
RIGHT = "holding short runway two seven left ground one two one decimal seven larkspur four two one"
OTHER_SIDE = RIGHT.replace("left", "right")
OTHER_FREQUENCY = RIGHT.replace("decimal seven", "decimal eight")


def judged(text, certainty=0.9, least=0.8):
    words = tuple(Word(word=word, certainty=certainty) for word in text.split())
    return check(INSTRUCTION, Transmission(words=words), least_certainty=least)


# First text and its certainty, what the other engine heard of it and how surely, and the outcome.
@pytest.mark.parametrize(
    ("first", "certainty", "second", "sureness", "outcome"),
    [
        (RIGHT, 0.9, RIGHT, 0.9, Outcome.CORRECT),
        (RIGHT, 0.9, OTHER_SIDE, 0.9, Outcome.SAY_AGAIN),
        # It cannot tell, or hears nothing: no opinion.
        (RIGHT, 0.9, OTHER_SIDE, 0.5, Outcome.CORRECT),
        (RIGHT, 0.9, "", 0.9, Outcome.CORRECT),
        # A frequency is not critical.
        (RIGHT, 0.9, OTHER_FREQUENCY, 0.9, Outcome.CORRECT),
        (OTHER_SIDE, 0.9, RIGHT, 0.9, Outcome.SAY_AGAIN),
        (OTHER_SIDE, 0.9, OTHER_SIDE, 0.9, Outcome.INCORRECT),
        (OTHER_SIDE, 0.9, "", 0.9, Outcome.INCORRECT),
        # Agreement lifts a doubt that is smaller than even.
        (RIGHT, 0.6, RIGHT, 0.9, Outcome.CORRECT),
        (OTHER_SIDE, 0.6, OTHER_SIDE, 0.9, Outcome.INCORRECT),
        (RIGHT, 0.4, RIGHT, 0.9, Outcome.SAY_AGAIN),
        (RIGHT, 0.6, OTHER_SIDE, 0.9, Outcome.SAY_AGAIN),
        (RIGHT, 0.6, RIGHT, 0.5, Outcome.SAY_AGAIN),
    ],
)
def test_agreement_counts_and_contradiction_asks_again(first, certainty, second, sureness, outcome):
    one = judged(first, certainty)

    heeded = heed(one, judged(first, certainty, least=0.5), judged(second, sureness))

    assert heeded.verdict is outcome


def test_what_the_engines_differ_in_is_named_and_not_certain():
    one = judged(RIGHT)

    heeded = heed(one, one, judged(OTHER_SIDE))

    (finding,) = heeded.mistakes
    assert (finding.call, finding.element, finding.status) == (
        "hold_short",
        "runway",
        Status.NOT_CERTAIN,
    )
    assert finding.message == "runway: another engine heard it otherwise"
    assert len(heeded.findings) == len(one.findings)
