"""Which drills train what, and which of them train what was missed."""

from collections.abc import Iterable, Iterator, Mapping

from readback.drills.files import find_drills, load_drill
from readback.drills.model import Drill
from readback.drills.plan import Plan, make_plan
from readback.errors import ReadbackError
from readback.phraseology.grammar import load_grammar

Trained = tuple[str, str | None]
"""A call and its element; None where the whole call is meant."""


def what_drills_train() -> dict[str, frozenset[Trained]]:
    """Tell what each drill of the catalogue trains: what its seats for trainees say or read back.

    A drill that cannot be read trains nothing; ``readback drills validate`` tells why.
    """
    found = {}
    for name, path in find_drills().items():
        try:
            found[name] = what_it_trains(load_drill(path))
        except ReadbackError:
            continue
    return found


def what_it_trains(drill: Drill) -> frozenset[Trained]:
    """Tell what one drill trains, whichever of its events come.

    Raises:
        GrammarError: The drill's values cannot all differ as they must.
    """
    # Elements are the same whatever the values are; other seeds bring other events.
    seeds = range(8) if drill.branches else range(1)
    plans = (make_plan(drill, load_grammar(), seed=seed) for seed in seeds)
    return frozenset(one for plan in plans for one in _trained(plan, drill))


def choose_drills(
    missed: Iterable[Trained], drills: Mapping[str, frozenset[Trained]], most: int = 3
) -> list[tuple[str, list[Trained]]]:
    """Choose the fewest drills that train what was missed, the most of it first.

    Args:
        missed: The most urgent first.
        drills: As `what_drills_train` gives them.
        most: Drills to name.

    Returns:
        Each drill with what it trains of that and no drill before it.

    Source: the greedy way to cover a set (Chvatal 1979, "A greedy heuristic for the set-covering
    problem", Mathematics of Operations Research 4:233-235, from memory).
    """
    left = list(dict.fromkeys(missed))
    chosen: list[tuple[str, list[Trained]]] = []
    while left and len(chosen) < most:
        # Of equals the one that trains the least besides.
        name = max(
            sorted(drills),
            key=lambda one: (len(drills[one].intersection(left)), -len(drills[one])),
            default="",
        )
        trained = [one for one in left if one in drills.get(name, ())]
        if not trained:
            break
        chosen.append((name, trained))
        left = [one for one in left if one not in trained]
    return chosen


def _trained(plan: Plan, drill: Drill) -> Iterator[Trained]:
    for due in plan.dues:
        if due.station not in drill.seats:
            continue
        said = list(due.say)
        if due.answers is not None:
            # A readback is judged by the names of what it answers.
            said += plan.dues[due.answers].say
        if due.callsign is not None:
            yield "callsign", "callsign"
        for expected in said:
            yield expected.call, None
            for name in expected.values:
                yield expected.call, name
