import json
import random
from copy import copy
from functools import lru_cache
from pathlib import Path

import pytest

from readback.judging.check import check
from readback.judging.judge import judge
from readback.judging.model import Severity, Status
from readback.judging.rules import RuleBook, RuleFile, load_rules
from readback.judging.wording import remarks
from readback.phraseology.generator import element_sets, say_call
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.phraseology.samples import random_callsign, random_value

GRAMMAR = load_grammar()
AUTHORITIES = ("icao", "easa", "faa", "uk")
EXAMPLES = json.loads(
    (Path(__file__).parents[1] / "data" / "trade" / "worked_examples.json").read_text("utf-8")
)
SLOPPY = (
    ("Larkspur 421 hold short of runway twenty-seven left please", "uh roger Larkspur 421, thanks"),
    ("Larkspur 421 contact tower for 118.7", "Larkspur 421 going to 118.7 good day"),
    ("Northgate 158 cross cross runway 14", "Northgate 158 ready for take-off runway 41"),
    ("runway 27, correction, runway 26, Bluefin 9 line up", "lining up runaway 26 Bluefin nine"),
    ("confirm brakes set", "okay so brakes brakes set cheers"),
    ("", "er"),
)


@lru_cache
def rules_without_table(authority):
    rules = copy(load_rules(authority))
    rules.wording = ()
    return rules


def remarked(text, authority="icao", side="readback", instruction=None):
    instructed = None if instruction is None else parse(instruction, GRAMMAR)
    rules = rules_without_table(authority)
    return remarks(parse(text, GRAMMAR), rules, side, instruction=instructed)


def kinds(text, authority="icao", side="readback", instruction=None):
    found = remarked(text, authority, side, instruction)
    return [finding.element for finding in found]


def generated_pairs(count):
    rng = random.Random("wording")
    calls = [name for name, call in GRAMMAR.calls.items() if call.family != "callsigns"]
    for _ in range(count):
        authority = rng.choice(AUTHORITIES)
        texts = []
        for _ in range(2):
            call = rng.choice(calls)
            elements = rng.choice(element_sets(GRAMMAR, call))
            values = {
                name: random_callsign(rng)
                if name == "callsign"
                else random_value(GRAMMAR, name, rng)
                for name in elements
            }
            words = say_call(GRAMMAR, call, values, rng, authority)
            texts.append(" ".join([*words, rng.choice(["", "Larkspur four twenty one", "please"])]))
        yield authority, *texts


def pairs():
    for example in EXAMPLES:
        jurisdiction = example["jurisdiction"]
        authority = jurisdiction if jurisdiction in AUTHORITIES else "icao"
        yield authority, example["instruction"], example["readback"]
    for instruction, readback in SLOPPY:
        for authority in AUTHORITIES:
            yield authority, instruction, readback
    yield from generated_pairs(400)


def test_remarks_change_nothing_of_a_judgement():
    remarks_seen = 0
    for authority, instruction, readback in pairs():
        instructed = parse(instruction, GRAMMAR)
        called = [call.elements[0].value for call in instructed.calls if call.name == "callsign"]
        answered = parse(readback, GRAMMAR, called)
        bare = judge(instructed, answered, load_rules(authority))

        whole = check(instruction, readback, authority=authority)

        judged = len(bare.findings)
        assert whole.verdict == bare.verdict, (instruction, readback)
        assert whole.findings[:judged] == bare.findings, (instruction, readback)
        assert whole.mistakes == bare.mistakes, (instruction, readback)
        advice = whole.findings[judged:]
        assert all(finding.severity is Severity.ADVISORY for finding in advice)
        assert {finding.call for finding in advice} <= {"wording"}
        remarks_seen += len(advice)
    assert remarks_seen > 100


def test_every_remark_says_where_why_and_by_whom():
    for authority, instruction, readback in pairs():
        verdict = check(instruction, readback, authority=authority)

        for finding in verdict.findings:
            if finding.call != "wording":
                continue
            assert finding.message and finding.rule and finding.source
            spans = (finding.instruction_span, finding.readback_span)
            assert spans.count(None) == 1
            start, end = spans[0] or spans[1]
            said = verdict.instruction if spans[0] else verdict.readback
            assert 0 <= start < end <= len(said.words)
            left_over = finding.element == "left over"
            assert (finding.status is Status.NOT_CERTAIN) == left_over
            assert finding.status is not Status.MISSING


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("holding short of runway twenty-seven left", [(4, 6)]),
        ("contact tower one eighteen decimal seven", [(2, 6)]),
        ("Larkspur four twenty-one holding", [(0, 3)]),
        # Written digits do not tell how they were said.
        ("holding short of runway 27 left, Larkspur 421", []),
        # ICAO Annex 10 Volume II, 5.2.1.4.1.2: whole hundreds and thousands are said as such.
        ("QNH one thousand", []),
    ],
)
def test_grouped_digits_are_remarked_outside_the_us(text, spans):
    found = [finding for finding in remarked(text) if finding.element == "grouped digits"]

    assert [finding.readback_span for finding in found] == spans


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # FAA AIM 4-2-4 a5: flight numbers in group form.
        ("Larkspur four two one", ["single digits"]),
        ("Larkspur four twenty one", []),
        # FAA JO 7110.65P 2-4-20: 101 is one zero one in group form too.
        ("Larkspur one zero one", []),
        ("Larkspur 421", []),
        ("tug two three", []),
        # FAA JO 7110.65 2-4-3: runways by separate digits.
        ("hold short runway twenty-seven, Larkspur four twenty one", ["grouped digits"]),
        # FAA JO 7110.65 2-4-18: a setting may be restated in group form, but not said so alone.
        ("altimeter twenty-nine ninety-two", ["grouped digits"]),
    ],
)
def test_the_us_says_flight_numbers_in_groups_and_runways_by_digits(text, expected):
    assert kinds(text, "faa") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # ICAO Doc 9432 2.8.3.3: TAKE-OFF only to clear or to cancel one.
        ("runway 27 cleared for take-off", []),
        ("hold position cancel take-off", []),
        ("holding point A1, ready for takeoff", ["take-off"]),
        ("report ready for take off", ["take-off"]),
    ],
)
def test_take_off_is_kept_for_its_clearance(text, expected):
    assert kinds(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("taxi to 27", 1),
        ("expect start up for two zero", 1),
        ("taxi to holding point A1", 0),
        # ICAO Doc 9432 5.4 prints it.
        ("tow approved from maintenance hangar 3 to gate 25", 0),
        ("ready for departure", 0),
    ],
)
def test_to_and_for_before_a_number_are_remarked(text, expected):
    found = remarked(text)

    # Where the parser takes the word for a number, the near miss says so.
    marked = [f for f in found if f.element in ("to and for", "near miss")]
    assert len(marked) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("thank you holding short runway 27, good day", ["courtesy", "courtesy"]),
        ("uh holding short runway 27", ["hesitation"]),
        ("taxi via A then B and then hold short runway 27", []),
        ("holding position", []),
    ],
)
def test_courtesies_and_fillers_are_superfluous(text, expected):
    found = remarked(text)

    assert [finding.element for finding in found] == expected
    assert all(finding.status is Status.NOT_ISSUED for finding in found)


@pytest.mark.parametrize(
    ("text", "authority", "expected"),
    [
        # ICAO Doc 9432 2.8.3.7; SERA.14075; CAP 413: the callsign ends the answer.
        ("Larkspur 421, holding short runway 27", "icao", ["callsign place"]),
        ("Larkspur 421, holding short runway 27", "easa", ["callsign place"]),
        ("Larkspur 421, holding short runway 27", "uk", ["callsign place"]),
        # FAA AIM 4-2-3 c: at either end.
        ("Larkspur 421, holding short runway 27", "faa", []),
        ("holding short runway 27, Larkspur 421", "icao", []),
        ("Larkspur 421, holding short runway 27, Larkspur 421", "icao", []),
        # ICAO Doc 9432 4.5.5 prints it first beside AFFIRM.
        ("Larkspur 421, affirm", "icao", []),
        ("Larkspur 421", "icao", []),
    ],
)
def test_the_callsign_ends_an_answer_outside_the_us(text, authority, expected):
    assert kinds(text, authority) == expected


def test_an_instruction_starts_with_its_callsign():
    assert kinds("Larkspur 421, hold short runway 27", side="instruction") == []


@pytest.mark.parametrize(
    ("instruction", "readback", "expected"),
    [
        ("hold short runway 27", "roger, holding short runway 27", ["acknowledgement"]),
        ("hold short runway 27", "holding short runway 27, wilco", ["acknowledgement"]),
        # ICAO Doc 9432 4.4: WILCO answers the report.
        ("cross runway 18, report vacated", "crossing runway 18, wilco", []),
        ("hold short runway 27", "holding short runway 27", []),
        ("hold short runway 27", "roger", []),
    ],
)
def test_roger_beside_a_full_readback_is_superfluous(instruction, readback, expected):
    assert kinds(readback, instruction=instruction) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("brakes brakes set", ["repetition"]),
        ("QNH 1013, QNH 1013", ["repetition"]),
        ("brakes released, brakes released", ["repetition"]),
        # Two things, one state.
        ("doors closed, holds closed", []),
        ("QNH 1013, I say again, QNH 1013", []),
        # ICAO Doc 4444 12.3.4.11: STOP IMMEDIATELY is said twice.
        ("stop stop", []),
        # A route A A, and the digits of 33.
        ("taxi via A A hold short runway three three", []),
    ],
)
def test_what_is_said_twice_is_remarked(text, expected):
    assert kinds(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("taxi to holding point A1 via A B, runway 27, QNH 1013", []),
        ("taxi to holding point A1, QNH 1013, squawk 5501, contact tower 118.7", ["length"]),
    ],
)
def test_more_than_three_instructions_are_remarked(text, expected):
    assert kinds(text, side="instruction") == expected
    assert kinds(text, side="readback") == []


@pytest.mark.parametrize(
    ("authority", "source"),
    [("uk", "CAP 493, section 1 chapter 4 (from memory)"), ("icao", "common practice, no source")],
)
def test_the_limit_of_instructions_names_its_source(authority, source):
    text = "taxi to holding point A1, QNH 1013, squawk 5501, contact tower 118.7"

    assert remarked(text, authority, "instruction")[0].source == source


def test_a_correction_is_told_and_its_words_are_not_remarked():
    (found,) = remarked("contact tower 118.9 er correction 118.7")

    assert found.element == "correction"
    assert found.status is Status.CORRECT


def test_a_near_miss_is_told():
    (found,) = remarked("lining up runaway 27")

    assert (found.element, found.heard, found.expected) == ("near miss", "runaway", "runway")
    assert found.readback_span == (2, 3)


def test_a_short_callsign_before_the_controllers_is_told_once():
    # ICAO Annex 10 Volume II, 5.2.1.7.2 (from memory).
    verdict = check("G-ABCD hold short of runway 27", "holding short of runway 27, G-CD")

    advice = [f for f in verdict.findings if f.severity is Severity.ADVISORY]
    assert verdict.verdict == "correct"
    assert [(f.call, f.heard) for f in advice] == [("callsign", "G-CD")]


def test_most_published_exchanges_are_worded_well():
    faultless = ("icao", "faa", "uk")
    found = [
        (example["id"], finding.message)
        for example in EXAMPLES
        if example["jurisdiction"] in faultless and example["verdict"] == "correct"
        for finding in check(
            example["instruction"], example["readback"], authority=example["jurisdiction"]
        ).findings
        if finding.call == "wording" and finding.status in (Status.WRONG, Status.NOT_ISSUED)
    ]

    assert found == []


# ---- the table of the rules files ----------------------------------------------------------------


def book(*wording):
    return RuleBook(
        "icao",
        (
            RuleFile(
                authority="icao",
                title="Test",
                sources={"here": {"document": "Test manual", "seen": "seen", "paragraph": "1"}},
                wording=[{"says": "Because.", "source": "here", **item} for item in wording],
            ),
        ),
    )


def tabled(text, rules, side="readback"):
    found = remarks(parse(text, GRAMMAR), rules, side)
    return [(f.status, f.heard, f.expected) for f in found if f.element == "standard words"]


def test_words_of_the_table_are_found_with_what_to_say_instead():
    rules = book({"words": "affirmative", "status": "wrong", "offer": "AFFIRM"})

    (found,) = remarks(parse("Affirmative, Larkspur 421", GRAMMAR), rules, "readback")

    assert found.message == "do not say 'Affirmative': say AFFIRM"
    assert (found.rule, found.source) == ("Because.", "Test manual, 1 (seen)")
    assert (found.status, found.readback_span) == (Status.WRONG, (0, 1))


def test_the_status_of_a_word_tells_what_is_held_of_it():
    rules = book(
        {"words": "position and hold", "status": "wrong", "offer": "LINE UP AND WAIT"},
        {"words": "verify", "status": "tolerated", "offer": "CONFIRM"},
        {"words": "over", "status": "tolerated"},
        {"words": "copied", "status": "accepted", "offer": "ROGER"},
    )

    assert tabled("position and hold, verify, over, copied", rules) == [
        (Status.WRONG, "position and hold", "LINE UP AND WAIT"),
        (Status.CORRECT, "verify", "CONFIRM"),
        (Status.NOT_ISSUED, "over", None),
    ]


def test_the_longest_words_count_and_accepted_ones_cover_wrong_ones():
    rules = book(
        {"words": "clear", "status": "wrong", "offer": "CLEARED"},
        {"words": "all clear", "status": "accepted"},
        {"words": "clear of runway", "status": "tolerated", "offer": "RUNWAY VACATED"},
    )

    assert tabled("all clear", rules) == []
    assert tabled("clear of runway 27", rules) == [
        (Status.CORRECT, "clear of runway", "RUNWAY VACATED")
    ]


def test_words_count_on_their_side_only():
    rules = book({"words": "negative", "status": "wrong", "where": "instruction"})

    assert tabled("negative", rules, "readback") == []
    assert tabled("negative", rules, "instruction") == [(Status.WRONG, "negative", None)]


def test_words_count_in_their_family_only():
    rules = book({"words": "clear", "status": "wrong", "offer": "APPROVED", "family": "interphone"})

    assert tabled("clear to start", rules) == [(Status.WRONG, "clear", "APPROVED")]
    assert tabled("clear to cross runway 27", rules) == []


def test_words_of_the_table_are_remarked_once():
    rules = book(
        {"words": "please", "status": "tolerated"},
        {"words": "take off", "status": "wrong", "offer": "DEPARTURE"},
        {"words": "roger", "status": "tolerated"},
    )

    found = remarks(parse("roger ready for take-off please", GRAMMAR), rules, "readback")

    assert [finding.element for finding in found] == ["standard words"] * 3


def test_words_of_a_callsign_are_not_looked_up():
    rules = book({"words": "november", "status": "wrong"})

    assert tabled("holding position, November one two three four alfa", rules) == []


def test_words_of_an_instruction_that_belong_to_no_call_are_told():
    verdict = check(
        "larkspur 421 polish the sextant and hold short of runway 14",
        "holding short of runway 14 larkspur 421",
    )

    [left_over] = [finding for finding in verdict.findings if finding.element == "left over"]
    assert left_over.instruction_span == (2, 5)
    assert "'polish the sextant'" in left_over.message
    assert verdict.verdict == "correct"
