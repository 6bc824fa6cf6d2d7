from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest

from readback.data import data_directory
from readback.errors import InputError
from readback.judging.check import check
from readback.judging.local import load_local
from readback.records.correcting import reword
from readback.records.model import CorrectionKind, SessionHead
from readback.records.store import Store
from readback.records.versions import content_hash
from readback.transmission import Transmission, Word
from tests.records.conftest import CROSS, CROSSED_RIGHT, HELD, HOLD

RIGHT_SIDE = "crossing runway two seven left larkspur 421"
WORDS, STATION = CorrectionKind.WORDS, CorrectionKind.STATION
PAIRING, VERDICT = CorrectionKind.PAIRING, CorrectionKind.VERDICT
BY = {"by": "Ines Marlow", "why": "Listened again."}


def outcomes(session) -> list[str]:
    return [exchange.outcome.value for exchange in session.exchanges]


def test_corrected_words_are_judged_again_and_the_original_stays(store, keep_session):
    session_id = keep_session()

    session = store.correct(session_id, WORDS, 4, RIGHT_SIDE, **BY)

    assert outcomes(session) == ["correct", "correct"]
    assert session.score.result == "passed"
    assert session.transmission(4).original.text == CROSSED_RIGHT
    assert session.transmission(4).current.text == RIGHT_SIDE
    assert [exchange.outcome for exchange in session.first_exchanges] == ["correct", "incorrect"]
    (correction,) = session.corrections
    assert (correction.original, correction.corrected) == (CROSSED_RIGHT, RIGHT_SIDE)
    assert (correction.by, correction.why) == ("Ines Marlow", "Listened again.")
    assert correction.at.isoformat() == "2026-03-02T09:30:00+00:00"
    assert store.load(session_id) == session


def test_a_second_correction_names_the_first_as_what_stood_before(store, keep_session):
    session_id = keep_session()
    store.correct(session_id, WORDS, 4, RIGHT_SIDE, **BY)

    session = store.correct(session_id, WORDS, 4, "crossing", **BY)

    assert session.corrections[1].original == RIGHT_SIDE
    assert outcomes(session)[1] != "correct"
    assert session.transmission(4).original.text == CROSSED_RIGHT


def test_words_that_become_an_instruction_open_an_exchange(store, keep_session):
    session_id = keep_session(texts=((HOLD, HELD), ("larkspur 421 good day", "crossing")))
    assert len(store.load(session_id).exchanges) == 2

    session = store.correct(session_id, WORDS, 3, CROSS, **BY)

    pairs = [(exchange.instruction, exchange.readback) for exchange in session.exchanges]
    assert pairs == [(1, 2), (3, 4)]


def test_a_corrected_station_changes_what_answers_what(store, keep_session):
    session_id = keep_session(texts=((HOLD, HELD),))

    session = store.correct(session_id, STATION, 2, "tower", **BY)

    # Both of one station and within its longest pause: one transmission without an answer.
    assert session.transmission(2).current.station == "tower"
    assert [exchange.readback for exchange in session.exchanges] == [None]


def test_a_corrected_pairing_takes_its_transmissions_out_of_other_pairs(store, keep_session):
    session_id = keep_session()

    session = store.correct(session_id, PAIRING, 3, 2, **BY)

    pairs = [(exchange.instruction, exchange.readback) for exchange in session.exchanges]
    assert (3, 2) in pairs
    assert [pair for pair in pairs if 2 in pair] == [(3, 2)]
    assert session.corrections[0].original == 4


def test_a_session_without_any_instruction_left_has_no_exchange(store, keep_session):
    session_id = keep_session(texts=((HOLD, HELD),))

    session = store.correct(session_id, PAIRING, 1, "none", **BY)

    assert session.exchanges == ()
    assert store.load(session_id).exchanges == ()
    assert len(session.first_exchanges) == 1


def test_pairs_that_a_drill_gave_stay_when_words_are_corrected(store, keep_session):
    session_id = keep_session(pairing="given")

    session = store.correct(session_id, WORDS, 1, "larkspur 421 good day", **BY)

    assert [(one.instruction, one.readback) for one in session.exchanges] == [(1, 2), (3, 4)]


def test_a_corrected_verdict_counts_and_the_programs_stays(store, keep_session):
    session_id = keep_session()

    session = store.correct(session_id, VERDICT, 3, "correct", **BY)

    exchange = session.exchanges[1]
    assert (exchange.outcome, exchange.outcome_by) == ("correct", "Ines Marlow")
    assert exchange.verdict.verdict == "incorrect"
    assert session.score.pass_rate == 1.0


def test_a_persons_verdict_ends_when_its_words_are_corrected(store, keep_session):
    session_id = keep_session()
    store.correct(session_id, VERDICT, 3, "correct", **BY)

    session = store.correct(session_id, WORDS, 4, "crossing runway one four larkspur 421", **BY)

    assert (session.exchanges[1].outcome, session.exchanges[1].outcome_by) == ("incorrect", None)


def test_a_persons_verdict_outlives_corrections_elsewhere(store, keep_session):
    session_id = keep_session()
    store.correct(session_id, VERDICT, 3, "correct", **BY)

    session = store.correct(session_id, WORDS, 2, "wilco", **BY)

    assert outcomes(session) == ["incomplete", "correct"]


def test_of_two_tries_at_one_instruction_the_readback_says_which_verdict_is_corrected(store):
    head = SessionHead(training="x", training_date=date(2026, 3, 1), trainee="Ann", pairing="given")
    session_id = store.begin(head)
    for text in (HOLD, "wilco", "roger"):
        store.keep_transmission(session_id, Transmission.typed(text))
    for number in (2, 3):
        said = store.load(session_id).transmission(number).current
        verdict = check(HOLD, said)
        store.keep_verdict(session_id, verdict, instruction=1, readback=number)

    first = store.correct(session_id, VERDICT, 3, "correct", **BY)
    second = store.correct(session_id, VERDICT, 2, "say again", **BY)

    assert outcomes(first) == ["incomplete", "correct"]
    assert outcomes(second) == ["say again", "correct"]


def test_result_and_remarks_are_corrected_with_what_stood_before(store, keep_session):
    session_id = keep_session()
    store.correct(session_id, CorrectionKind.RESULT, None, "passed", **BY)

    session = store.correct(session_id, CorrectionKind.REMARKS, None, "Better.", **BY)

    assert session.score.result == "passed"
    assert session.head.remarks == "Better."
    assert session.corrections[1].original == "Watch the sides."


@pytest.mark.parametrize(
    ("kind", "target", "corrected", "told"),
    [
        (WORDS, 9, "x", "no transmission 9"),
        (WORDS, None, "x", "no transmission"),
        (WORDS, 1, "\udcff", "no character"),
        (PAIRING, 1, 1, "cannot answer itself"),
        (PAIRING, 1, 7, "no transmission 7"),
        (PAIRING, 1, "two", "is no transmission"),
        (VERDICT, 5, "correct", "no exchange with transmission 5"),
        (VERDICT, 1, "good", "is no verdict"),
        (CorrectionKind.RESULT, None, "excellent", "is no result"),
    ],
)
def test_a_correction_of_nothing_is_refused(store, keep_session, kind, target, corrected, told):
    session_id = keep_session()

    with pytest.raises(InputError, match=told):
        store.correct(session_id, kind, target, corrected, **BY)

    assert store.load(session_id).corrections == ()


@pytest.mark.parametrize(("by", "why"), [("", "why"), ("who", ""), ("who", "  ")])
def test_a_correction_without_name_or_reason_is_refused(store, keep_session, by, why):
    session_id = keep_session()

    with pytest.raises(InputError, match="a name and a reason"):
        store.correct(session_id, WORDS, 1, "x", by=by, why=why)


def test_words_that_stay_keep_their_times():
    heard = Transmission(
        words=(
            Word(word="hold", start=0.1, end=0.4, certainty=0.3),
            Word(word="shirt", start=0.4, end=0.8, certainty=0.2),
        ),
        start=0.0,
        end=1.0,
    )

    corrected = reword(heard, "hold short")

    assert corrected.words == (Word(word="hold", start=0.1, end=0.4), Word(word="short"))
    assert (corrected.start, corrected.end) == (0.0, 1.0)


LARKSPUR = data_directory("grammars").parent / "docs" / "examples" / "larkspur"
PUSH = "larkspur standard push tail to the red line"


def test_corrections_are_judged_by_the_wording_of_the_session(where, store, head):
    local = load_local(LARKSPUR)
    session_id = store.begin(head(), local=local)
    for text, station in ((PUSH, "flight deck"), ("good morning", "headset")):
        said = Transmission.typed(text)
        store.keep_transmission(session_id, said.model_copy(update={"station": station}))
    store.finish(session_id)

    # Another desk, which has no such directory.
    with Store(where) as desk:
        wrong = desk.correct(session_id, WORDS, 2, PUSH.replace("red", "blue"), **BY)
        right = desk.correct(session_id, WORDS, 2, PUSH, **BY)

    (exchange,) = right.exchanges
    assert outcomes(wrong) == ["incorrect"]
    assert outcomes(right) == ["correct"]
    assert exchange.verdict.findings[0].call == "standard_push"
    assert right.head.local_version == content_hash(*local.grammars, *local.rules)


def test_the_authority_of_the_session_judges_its_corrections(store, keep_session):
    texts = (("larkspur 421 taxi to holding point a1", "x"),)
    sessions = [keep_session(texts=texts, authority=name) for name in ("icao", "faa")]

    judged = [store.correct(number, WORDS, 2, "roger", **BY) for number in sessions]

    assert {exchange.verdict.authority for one in judged for exchange in one.exchanges} == {
        "icao",
        "faa",
    }


def test_details_are_corrected_with_what_stood_before(store, keep_session):
    session_id = keep_session()
    right = {"trainee": "Tom Oakley", "topics": ["push back"], "assessment_date": "2026-03-03"}

    session = store.correct(session_id, CorrectionKind.DETAILS, None, right, **BY)

    assert (session.head.trainee, session.head.topics) == ("Tom Oakley", ("push back",))
    assert session.head.assessment_date == date(2026, 3, 3)
    assert session.corrections[0].original == {
        "trainee": "Tam Oakley",
        "topics": ["hold short", "crossing"],
        "assessment_date": "2026-03-02",
    }
    assert [one.id for one in store.sessions(trainee="Tom Oakley")] == [session_id]
    assert store.load(session_id) == session


@pytest.mark.parametrize(
    ("details", "told"),
    [
        ({}, "no such detail"),
        ({"engine": "vosk"}, "no such detail"),
        ({"assessment_date": "soon"}, "assessment date: input should be"),
        ({"trainee": ""}, "trainee: is empty"),
        ({"pass_mark": 80}, "pass mark: is not 1.0 or less"),
    ],
)
def test_details_that_cannot_be_kept_are_refused(store, keep_session, details, told):
    session_id = keep_session()

    with pytest.raises(InputError, match=told):
        store.correct(session_id, CorrectionKind.DETAILS, None, details, **BY)


def test_two_desks_that_correct_one_session_at_once_lose_nothing(where, store, keep_session):
    session_id = keep_session()

    def correct(desk: int) -> None:
        with Store(where) as own:
            for number in range(8):
                text = f"{desk} {number}"
                own.correct(session_id, CorrectionKind.REMARKS, None, text, by="I", why="w")

    with ThreadPoolExecutor(2) as desks:
        list(desks.map(correct, range(2)))

    corrections = store.load(session_id).corrections
    assert [one.number for one in corrections] == list(range(1, 17))
    assert {one.corrected for one in corrections} == {f"{d} {n}" for d in (0, 1) for n in range(8)}
    # Each one names what stood before it, whichever desk wrote that.
    befores = [one.original for one in corrections]
    assert befores == ["Watch the sides.", *(one.corrected for one in corrections[:-1])]


# ---- how certain a verdict must be ---------------------------------------------------------------

HEARD = 0.7
"""Certainty of each word in the tests below: enough for one channel, too little for another."""


def heard(text: str, station: str, start: float, channel: str | None) -> Transmission:
    words = tuple(Word(word=word, certainty=HEARD) for word in text.split())
    times = {"station": station, "start": start, "end": start + 3.0}
    return Transmission(words=words, channel=channel, **times)


def keep_heard(store, head, channels, own) -> int:
    """Keep instruction and readback, both heard, with what each channel asks for."""
    session_id = store.begin(head(least_certainty=0.92))
    for number, (text, channel) in enumerate(zip((HOLD, HELD), channels, strict=True)):
        said = heard(text, ("tower", "flight deck")[number], 4.0 * number, channel)
        store.keep_transmission(session_id, said, least_certainty=own[number])
    store.finish(session_id)
    return session_id


@pytest.mark.parametrize(
    ("channels", "own", "outcome"),
    [
        (("radio", "radio"), (0.5, 0.5), "correct"),
        (("radio", "noisy"), (0.5, 0.92), "say again"),
        # A channel that was not found counts only where none was.
        ((None, "radio"), (0.8, 0.5), "correct"),
        ((None, None), (0.8, 0.8), "say again"),
        # Kept before each transmission had its own: the session's counts.
        (("radio", "radio"), (None, None), "say again"),
    ],
)
def test_what_is_judged_again_must_be_as_certain_as_its_channels_ask(
    store, head, channels, own, outcome
):
    session_id = keep_heard(store, head, channels, own)

    session = store.correct(session_id, STATION, 1, "ground", **BY)

    assert outcomes(session) == [outcome]
    assert tuple(one.least_certainty for one in session.transmissions) == own


@pytest.mark.parametrize(("number", "outcome"), [(1, "say again"), (2, "correct")])
def test_what_a_person_worded_asks_for_no_certainty(store, head, number, outcome):
    session_id = keep_heard(store, head, ("radio", "noisy"), (0.5, 0.92))
    text = (HOLD, HELD)[number - 1]

    session = store.correct(session_id, WORDS, number, text, **BY)

    assert outcomes(session) == [outcome]


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Tow Driver", "tow_driver"),
        ("flight_deck", "flight_deck"),
        # The session's own spelling counts first, and what no drill has stays as it is typed.
        ("flight deck", "flight deck"),
        ("Ramp boss", "Ramp boss"),
    ],
)
def test_a_station_is_kept_as_the_drills_name_it(store, keep_session, typed, kept):
    session_id = keep_session()

    session = store.correct(session_id, STATION, 1, typed, **BY)

    assert session.transmission(1).current.station == kept
