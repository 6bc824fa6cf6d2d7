from collections import Counter

import pytest

from readback.errors import InputError
from readback.judging.check import check
from readback.judging.mistakes import ErrorKind
from readback.judging.model import Outcome, Status
from readback.judging.pairs import make_pairs
from readback.judging.rules import AUTHORITIES

EACH = 5_000
SEED = 2026
# What asks about something said before, and a wording refused since 2010.
NOT_INSTRUCTED = {"acknowledge", "read_back", "confirm", "cancel", "position_and_hold"}
AT_MOST_MISSED = 1 / 1_000


def is_found(pair, verdict):
    wanted = (pair.call, pair.element, pair.status)
    found = [(item.call, item.element, item.status) for item in verdict.mistakes]
    return verdict.verdict == pair.verdict and wanted in found


@pytest.fixture(scope="module")
def judged():
    """Every pair with its verdict: 20,000, half of them faithful."""
    return [
        (pair, check(pair.instruction, pair.readback, authority=authority))
        for authority in AUTHORITIES
        for pair in make_pairs(EACH, SEED, authority)
    ]


def test_no_faithful_readback_is_rejected(judged):
    faithful = [(pair, verdict) for pair, verdict in judged if pair.error is None]

    rejected = [
        (pair.authority, pair.instruction, pair.readback, [item.message for item in found.mistakes])
        for pair, found in faithful
        if found.verdict != Outcome.CORRECT
    ]
    print(f"faithful readbacks: {len(faithful)}, rejected: {len(rejected)}")
    assert len(faithful) == len(AUTHORITIES) * EACH // 2
    assert rejected == []


def test_planted_errors_are_found_where_they_are(judged):
    planted = [(pair, verdict) for pair, verdict in judged if pair.error is not None]

    made, missed = Counter(), Counter()
    for pair, verdict in planted:
        for group in (pair.error.value, pair.authority):
            made[group] += 1
            missed[group] += not is_found(pair, verdict)
    for group, count in made.items():
        print(f"{group}: {count} made, {missed[group]} missed")
    total = sum(missed[authority] for authority in AUTHORITIES)
    assert len(planted) == len(AUTHORITIES) * EACH // 2
    assert total <= AT_MOST_MISSED * len(planted)


def test_a_planted_error_accuses_nothing_else(judged):
    """Roger in place of a readback and a part that stands for two calls show more than once."""
    elsewhere = [
        (pair.error, pair.instruction, pair.readback, accused)
        for pair, verdict in judged
        if pair.error not in (None, ErrorKind.ACKNOWLEDGED)
        for accused in [{item.call for item in verdict.mistakes} - {pair.call}]
        if accused - related(pair)
    ]

    assert len(elsewhere) <= AT_MOST_MISSED * len(judged), elsewhere


def related(pair):
    if pair.error in (ErrorKind.CROSS_FOR_HOLD_SHORT, ErrorKind.HOLD_SHORT_FOR_CROSS):
        return {"cross", "hold_short"}
    return {"push_back", "start_up"} if pair.call == "push_back" else set()


def test_every_kind_of_error_is_made(judged):
    made = Counter(pair.error for pair, _ in judged if pair.error is not None)

    assert set(made) == set(ErrorKind)
    assert min(made.values()) >= 100


def test_every_call_with_a_rule_is_instructed(judged):
    from readback.judging.rules import load_rules

    instructed = {call.name for _, verdict in judged for call in verdict.instruction.calls}

    rules = load_rules("icao")
    due = {name for name, rule in rules.calls.items() if not rule.stands_for}
    assert due - NOT_INSTRUCTED <= instructed


def test_runway_errors_are_critical(judged):
    kinds = (ErrorKind.CROSS_FOR_HOLD_SHORT, ErrorKind.DROPPED_HOLD_SHORT)
    severities = {
        item.severity
        for pair, verdict in judged
        if pair.error in kinds
        for item in verdict.mistakes
        if item.call == pair.call
    }

    assert severities == {"critical"}


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_equal_seeds_make_equal_pairs(authority):
    assert list(make_pairs(40, 3, authority)) == list(make_pairs(40, 3, authority))
    assert list(make_pairs(40, 3, authority)) != list(make_pairs(40, 4, authority))


def test_faithful_readbacks_are_more_than_echoes():
    pairs = [pair for pair in make_pairs(400, 1) if pair.error is None]

    echoes = [pair for pair in pairs if pair.instruction == pair.readback]
    assert len(echoes) < len(pairs) / 10


# FAA JO 7110.65, 2-4-3 note 1a: an altimeter setting may be acknowledged; ICAO Doc 4444, 16th
# edition, 4.5.7.5.1 c: it is always read back. Leaving it out is an error to one of them only.
@pytest.mark.parametrize(("authority", "known"), [("icao", True), ("faa", False)])
def test_what_is_an_error_comes_from_the_rules(authority, known):
    dropped = {
        pair.call
        for pair in make_pairs(4_000, 1, authority)
        if pair.error is ErrorKind.DROPPED_SETTING
    }

    assert ("qnh" in dropped) is known


def test_a_pair_without_an_error_expects_correct():
    for pair in make_pairs(200, 1):
        assert (pair.error is None) is (pair.verdict is Outcome.CORRECT)
        assert (pair.status is Status.MISSING) is (pair.verdict is Outcome.INCOMPLETE)


def test_an_unknown_authority_is_an_input_error():
    with pytest.raises(InputError, match="no authority"):
        next(make_pairs(1, 1, "atlantis"))
