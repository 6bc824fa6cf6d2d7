"""What is heard in a drill, weighed over all its readings as a check of the same sound is."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from readback.drills.practice import MOST_TRIES, Practice
from readback.judging.check import check
from readback.judging.model import Outcome, Status
from readback.phraseology.grammar import load_grammar
from readback.speech.channel import vhf_radio
from readback.speech.ear import EarRecogniser
from readback.transmission import Alternative, Transmission, Word

from .planting import plan_of

INSTRUCTION = "larkspur 421, hold short of runway 27 left"
RIGHT = "holding short of runway two seven left larkspur four two one"
WRONG = RIGHT.replace("left", "right")
SHORT = "larkspur four two one"
LEAST = 0.8
RECORDED = Path(__file__).parents[2] / "audio_demo_synth/recordings/gc01_hold_short.flac"
"""Of the words of `RIGHT`."""


def heard(*readings, certainty=1.0, channel=None):
    """A transmission of readings: (text, probability), the best first."""
    alternatives = tuple(Alternative(words=tuple(t.split()), probability=p) for t, p in readings)
    words = tuple(Word(word=word, certainty=certainty) for word in alternatives[0].words)
    return Transmission(words=words, alternatives=alternatives, channel=channel)


@pytest.fixture
def answered(run_of):
    """The last event when the readback of a hold short is heard so."""

    def make(said, instruction=INSTRUCTION, least=LEAST):
        run = run_of(least_certainty=least)
        run.hear("controller", instruction)
        return run.hear("flight_deck", said)[-1]

    return make


@pytest.mark.parametrize(
    ("readings", "kind", "outcome"),
    [
        ([(RIGHT, 1.0)], "came", Outcome.CORRECT),
        ([(RIGHT, 0.95), (WRONG, 0.05)], "came", Outcome.CORRECT),
        ([(RIGHT, 0.6), (WRONG, 0.4)], "not certain", Outcome.SAY_AGAIN),
        ([(WRONG, 0.6), (RIGHT, 0.4)], "not certain", Outcome.SAY_AGAIN),
        ([(WRONG, 0.99), (RIGHT, 0.01)], "wrong", Outcome.INCORRECT),
        ([(SHORT, 1.0)], "wrong", Outcome.INCOMPLETE),
        ([(SHORT, 0.8), (RIGHT, 0.2)], "not certain", Outcome.SAY_AGAIN),
    ],
)
def test_step_and_check_of_the_same_sound_agree(answered, readings, kind, outcome):
    said = heard(*readings)

    event = answered(said)

    assert (event.kind, event.verdict.verdict) == (kind, outcome)
    assert check(INSTRUCTION, said, least_certainty=LEAST).verdict is outcome


@pytest.fixture(scope="module")
def ear():
    return EarRecogniser(load_grammar().search())


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("level_db", [20.0, 0.0, -3.0, -6.0, -9.0])
def test_step_and_check_of_the_same_recording_agree(answered, ear, level_db, side):
    samples, _ = soundfile.read(RECORDED, dtype="float32")
    sent = vhf_radio(samples, level_db, seed=1)
    said = ear.recognise((np.clip(sent, -1, 1) * 32767).astype("<i2").tobytes())
    instruction = INSTRUCTION.replace("left", side)

    event = answered(said, instruction=instruction)

    checked = check(instruction, said, least_certainty=LEAST)
    assert event.verdict.verdict is checked.verdict
    assert event.verdict.mistakes == checked.mistakes
    assert said.words or checked.verdict is Outcome.SAY_AGAIN


def test_say_again_names_what_was_unclear(answered):
    findings = answered(heard((RIGHT, 0.6), (WRONG, 0.4))).findings

    unclear = [(one.element, one.status) for one in findings]
    assert unclear == [("runway", Status.NOT_CERTAIN)]


def test_words_that_every_reading_shares_need_not_be_certain(answered):
    said = heard((RIGHT, 0.5), (RIGHT.replace("holding", "hold"), 0.5), certainty=0.6)

    assert answered(said).kind == "came"


def test_an_instruction_heard_in_doubt_makes_no_readback_wrong(answered):
    right, wrong = (
        f"larkspur four two one hold short of runway two seven {side}" for side in ("left", "right")
    )

    event = answered(heard((WRONG, 1.0)), instruction=heard((right, 0.6), (wrong, 0.4)))

    assert event.kind == "not certain"


@pytest.mark.parametrize(
    ("share", "kind"), [(1.0, "wrong"), (0.99, "wrong"), (0.6, "not certain"), (0.05, "came")]
)
def test_a_call_is_wrong_where_nearly_all_readings_are(run_of, share, kind):
    right, wrong = (
        f"larkspur four two one hold short of runway two seven {side}" for side in ("left", "right")
    )
    readings = sorted([(wrong, share), (right, 1 - share)], key=lambda one: -one[1])

    (event,) = run_of(least_certainty=LEAST).hear("controller", heard(*readings))

    assert event.kind == kind
    assert all(one.status is not Status.WRONG for one in event.findings) == (kind != "wrong")


def test_what_is_critical_is_taken_for_right_with_half_the_doubt(run_of):
    text = "larkspur four two one hold short of runway two seven"
    said = heard((f"{text} left", 0.85), (f"{text} right", 0.15))

    (event,) = run_of(least_certainty=LEAST).hear("controller", said)

    assert event.kind == "not certain"
    assert [one.element for one in event.findings] == ["runway"]


def test_what_may_be_due_is_not_reported_as_not_due(run_of):
    run = run_of(least_certainty=LEAST)
    due = "larkspur four two one hold short of runway two seven left"
    other = "larkspur four two one line up and wait runway two seven left"

    (doubted,) = run.hear("controller", heard((other, 0.6), (due, 0.4)))
    (certain,) = run.hear("controller", heard((other, 0.99), (due, 0.01)))

    assert (doubted.kind, certain.kind) == ("say again", "not due")
    assert run.due.name == "hold"


def test_what_may_be_due_now_skips_nothing(run_of):
    run = run_of(least_certainty=LEAST)
    now = "larkspur four two one hold short of runway two seven left"
    later = "larkspur four two one cross runway two seven left"

    (doubted,) = run.hear("controller", heard((later, 0.6), (now, 0.4)))

    assert (doubted.kind, run.due.name) == ("say again", "hold")
    assert [e.kind for e in run.hear("controller", heard((later, 1.0)))][:1] == ["missing"]


def test_time_counts_from_what_was_not_understood(run_of):
    run = run_of(least_certainty=LEAST)
    now = "larkspur four two one hold short of runway two seven left"
    unclear = heard(("larkspur four two one cross runway two seven left", 0.6), (now, 0.4))
    run.hear("controller", "hello", 0.0)

    run.hear("controller", unclear, 15.0)
    events = run.hear("controller", heard((now, 1.0)), 25.0)

    # Within 20 s is due: 10 s after what was unclear, 25 s after what came before.
    assert [event.kind for event in events] == ["came"]


def test_a_call_of_one_reading_among_others_breaks_no_interlock(run_of):
    from readback.drills.engine import DrillRun

    begun, other = "commencing push back", "standing by for push back"
    kinds = {
        share: {
            event.kind
            for event in DrillRun(plan_of("push_back_tow_bar", 0), least_certainty=LEAST).hear(
                "headset", heard((begun, share), (other, 1 - share)), due=None
            )
        }
        for share in (0.99, 0.6)
    }

    assert "interlock" in kinds[0.99]
    assert "interlock" not in kinds[0.6]


def test_the_threshold_is_that_of_the_channel(run_of):
    def by_channel(*said):
        return max((0.95 if one.channel == "noisy" else 0.7 for one in said), default=0.7)

    def kind(channel):
        run = run_of(least_certainty=by_channel)
        run.hear("controller", INSTRUCTION)
        return run.hear("flight_deck", heard((RIGHT, 0.9), (WRONG, 0.1), channel=channel))[0].kind

    assert (kind("radio"), kind("noisy")) == ("came", "not certain")


def test_an_unclear_answer_is_asked_for_again(run_of):
    practice = Practice(run_of(least_certainty=LEAST))
    practice.advance()
    due, unclear = practice.turn, heard((RIGHT, 0.6), (WRONG, 0.4))

    replies = [practice.answer(unclear) for _ in range(MOST_TRIES)]

    assert [reply.once_more for reply in replies] == [True] * (MOST_TRIES - 1) + [False]
    assert not any(event.is_fault for reply in replies for event in reply.events)
    assert practice.run.state_of(due.number) == "said"


def test_an_unclear_answer_said_again_clearly_is_right(run_of):
    practice = Practice(run_of(least_certainty=LEAST))
    practice.advance()

    practice.answer(heard((RIGHT, 0.6), (WRONG, 0.4)))
    (event,) = practice.answer(heard((RIGHT, 1.0))).events

    assert (event.kind, event.verdict.verdict) == ("came", Outcome.CORRECT)
