import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.judging.exchange import join_pauses, pair_transmissions
from readback.judging.rules import load_rules
from readback.phraseology.grammar import load_grammar
from readback.transmission import Transmission

HOLD = "larkspur 421 hold short of runway two seven left"
HOLDING = "holding short of runway two seven left larkspur 421"
CROSS = "larkspur 421 cross runway one four"
CROSSING = "crossing runway one four larkspur 421"
PUSH = "brakes released push back approved face north"


def pairs(*spoken: str | tuple[str, str]) -> list[tuple[str, str | None]]:
    """Pair transmissions, given as texts or as (station, text), 3 s apart."""
    transmissions = []
    for number, item in enumerate(spoken):
        station, text = (None, item) if isinstance(item, str) else item
        made = Transmission.typed(text)
        times = {"station": station, "start": number * 5.0, "end": number * 5.0 + 2.0}
        transmissions.append(made.model_copy(update=times))
    whole = join_pauses(transmissions)
    found = pair_transmissions(whole, load_grammar(), load_rules("icao"))
    return [
        (item.instruction.text, item.readback.text if item.readback else None) for item in found
    ]


@pytest.mark.parametrize(
    ("spoken", "expected"),
    [
        ([], []),
        ([HOLD], [(HOLD, None)]),
        ([HOLD, HOLDING], [(HOLD, HOLDING)]),
        ([HOLD, HOLDING, CROSS, CROSSING], [(HOLD, HOLDING), (CROSS, CROSSING)]),
        (["good morning", HOLD, HOLDING], [(HOLD, HOLDING)]),
        ([HOLD, "stand by", HOLDING], [(HOLD, HOLDING)]),
        (
            ["larkspur 421 stand by for push back", "standing by larkspur 421", HOLD, HOLDING],
            [
                ("larkspur 421 stand by for push back", "standing by larkspur 421"),
                (HOLD, HOLDING),
            ],
        ),
        ([HOLD, "say again", HOLD, HOLDING], [(HOLD, "say again"), (HOLD, HOLDING)]),
        ([HOLD, "roger"], [(HOLD, "roger")]),
        ([HOLD, "larkspur 421"], [(HOLD, "larkspur 421")]),
        ([HOLD, ""], [(HOLD, "")]),
        ([HOLD, "mumble"], [(HOLD, "mumble")]),
        (["", HOLD, HOLDING], [(HOLD, HOLDING)]),
    ],
)
def test_an_instruction_goes_with_the_transmission_after_it(spoken, expected):
    assert pairs(*spoken) == expected


def test_one_lost_instruction_does_not_turn_the_later_pairs_round():
    assert pairs(HOLDING, CROSS, CROSSING) == [(CROSS, CROSSING)]


def test_an_instruction_repeated_by_the_same_station_leaves_the_first_unanswered():
    found = pairs(("left", HOLD), ("left", CROSS), ("right", CROSSING))

    assert found == [(HOLD, None), (CROSS, CROSSING)]


def test_talk_of_the_same_station_is_not_its_own_readback():
    found = pairs(("left", HOLD), ("left", "good morning"), ("right", HOLDING))

    assert found == [(HOLD, HOLDING)]


def test_either_station_may_instruct():
    found = pairs(("right", CROSS), ("left", CROSSING), ("left", HOLD), ("right", HOLDING))

    assert found == [(CROSS, CROSSING), (HOLD, HOLDING)]


def spoken_at(text: str, start: float, end: float, station: str | None) -> Transmission:
    made = Transmission.typed(text)
    return made.model_copy(update={"start": start, "end": end, "station": station})


@pytest.mark.parametrize(
    ("station", "pause_s", "count"), [("left", 1.0, 1), ("left", 2.0, 2), (None, 1.0, 2)]
)
def test_a_short_pause_ends_no_transmission_where_stations_are_known(station, pause_s, count):
    first = spoken_at("larkspur 421 taxi via alfa", 0.0, 2.0, station)
    second = spoken_at("hold short of runway one four", 2.0 + pause_s, 6.0, station)

    joined = join_pauses([first, second])

    assert len(joined) == count
    assert joined[-1].end == 6.0
    assert " ".join(item.text for item in joined) == f"{first.text} {second.text}"


STATIONS = st.sampled_from(["left", "right", None])
TEXTS = st.sampled_from([HOLD, HOLDING, CROSS, CROSSING, PUSH, "roger", "stand by", "", "mumble"])


@given(st.lists(st.tuples(STATIONS, TEXTS), max_size=8))
def test_no_transmission_is_in_two_exchanges(spoken):
    found = pairs(*spoken)

    used = [text for pair in found for text in pair if text is not None]
    assert len(used) <= len(spoken)
    assert sorted(used) == sorted(
        text for text in dict.fromkeys(used) for _ in range(used.count(text))
    )
