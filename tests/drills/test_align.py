"""A whole exchange aligned with its drill, however damaged it is."""

import random
from itertools import pairwise

import pytest

from readback.drills.align import align, name_stations
from readback.drills.engine import DrillRun

from .planting import CATALOGUE, Line, damaged, faithful, plan_of

EXCHANGES = 1000
EXTRA = tuple(
    Line(None, station, text)
    for station, text in [
        ("flight_deck", "thank you, good day"),
        ("headset", "er, well"),
        ("flight_deck", "information sierra"),
        ("controller", "northgate seven three, squawk four four one two"),
        ("other_aircraft", "squawking four four one two, northgate seven three"),
        ("headset", "lovely weather today"),
    ]
)


def exchanges_of(name: str, count: int):
    for number in range(count):
        # Other exchanges than those with which the weights of the alignment were chosen.
        rng = random.Random(f"held out {name} {number}")
        plan = plan_of(name, number % 3)
        lines = faithful(plan, rng if number % 4 == 0 else None)
        yield plan, damaged(lines, EXTRA, rng)


def test_the_step_of_each_transmission_of_1000_damaged_exchanges_is_right_in_99_percent():
    right = total = exchanges = 0
    share = -(-EXCHANGES // len(CATALOGUE))
    for name in CATALOGUE:
        runs = {}
        for plan, lines in exchanges_of(name, share):
            run = runs.setdefault(plan.seed, DrillRun(plan))
            found = align(run, [line.transmission for line in lines])
            right += sum(a == line.due for a, line in zip(found, lines, strict=True))
            total += len(lines)
            exchanges += 1

    assert exchanges >= EXCHANGES
    assert right / total >= 0.99, (right, total)


def needed_by_hand(scores: list[list[float]], dues: int, at: int = 0, due: int = 0) -> float:
    """Try every alignment: the slow, plainly right way."""
    from readback.drills import align as module

    if at == len(scores):
        return module._LEFT_OUT * (dues - due)
    options = [module._EXTRA + needed_by_hand(scores, dues, at + 1, due)]
    if due < dues:
        if scores[at][due] >= module.FITS:
            options.append(scores[at][due] + needed_by_hand(scores, dues, at + 1, due + 1))
        if at + 1 < len(scores) and due + 1 < dues:
            swapped = scores[at][due + 1], scores[at + 1][due]
            if min(swapped) >= module.FITS:
                rest = needed_by_hand(scores, dues, at + 2, due + 2)
                options.append(sum(swapped) + module._SWAPPED + rest)
        options.append(module._LEFT_OUT + needed_by_hand(scores, dues, at, due + 1))
    return max(options)


@pytest.mark.parametrize("seed", range(30))
def test_the_alignment_is_the_best_of_all(seed):
    from readback.drills import align as module

    rng = random.Random(seed)
    rows, dues = rng.randint(0, 6), rng.randint(0, 6)
    scores = [[rng.choice((0.0, 0.5, 1.0, 1.5)) for _ in range(dues)] for _ in range(rows)]

    placed = module.needleman_wunsch(scores, dues)

    kept = [number for number in placed if number is not None]
    total = sum(scores[row][number] for row, number in enumerate(placed) if number is not None)
    total += module._LEFT_OUT * (dues - len(kept)) + module._EXTRA * (rows - len(kept))
    total += module._SWAPPED * sum(one > other for one, other in pairwise(kept))
    assert len(kept) == len(set(kept))
    assert total == pytest.approx(needed_by_hand(scores, dues))


def test_stations_need_not_be_known():
    plan = plan_of("push_back_tow_bar", 0)
    lines = faithful(plan)
    spoken = [line.transmission.model_copy(update={"station": None}) for line in lines]

    assert align(DrillRun(plan), spoken) == tuple(line.due for line in lines)


@pytest.mark.parametrize("name", CATALOGUE)
def test_channels_are_named_by_what_was_said_in_them(name):
    plan = plan_of(name, 0)
    rng = random.Random(name)
    lines = damaged(faithful(plan), EXTRA, rng)
    channels = {station: f"channel {at}" for at, station in enumerate({x.station for x in lines})}
    own = [line for line in lines if line.due is not None]
    spoken = [
        line.transmission.model_copy(update={"station": channels[line.station]}) for line in own
    ]

    named = name_stations(DrillRun(plan), spoken)

    assert named == {channels[line.station]: line.station for line in own}


def test_of_more_channels_than_stations_some_are_not_named():
    plan = plan_of("push_back_tow_bar", 0)
    lines = faithful(plan)
    spoken = [
        line.transmission.model_copy(update={"station": f"{line.station} {at % 2}"})
        for at, line in enumerate(lines)
    ]

    named = name_stations(DrillRun(plan), spoken)

    assert len(named) == len({line.station for line in lines})
    assert all(channel.startswith(station) for channel, station in named.items())


def test_a_recording_without_channels_names_none():
    assert name_stations(DrillRun(plan_of("push_back_tow_bar", 0)), []) == {}
