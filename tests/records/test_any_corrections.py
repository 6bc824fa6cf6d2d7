"""Whatever is corrected in whatever order: all verdicts are those of the words as they stand."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from readback.errors import InputError
from readback.judging.check import check
from readback.judging.exchange import pair_transmissions
from readback.judging.model import Outcome
from readback.judging.rules import load_rules
from readback.phraseology.grammar import load_grammar
from readback.records.model import CorrectionKind, KeptSession, SessionHead
from readback.records.store import Store
from readback.transmission import Transmission
from tests.records.conftest import CROSS, CROSSED_RIGHT, HELD, HOLD, NOW

WORDS = st.sampled_from(
    [HOLD, HELD, CROSS, CROSSED_RIGHT, "roger", "", "good day", "release brakes", "brakes set"]
)
STATIONS = st.sampled_from(["tower", "flight deck", ""])
NUMBERS = st.integers(1, 6)
CORRECTIONS = st.one_of(
    st.tuples(st.just(CorrectionKind.WORDS), NUMBERS, WORDS),
    st.tuples(st.just(CorrectionKind.STATION), NUMBERS, STATIONS),
    st.tuples(st.just(CorrectionKind.PAIRING), NUMBERS, st.one_of(st.just("none"), NUMBERS)),
    st.tuples(st.just(CorrectionKind.VERDICT), NUMBERS, st.sampled_from([*map(str, Outcome)])),
)
HEAD = SessionHead(training="T", trainee="Tam", training_date=NOW.date(), authority="uk")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("any") / "records.sqlite3") as store:
        yield store


def keep(store: Store, texts: list[str]) -> int:
    session_id = store.begin(HEAD)
    for number, text in enumerate(texts):
        spoken = {"start": 4.0 * number, "end": 4.0 * number + 2.0}
        station = ("tower", "flight deck")[number % 2]
        said = Transmission.typed(text).model_copy(update={**spoken, "station": station})
        store.keep_transmission(session_id, said)
    store.finish(session_id)
    return session_id


@settings(max_examples=25, deadline=None)
@given(st.lists(WORDS, min_size=1, max_size=6), st.lists(CORRECTIONS, min_size=1, max_size=6))
def test_every_verdict_is_that_of_the_words_as_they_stand(store, texts, corrections):
    session_id = keep(store, texts)
    done = 0
    for kind, target, right in corrections:
        try:
            session = store.correct(session_id, kind, target, right, by="Ines", why="Heard it.")
        except InputError:
            continue
        done += 1
        assert store.load(session_id) == session
        assert len(session.corrections) == done
        assert [one.original.text for one in session.transmissions] == texts
        assert_judged_as_it_stands(session)


def assert_judged_as_it_stands(session: KeptSession) -> None:
    current = {one.number: one.current for one in session.transmissions}
    for exchange in session.exchanges:
        answer = "" if exchange.readback is None else current[exchange.readback]
        fresh = check(current[exchange.instruction], answer, authority=HEAD.authority)
        assert exchange.verdict == fresh
    kinds = {one.kind for one in session.corrections}
    if CorrectionKind.PAIRING in kinds:
        return
    # Nothing was judged as these were kept: what is there was found after a correction.
    found = []
    if kinds & {CorrectionKind.WORDS, CorrectionKind.STATION}:
        rules = load_rules(HEAD.authority)
        found = pair_transmissions(list(current.values()), load_grammar(), rules)
    assert [current[one.instruction].text for one in session.exchanges] == [
        one.instruction.text for one in found
    ]
    assert [one.readback and current[one.readback].text for one in session.exchanges] == [
        one.readback and one.readback.text for one in found
    ]
