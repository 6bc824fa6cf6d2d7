"""Who spoke in one mixed channel, on drills whose own calls were not counted."""

import random

import pytest

from readback.drills.files import find_drills, load_drill
from readback.errors import InputError
from readback.judging.exchange import pair_transmissions
from readback.judging.rules import load_rules
from readback.replay.speakers import STATIONS, Speakers, load_speakers
from readback.replay.stations import read_station
from readback.transmission import Transmission
from tests.drills.planting import CATALOGUE, GRAMMAR, faithful, plan_of

HELD_OUT = [name for name in CATALOGUE if name[0] > "h"]
"""The weights were chosen on the others."""
DRILLS = {name: load_drill(path) for name, path in find_drills().items()}


def spoken_lines(name, seed, rng):
    """Say a drill in wordings drawn at random, and lose one line in ten."""
    plan = plan_of(name, seed)
    lines = faithful(plan, rng if seed else None)
    return plan, [line for line in lines if not plan.dues[line.due].signal and rng.random() > 0.1]


def timed(lines):
    return [
        Transmission.typed(line.text).model_copy(update={"start": 10.0 * n, "end": 10.0 * n + 3})
        for n, line in enumerate(lines)
    ]


def test_most_speakers_of_unknown_drills_are_told_by_what_they_say():
    rng = random.Random("speakers")
    right = total = 0
    for name in HELD_OUT:
        others = [drill for other, drill in DRILLS.items() if other != name]
        speakers = Speakers(others, GRAMMAR)
        for seed in range(3):
            _, lines = spoken_lines(name, seed, rng)
            named = speakers.name(timed(lines))
            told = [(line.station, one) for line, one in zip(lines, named, strict=True)]
            right += sum(station == one for station, one in told if station in STATIONS)
            total += sum(station in STATIONS for station, _ in told)

    print(f"{right} of {total} speakers right ({right / total:.1%})")
    assert right / total >= 0.8, (right, total)


def test_pairs_are_found_more_surely_with_stations_than_without():
    rng = random.Random("pairs")
    found = {"with": 0, "without": 0}
    right = dict(found)
    total = 0
    for name in HELD_OUT:
        plan, lines = spoken_lines(name, 1, rng)
        rules = load_rules(plan.setting.authority)
        places = {line.due: n for n, line in enumerate(lines)}
        truth = {
            (places[plan.dues[line.due].answers], n)
            for n, line in enumerate(lines)
            if plan.dues[line.due].answers in places
        }
        spoken = timed(lines)
        others = [drill for other, drill in DRILLS.items() if other != name]
        named = [
            one.model_copy(update={"station": station})
            for one, station in zip(spoken, Speakers(others, GRAMMAR).name(spoken), strict=True)
        ]
        for how, said in (("with", named), ("without", spoken)):
            pairs = {
                (int(one.instruction.start // 10), int(one.readback.start // 10))
                for one in pair_transmissions(said, GRAMMAR, rules)
                if one.readback is not None
            }
            found[how] += len(pairs)
            right[how] += len(pairs & truth)
        total += len(truth)

    print(f"pairs: {right} right of {found} found, {total} there are")
    assert right["with"] > right["without"]
    assert right["with"] / found["with"] > right["without"] / found["without"]


@pytest.mark.parametrize(
    ("said", "stations"),
    [
        # ICAO Annex 10 Volume II, 5.2.1.9.2 (the callsign ends a readback); from memory.
        (
            ["larkspur 421 hold short of runway 27L", "holding short of runway 27L larkspur 421"],
            ["controller", "flight_deck"],
        ),
        # ICAO Doc 4444 (PANS-ATM), 16th edition 2016, 12.7.1.2: the ground crew asks for brakes.
        (["confirm brakes released", "brakes released"], ["headset", "flight_deck"]),
        (["cleared to start number two", "starting number two"], ["headset", "flight_deck"]),
    ],
)
def test_published_exchanges_are_given_to_their_stations(said, stations):
    spoken = [Transmission.typed(text) for text in said]

    assert load_speakers(GRAMMAR).name(spoken) == stations


def test_what_a_person_says_moves_its_neighbour_too():
    spoken = [Transmission.typed(text) for text in ("chocks removed", "chocks removed")]
    speakers = load_speakers(GRAMMAR)

    assert speakers.name(spoken) == ["headset", "flight_deck"]
    assert speakers.name(spoken, {0: "flight_deck"}) == ["flight_deck", "headset"]
    assert speakers.name(spoken, {0: "wing_walker"})[0] == "wing_walker"


def test_what_was_not_understood_is_nobodys():
    assert load_speakers(GRAMMAR).name([Transmission()]) == [None]
    assert load_speakers(GRAMMAR).name([]) == []


@pytest.mark.parametrize("first", ["left", "right"])
def test_a_channel_is_one_station_whatever_its_side(first):
    second = "right" if first == "left" else "left"
    texts = ["larkspur 421 hold short of runway 27L", "holding short of runway 27L larkspur 421"]
    spoken = [
        Transmission.typed(text).model_copy(update={"station": channel})
        for text, channel in zip(texts, (first, second), strict=True)
    ]

    named = load_speakers(GRAMMAR).name_channels(spoken)

    assert named == {first: "controller", second: "flight_deck"}


def test_one_channel_with_speech_is_named_as_well():
    spoken = Transmission.typed("holding short of runway 27L larkspur 421")
    said = [spoken.model_copy(update={"station": "left"})]

    assert load_speakers(GRAMMAR).name_channels(said) == {"left": "flight_deck"}


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("3=headset", ("3", "headset")),
        ("03 = Flight deck", ("3", "flight_deck")),
        ("left=tow-driver", ("left", "tow_driver")),
    ],
)
def test_stations_are_read_as_they_are_typed(typed, read):
    assert read_station(typed) == read


@pytest.mark.parametrize("typed", ["headset", "0=headset", "-1=headset", "3=pilots", "=", "\x1b=a"])
def test_what_is_no_station_is_told(typed):
    with pytest.raises(InputError):
        read_station(typed)
