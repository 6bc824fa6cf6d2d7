import pytest

from readback.judging.check import check
from readback.judging.model import Outcome, Severity, Status
from readback.judging.pairs import make_pairs
from readback.judging.rules import AUTHORITIES
from readback.transmission import Transmission, Word


def heard(text, **faint):
    """A transmission heard well but for the words named: ``left=0.2``."""
    return Transmission(
        words=tuple(Word(word=word, certainty=faint.get(word, 0.9)) for word in text.split())
    )


def judged(instruction, readback, authority="icao", **options):
    return check(instruction, readback, authority=authority, **options)


def mistakes(verdict):
    return [(item.call, item.element, str(item.status)) for item in verdict.mistakes]


def said(verdict, side, span):
    words = getattr(verdict, side).words
    return " ".join(word.word for word in words[span[0] : span[1]])


HOLD = "Larkspur 421, hold short of runway 27L"
HOLDING = "holding short of runway 27L, Larkspur 421"


def test_a_faithful_readback_is_correct():
    verdict = judged(HOLD, HOLDING)

    assert verdict.verdict == Outcome.CORRECT
    assert [(item.call, item.status) for item in verdict.findings] == [
        ("hold_short", Status.CORRECT),
        ("callsign", Status.CORRECT),
    ]


@pytest.mark.parametrize("runway", ["27R", "27", "28L", "09L"])
def test_another_runway_is_wrong_and_critical(runway):
    verdict = judged(HOLD, f"holding short of runway {runway}, Larkspur 421")

    (finding,) = verdict.mistakes
    assert verdict.verdict == Outcome.INCORRECT
    assert (finding.status, finding.severity) == (Status.WRONG, Severity.CRITICAL)
    assert (finding.expected, finding.heard) == ("27L", runway)
    assert f"runway 27L, heard {runway}" in finding.message


def test_what_did_not_come_back_is_missing():
    verdict = judged(f"{HOLD}, QNH 1013", HOLDING)

    (finding,) = verdict.mistakes
    assert verdict.verdict == Outcome.INCOMPLETE
    assert (finding.call, finding.element) == ("qnh", "qnh")
    assert (finding.status, finding.severity) == (Status.MISSING, Severity.REQUIRED)
    assert finding.readback_span is None


def test_a_crossing_that_was_not_issued_is_critical():
    verdict = judged(HOLD, "crossing runway 27L, Larkspur 421")

    finding = next(item for item in verdict.mistakes if item.status == Status.NOT_ISSUED)
    assert verdict.verdict == Outcome.INCORRECT
    assert (finding.call, finding.severity) == ("cross", Severity.CRITICAL)
    assert finding.instruction_span is None
    assert said(verdict, "readback", finding.readback_span) == "crossing runway 27L,"
    assert "runway 27L" in finding.message
    assert ("hold_short", "runway", "missing") in mistakes(verdict)


@pytest.mark.parametrize(
    "added",
    [
        "line up and wait runway 27L",
        "cross runway 33",
        "cleared for take off runway 27L",
        "backtrack runway 27L",
    ],
)
def test_a_clearance_that_was_not_issued_is_found_beside_a_right_readback(added):
    verdict = judged(HOLD, f"holding short of runway 27L, {added}, Larkspur 421")

    (finding,) = verdict.mistakes
    assert finding.status == Status.NOT_ISSUED
    assert finding.severity == Severity.CRITICAL


def test_an_element_that_was_not_issued_is_found():
    verdict = judged("Larkspur 421, taxi to stand 24", "taxi to stand 24 via A, B, Larkspur 421")

    assert mistakes(verdict) == [("taxi", "route", "not issued")]


def test_every_finding_names_its_rule_and_source():
    verdict = judged(f"{HOLD}, QNH 1013", "crossing runway 27R, Northgate 9")

    assert verdict.mistakes
    for finding in verdict.mistakes:
        assert finding.rule
        assert finding.source


def test_spans_point_at_the_words_of_each_side():
    verdict = judged(
        "Larkspur 421, taxi to holding point C5 via A, B, QNH 1013",
        "QNH 1031, holding point C5 via A, D, Larkspur 421",
    )

    spans = {
        item.element: (
            said(verdict, "instruction", item.instruction_span),
            said(verdict, "readback", item.readback_span),
        )
        for item in verdict.findings
        if item.severity is not Severity.ADVISORY
    }
    assert spans == {
        "holding_point": ("C5", "C5"),
        "route": ("A, B,", "A, D,"),
        "qnh": ("1013", "1031,"),
        "callsign": ("Larkspur 421,", "Larkspur 421"),
    }


def test_a_missing_element_points_at_the_instruction_only():
    (finding,) = judged(HOLD, "holding short, Larkspur 421").mistakes

    assert finding.instruction_span == (6, 7)
    assert finding.readback_span is None


def test_a_whole_call_points_at_its_words_on_both_sides():
    verdict = judged("Larkspur 421, hold position", "holding position, Larkspur 421")

    finding = verdict.findings[0]
    assert (finding.instruction_span, finding.readback_span) == ((2, 4), (0, 2))


@pytest.mark.parametrize(
    ("callsign", "status", "severity"),
    [
        ("Larkspur 427", Status.WRONG, Severity.CRITICAL),
        ("Northgate 421", Status.WRONG, Severity.CRITICAL),
        ("", Status.MISSING, Severity.REQUIRED),
        ("421", Status.MISSING, Severity.REQUIRED),
        ("Larkspur 421", Status.CORRECT, Severity.REQUIRED),
    ],
)
def test_callsigns_of_an_operator(callsign, status, severity):
    verdict = judged(HOLD, f"holding short of runway 27L, {callsign}")

    finding = next(item for item in verdict.findings if item.call == "callsign")
    assert (finding.status, finding.severity) == (status, severity)


def test_one_wrong_callsign_counts_beside_a_right_one():
    verdict = judged(HOLD, "Larkspur 427, holding short of runway 27L, Larkspur 421")

    assert mistakes(verdict) == [("callsign", "callsign", "wrong")]


# ICAO Annex 10 Volume II, 5.2.1.7.2.2.2: a station called first shortens the callsign only once the
# ground has (from memory): a remark, not a mistake.
def test_a_short_registration_is_remarked_on():
    verdict = judged("G-ABCD, hold short of runway 27L", "holding short of runway 27L, G-CD")

    remark = next(item for item in verdict.findings if item.severity is Severity.ADVISORY)
    assert verdict.verdict == Outcome.CORRECT
    assert remark.call == "callsign"
    assert "G-ABCD" in remark.message


def test_a_callsign_given_apart_counts():
    verdict = judged(
        "hold short of runway 27L", "holding short of runway 27L", callsign="Larkspur 421"
    )

    (finding,) = verdict.mistakes
    assert (finding.call, finding.status) == ("callsign", Status.MISSING)
    assert finding.instruction_span is None


def test_the_interphone_has_no_callsign():
    assert judged("brakes released", "brakes released").verdict == Outcome.CORRECT


TWO_HOLDS = "Larkspur 421, hold short of runway 27L, hold short of runway 33"


@pytest.mark.parametrize(
    ("readback", "expected"),
    [
        ("hold short runway 27L, hold short runway 33, Larkspur 421", []),
        ("hold short runway 33, hold short runway 27L, Larkspur 421", []),
        ("hold short runway 33, Larkspur 421", [("hold_short", "runway", "missing")]),
        (
            "hold short runway 27R, hold short runway 33, Larkspur 421",
            [("hold_short", "runway", "wrong")],
        ),
    ],
)
def test_two_hold_shorts_are_held_apart(readback, expected):
    assert mistakes(judged(TWO_HOLDS, readback)) == expected


def test_elements_of_one_call_may_come_in_another_grouping():
    verdict = judged(
        "Larkspur 421, hold short of runway 27L, hold short of B, hold short of runway 33",
        "hold short runway 33, hold short of B, hold short runway 27L, Larkspur 421",
    )

    assert verdict.verdict == Outcome.CORRECT


@pytest.mark.parametrize(
    "readback",
    [
        "backtracking runway 27, lining up, Larkspur 421",
        "backtracking, lining up runway 27, Larkspur 421",
    ],
)
def test_a_runway_goes_with_backtrack_and_line_up_alike(readback):
    verdict = judged("Larkspur 421, backtrack runway 27, line up", readback)

    assert verdict.verdict == Outcome.CORRECT


def test_a_direction_apart_from_its_clearance_is_compared():
    verdict = judged("clear for push back facing north", "push back approved, facing south")

    assert mistakes(verdict) == [("push_clearance", "facing", "wrong")]


def test_an_instruction_repeated_is_answered_once():
    verdict = judged(f"{HOLD}, I say again, hold short of runway 27L", HOLDING)

    assert verdict.verdict == Outcome.CORRECT


# ICAO Doc 9432, 4th edition 2007, 2.8.3.9: NEGATIVE, I SAY AGAIN, the right version (from memory).
@pytest.mark.parametrize(
    ("readback", "verdict"), [(HOLDING, "correct"), ("roger, Larkspur 421", "incomplete")]
)
def test_a_correction_by_the_controller_is_an_instruction(readback, verdict):
    instruction = "Larkspur 421, negative, I say again, hold short of runway 27L"

    assert judged(instruction, readback).verdict == verdict


# ICAO Doc 4444, 16th edition 2016, note to 12.3.4.8 (from memory): ROGER and WILCO do not do.
@pytest.mark.parametrize("word", ["roger", "wilco", "affirm"])
def test_an_acknowledgement_does_not_replace_a_readback(word):
    verdict = judged(HOLD, f"{word}, Larkspur 421")

    (finding,) = verdict.mistakes
    assert verdict.verdict == Outcome.INCOMPLETE
    assert (finding.call, finding.element) == ("hold_short", "runway")
    assert word.upper() in finding.message


def test_unable_is_a_refusal_and_no_mistake():
    verdict = judged(HOLD, "unable, Larkspur 421")

    assert verdict.verdict == Outcome.CORRECT
    assert [(item.call, item.severity) for item in verdict.findings if item.call == "unable"] == [
        ("unable", Severity.ADVISORY)
    ]


@pytest.mark.parametrize(
    ("readback", "mistake"),
    [
        ("unable, crossing runway 27L, Larkspur 421", ("cross", None, "not issued")),
        ("unable, holding short of runway 27R, Larkspur 421", ("hold_short", "runway", "wrong")),
        ("unable, Larkspur 427", ("callsign", "callsign", "wrong")),
    ],
)
def test_unable_excuses_nothing_that_is_wrong(readback, mistake):
    assert mistakes(judged(HOLD, readback)) == [mistake]


@pytest.mark.parametrize("words", ["say again", "stand by"])
def test_a_delayed_answer_is_asked_for_again(words):
    verdict = judged(HOLD, f"{words}, Larkspur 421")

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert verdict.mistakes == ()


@pytest.mark.parametrize(
    ("authority", "instruction"),
    [
        ("icao", "slow down"),
        ("icao", "report ready for departure"),
        ("icao", "stand by for push back"),
        ("faa", "hold position"),
        ("faa", "stop immediately"),
        ("faa", "taxi via Delta"),
        ("faa", "squawk 4421"),
    ],
)
@pytest.mark.parametrize(
    ("words", "verdict"),
    [
        ("", "correct"),
        ("uh, thank you", "correct"),
        ("the", "correct"),
        ("cannot", "say again"),
        ("we keep going", "say again"),
        ("negative", "incomplete"),
        ("go ahead", "say again"),
        ("cancelling", "incorrect"),
    ],
)
def test_a_callsign_acknowledges_alone_and_not_beside_words_that_may_refuse(
    authority, instruction, words, verdict
):
    answer = f"{words}, Larkspur 421"

    assert judged(f"Larkspur 421, {instruction}", answer, authority).verdict == verdict


@pytest.mark.parametrize(
    ("words", "verdict"),
    [
        ("roger", "correct"),
        ("roger, thanks mate", "correct"),
        ("okay, no problem", "correct"),
        ("roger but not yet", "say again"),
        ("roger, not, yet", "say again"),
        ("copied, we never did that", "say again"),
        ("okay, no", "incomplete"),
        ("affirm, negative", "incomplete"),
    ],
)
@pytest.mark.parametrize(
    "instruction", ["slow down the push", "bypass pin removed", "smoke from engine number one"]
)
def test_what_denies_takes_an_acknowledgement_back(instruction, words, verdict):
    assert judged(instruction, words).verdict == verdict


@pytest.mark.parametrize(  # common practice, no source
    ("instruction", "words"),
    [
        ("slow down", "slowing"),
        ("give way to the Boeing from the left", "will give way to the Boeing"),
        ("remain this frequency", "staying with you"),
        ("start up approved", "starting"),
        ("start up approved", "starting number two"),
    ],
)
def test_an_answer_in_other_words_is_no_mistake(instruction, words):
    verdict = judged(f"Larkspur 421, {instruction}", f"{words}, Larkspur 421")

    assert verdict.verdict == "correct"


def test_starting_answers_no_stand_by():
    verdict = judged("Larkspur 421, stand by for start up", "starting, Larkspur 421")

    assert verdict.verdict != "correct"


def test_the_words_beside_the_callsign_are_told():
    verdict = judged("Larkspur 421, slow down", "we keep going, Larkspur 421")

    assert "'we keep going' was not understood" in [one.message for one in verdict.findings]


@pytest.mark.parametrize("authority", ["icao", "easa", "faa", "uk"])
@pytest.mark.parametrize("words", ["taking off", "rolling"])
def test_taking_off_does_not_answer_cancel_take_off(authority, words):
    verdict = judged("Larkspur 421, cancel take-off", f"{words}, Larkspur 421", authority)

    assert verdict.verdict == Outcome.INCORRECT


@pytest.mark.parametrize("instruction", ["stand by", "stand by for push back"])
@pytest.mark.parametrize("words", ["stand by", "standing by"])
def test_told_to_stand_by_standing_by_is_an_answer(instruction, words):
    assert judged(f"Larkspur 421, {instruction}", f"{words}, Larkspur 421").verdict == "correct"
    held = judged(f"{HOLD}, {instruction}", f"{words}, Larkspur 421")
    assert mistakes(held) == [("hold_short", "runway", "missing")]


@pytest.mark.parametrize(
    ("question", "answer", "verdict"),
    [
        ("Larkspur 421, are you ready for departure", "negative, Larkspur 421", "correct"),
        ("Larkspur 421, are you ready for departure", "affirm, Larkspur 421", "correct"),
        ("Larkspur 421, are you ready for departure", "Larkspur 421", "incomplete"),
        ("are you ready for push back", "negative", "correct"),
        ("are you ready for push back", "stand by", "correct"),
        ("are you ready to start", "negative", "correct"),
        ("are you ready to start", "starting number two", "correct"),
        ("are you ready to start", "affirm", "incomplete"),
        ("confirm brakes released", "brakes set", "incorrect"),
        ("confirm brakes released", "roger", "incomplete"),
    ],
)
def test_questions_are_answered(question, answer, verdict):
    assert judged(question, answer).verdict == verdict


def test_a_second_answer_to_one_instruction_is_no_addition():
    verdict = judged("Larkspur 421, stop", "stopping, holding position, Larkspur 421")

    assert verdict.verdict == Outcome.CORRECT


def test_a_second_answer_that_differs_is():
    verdict = judged("clear to start number one", "clear to start number one, starting number two")

    assert mistakes(verdict) == [("starting_engine", None, "not issued")]


@pytest.mark.parametrize(
    ("readback", "message"),
    [
        ("", "no words were heard"),
        ("kumquat zeppelin", "no call was understood"),
        ("thank you, good day", "no call was understood"),
    ],
)
def test_a_readback_without_calls_is_asked_for_again(readback, message):
    verdict = judged(HOLD, readback)

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert verdict.findings[0].message == message


def test_an_instruction_that_is_not_understood_is_not_judged():
    verdict = judged("kumquat zeppelin", "crossing runway 27L")

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert verdict.findings[0].message == "no instruction was understood"


def test_a_greeting_is_no_clearance():
    verdict = judged("Larkspur 421, good morning", "crossing runway 27L, Larkspur 421")

    assert mistakes(verdict) == [("cross", None, "not issued")]


SURE = {"least_certainty": 0.5}


def test_words_heard_well_are_judged():
    verdict = judged(HOLD, heard("holding short of runway two seven right larkspur 421"), **SURE)

    (finding,) = verdict.mistakes
    assert finding.status == Status.WRONG
    assert finding.certainty == 0.9


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_value_heard_faintly_is_neither_right_nor_wrong(side):
    faint = heard(f"holding short of runway two seven {side} larkspur 421", **{side: 0.3})

    verdict = judged(HOLD, faint, **SURE)

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert mistakes(verdict) == [("hold_short", "runway", "not certain")]


@pytest.mark.parametrize("word", ["holding", "short"])
def test_a_critical_verb_in_doubt_is_never_correct(word):
    faint = heard("holding short of runway two seven left larkspur 421", **{word: 0.3})

    verdict = judged(HOLD, faint, **SURE)

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert mistakes(verdict) == [("hold_short", None, "not certain")]


def test_small_words_in_doubt_do_not_matter():
    faint = heard("holding short of runway two seven left larkspur 421", of=0.1)

    assert judged(HOLD, faint, **SURE).verdict == Outcome.CORRECT


def test_a_call_without_elements_in_doubt_is_never_correct():
    faint = heard("holding position larkspur 421", position=0.2)

    verdict = judged("Larkspur 421, hold position", faint, **SURE)

    assert mistakes(verdict) == [("hold_position", None, "not certain")]


def test_a_faint_acknowledgement_is_none():
    verdict = judged("brakes released", heard("roger", roger=0.2), **SURE)

    assert verdict.verdict == Outcome.SAY_AGAIN


def test_a_faint_crossing_accuses_nobody():
    faint = heard(
        "holding short of runway two seven left crossing runway three three larkspur 421",
        crossing=0.2,
    )

    verdict = judged(HOLD, faint, **SURE)

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert mistakes(verdict) == [("cross", None, "not certain")]


def test_what_is_missing_may_be_among_the_faint_words():
    faint = heard("kumquat zeppelin larkspur 421", kumquat=0.2)

    verdict = judged(HOLD, faint, **SURE)

    assert mistakes(verdict) == [("hold_short", "runway", "not certain")]


def test_what_is_missing_is_missing_where_all_was_heard():
    verdict = judged(HOLD, heard("roger larkspur 421"), **SURE)

    assert mistakes(verdict) == [("hold_short", "runway", "missing")]


def test_a_faint_callsign_is_not_accused():
    faint = heard("holding short of runway two seven left larkspur four two seven", four=0.2)

    assert mistakes(judged(HOLD, faint, **SURE)) == [("callsign", "callsign", "not certain")]


def test_an_optional_value_in_doubt_is_not_called_wrong():
    instruction = "Larkspur 421, taxi to stand 24"

    verdict = judged(instruction, heard("taxi to stand two five larkspur 421", five=0.1), **SURE)

    assert mistakes(verdict) == [("taxi", "stand", "not certain")]


def test_a_value_that_may_be_left_out_is_no_reason_to_ask_again():
    instruction = "Larkspur 421, contact ground 121.7"

    verdict = judged(instruction, heard("tower 121.7 larkspur 421", tower=0.1), **SURE)

    assert verdict.verdict == Outcome.CORRECT


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_a_faint_value_of_a_right_readback_is_asked_for_again(authority):
    tried = 0
    for pair in make_pairs(1_000, 5, authority):
        words = pair.readback.replace(",", "").split()
        whole = judged(pair.instruction, heard(" ".join(words)), authority, **SURE)
        for finding in whole.findings if whole.verdict == Outcome.CORRECT else ():
            if finding.severity is not Severity.CRITICAL or finding.readback_span is None:
                continue
            places = range(*finding.readback_span)
            names = [call.name for call in whole.readback.calls]
            answers = [call.name for call in whole.readback.calls if call.span[0] in places]
            if any(names.count(name) > 1 for name in answers):
                # Said twice, once is enough.
                continue
            faint = Transmission(
                words=tuple(
                    Word(word=word, certainty=0.1 if at in places else 0.9)
                    for at, word in enumerate(words)
                )
            )

            verdict = judged(pair.instruction, faint, authority, **SURE)

            assert verdict.verdict == Outcome.SAY_AGAIN, (pair.instruction, pair.readback, finding)
            assert {item.status for item in verdict.mistakes} == {Status.NOT_CERTAIN}
            tried += 1
    assert tried > 200


def test_a_repaired_value_with_a_rival_is_not_judged():
    verdict = judged("Larkspur 421, QNH 1014", "QNH one zero one fove, Larkspur 421")

    assert verdict.verdict == Outcome.SAY_AGAIN
    assert mistakes(verdict) == [("qnh", "qnh", "not certain")]


def test_a_wrong_value_outweighs_an_uncertain_one():
    faint = heard("holding short of runway two seven right larkspur 421", larkspur=0.2)

    verdict = judged(HOLD, faint, **SURE)

    assert verdict.verdict == Outcome.INCORRECT


@pytest.mark.parametrize(
    ("instructed", "answered", "verdict"),
    [
        ("Boeing 747", "B747", "correct"),
        ("Boeing 747", "the Boeing 747", "correct"),
        ("Airbus 320", "Airbus 330", "incorrect"),
        ("Boeing 747", "Boeing 774", "incorrect"),
        ("helicopter", "Airbus 320", "incorrect"),
    ],
)
def test_types_are_told_apart(instructed, answered, verdict):
    found = judged(
        f"Larkspur 421, give way to {instructed}", f"giving way to {answered}, Larkspur 421"
    )

    assert found.verdict == verdict


def test_findings_follow_the_instruction_and_remarks_come_last():
    verdict = judged(
        "G-ABCD, taxi to stand 24, hold short of runway 27L, QNH 1013",
        "QNH 1013, hold short runway 27L, stand 24, G-CD",
    )

    calls = [item.call for item in verdict.findings if item.severity is not Severity.ADVISORY]
    assert calls == ["taxi", "hold_short", "qnh", "callsign"]
    assert verdict.findings[-1].severity is Severity.ADVISORY


@pytest.mark.parametrize("instruction", ["insert the steering pin", "brakes set"])
def test_a_callsign_alone_acknowledges_no_brakes_and_no_pin(instruction):
    # Common practice, no source: the state is repeated, or acknowledged in words.
    assert check(instruction, "roger").verdict is Outcome.CORRECT
    assert check(instruction, "tow zero seven").verdict is Outcome.INCOMPLETE


@pytest.mark.parametrize(
    ("instruction", "readback"),
    # common practice, no source: nobody answers rightly what was not understood.
    [
        ("start the number two engine", "ready to start"),
        ("make it so", "roger"),
        ("please polish the windows", "roger"),
        ("Larkspur 421, make it so", "roger, Larkspur 421"),
    ],
)
def test_an_instruction_of_which_only_scraps_are_understood_is_not_answered(instruction, readback):
    verdict = check(instruction, readback)

    assert verdict.verdict is Outcome.SAY_AGAIN
    assert any("no instruction was understood" in one.message for one in verdict.findings)


def test_a_wrong_callsign_is_wrong_whatever_was_not_understood():
    # ICAO Doc 9432, 4th edition 2007 (from memory): a reply ends with the callsign that was called.
    verdict = check("Larkspur 421, make it so", "roger, Larkspur 412")

    assert verdict.verdict is Outcome.INCORRECT


@pytest.mark.parametrize(
    ("instruction", "readback"),
    # common practice, no source: what asks nothing is answered by anything.
    [("number two", "number two"), ("Larkspur 421, good evening", "roger, Larkspur 421")],
)
def test_what_asks_nothing_is_answered_by_anything(instruction, readback):
    assert check(instruction, readback).verdict is Outcome.CORRECT
