"""Every drill of the catalogue: faithful answers find no fault, each planted fault is found."""

import random
from functools import lru_cache

import pytest

from readback.drills.files import find_drills, load_drill
from readback.drills.plan import make_plan
from readback.drills.trial import play

from .planting import CATALOGUE, FAULTS, GRAMMAR, Faulty, faithful, plan_of, played

SEEDS = 2
RUNS = -(-400 // (len(CATALOGUE) * len(FAULTS)))
"""Runs of each drill with each kind of fault: 400 or more in all."""


@lru_cache(maxsize=1024)
def faulty_runs(name: str, kind: str) -> list[tuple[int, Faulty]]:
    runs = []
    for seed in range(RUNS):
        plan = plan_of(name, seed)
        rng = random.Random(f"{name} {kind} {seed}")
        planted = FAULTS[kind](plan, faithful(plan), rng)
        if planted is not None:
            runs.append((seed, planted))
    return runs


@pytest.mark.parametrize("name", CATALOGUE)
def test_faithful_answers_find_no_fault(name):
    for seat in load_drill(find_drills()[name]).seats:
        for seed in range(SEEDS):
            for rng in (None, random.Random(seed)):
                plan = plan_of(name, seed, seat)
                run = played(plan, faithful(plan, rng))

                faults = [event.message for event in run.events if event.is_fault]
                assert faults == [], (seat, seed)
                assert all(run.state_of(due.number) != "open" for due in plan.dues)


@pytest.mark.parametrize("kind", FAULTS)
@pytest.mark.parametrize("name", CATALOGUE)
def test_a_planted_fault_is_found_at_its_step(name, kind):
    for seed, planted in faulty_runs(name, kind):
        run = played(plan_of(name, seed), planted.lines)

        found = [event for event in run.events if event.is_fault and event.due in planted.dues]
        assert planted.kinds & {event.kind for event in found}, (
            seed,
            planted.what,
            [(event.kind, event.message) for event in run.events if event.is_fault],
        )


def test_at_least_400_faults_are_planted():
    counts = {kind: sum(len(faulty_runs(name, kind)) for name in CATALOGUE) for kind in FAULTS}

    assert sum(counts.values()) >= 400
    assert min(counts.values()) > 0


@pytest.mark.parametrize("authority", ["easa", "faa", "uk"])
@pytest.mark.parametrize("name", CATALOGUE)
def test_faithful_answers_find_no_fault_under_another_authority(name, authority):
    run = play(make_plan(load_drill(find_drills()[name]), GRAMMAR, seed=7, authority=authority))

    assert [event.message for event in run.events if event.is_fault] == []
    assert run.rules.authority == authority
