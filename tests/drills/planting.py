"""Scripts of drills: faithful ones, with one planted fault, and damaged ones."""

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from readback.drills.engine import DrillRun
from readback.drills.files import find_drills, load_drill
from readback.drills.plan import Due, Plan, make_plan
from readback.judging.scenarios import alike
from readback.phraseology.generator import element_rules
from readback.phraseology.grammar import load_grammar
from readback.phraseology.samples import random_value
from readback.transmission import Transmission

GRAMMAR = load_grammar()
CATALOGUE = tuple(find_drills())


@dataclass(frozen=True)
class Line:
    """One transmission of a script, with the due that it was said for."""

    due: int | None
    station: str
    text: str

    @property
    def transmission(self) -> Transmission:
        return Transmission.typed(self.text).model_copy(update={"station": self.station})


@dataclass(frozen=True)
class Faulty:
    """A script with one fault, and the dues at one of which it is to be found."""

    lines: tuple[Line, ...]
    dues: frozenset[int]
    kinds: frozenset[str]
    what: str


@lru_cache(maxsize=256)
def plan_of(name: str, seed: int, seat: str | None = None) -> Plan:
    return make_plan(load_drill(find_drills()[name]), GRAMMAR, seed=seed, seat=seat)


def faithful(plan: Plan, rng: random.Random | None = None) -> tuple[Line, ...]:
    """Say everything as it is due; with ``rng`` in wordings drawn at random."""
    if rng is None:
        key = (plan.title, plan.seed, plan.seat)
        if key not in _FAITHFUL:
            _FAITHFUL[key] = _said(plan, None)
        return _FAITHFUL[key]
    return _said(plan, rng)


_FAITHFUL: dict[tuple[str, int, str], tuple[Line, ...]] = {}


def _said(plan: Plan, rng: random.Random | None) -> tuple[Line, ...]:
    run = DrillRun(plan)
    lines = []
    while (due := run.due) is not None:
        text = run.voice.say(due, rng, run.instruction_for(due))
        run.hear(due.station, text, due=due.number)
        lines.append(Line(due.number, due.station, text))
    return tuple(lines)


def played(plan: Plan, lines: tuple[Line, ...]) -> DrillRun:
    """Play a script live: the engine finds itself what each line was said for."""
    run = DrillRun(plan)
    for line in lines:
        run.hear(line.station, line.text)
    run.finish()
    return run


# ---- one planted fault ---------------------------------------------------------------------------


def wrong_value(plan: Plan, lines: tuple[Line, ...], rng: random.Random) -> Faulty | None:
    places = [
        (at, said, name)
        for at, line in enumerate(lines)
        if _may_change(due := plan.dues[line.due])
        for said in due.say
        if not said.optional and not said.instead
        for name in said.values
        if name not in said.free
    ]
    if not places:
        return None
    at, said, name = rng.choice(places)
    due = plan.dues[lines[at].due]
    kind = GRAMMAR.kind_of(element_rules(GRAMMAR, name)[0])
    for _ in range(100):
        value = random_value(GRAMMAR, name, rng)
        if not alike(kind, value, said.values[name]):
            break
    else:
        return None
    changed = said.model_copy(update={"values": {**said.values, name: value}})
    say = tuple(changed if one is said else one for one in due.say)
    text = DrillRun(plan).voice.say(due.model_copy(update={"say": say, "words": None}))
    return Faulty(
        (*lines[:at], replace(lines[at], text=text), *lines[at + 1 :]),
        frozenset({due.number}),
        frozenset({"wrong"}),
        f"{due.name}: {name} {value} for {said.values[name]}",
    )


def missing_call(plan: Plan, lines: tuple[Line, ...], rng: random.Random) -> Faulty | None:
    """Leave a call out, and with it what it would have been answered."""
    calls = [line.due for line in lines if _is_plain_call(plan.dues[line.due])]
    if not calls:
        return None
    gone = rng.choice(calls)
    kept = tuple(line for line in lines if plan.dues[line.due].step != plan.dues[gone].step)
    kinds = frozenset({"missing"})
    return Faulty(kept, frozenset({gone}), kinds, f"{plan.dues[gone].name} left out")


def skipped_confirmation(plan: Plan, lines: tuple[Line, ...], rng: random.Random) -> Faulty | None:
    answers = [
        line.due
        for line in lines
        if plan.dues[line.due].is_answer
        and not plan.dues[line.due].faulty
        and not plan.dues[line.due].optional
    ]
    if not answers:
        return None
    gone = rng.choice(answers)
    kept = tuple(line for line in lines if line.due != gone)
    kinds = frozenset({"missing", "wrong"})
    return Faulty(kept, frozenset({gone}), kinds, f"{plan.dues[gone].name} skipped")


def wrong_order(plan: Plan, lines: tuple[Line, ...], rng: random.Random) -> Faulty | None:
    """Say one call and its answer after the next call and its answer."""
    groups = _groups(plan, lines)
    places = [
        at
        for at in range(len(groups) - 1)
        if all(_is_plain_call(plan.dues[groups[place][0].due]) for place in (at, at + 1))
    ]
    if not places:
        return None
    at = rng.choice(places)
    first, second = groups[at], groups[at + 1]
    swapped = [*groups[:at], second, first, *groups[at + 2 :]]
    return Faulty(
        tuple(line for group in swapped for line in group),
        frozenset({first[0].due, second[0].due}),
        frozenset({"out of order", "missing"}),
        f"{plan.dues[second[0].due].name} before {plan.dues[first[0].due].name}",
    )


def wrong_station(plan: Plan, lines: tuple[Line, ...], rng: random.Random) -> Faulty | None:
    places = [at for at, line in enumerate(lines) if _is_plain_call(plan.dues[line.due])]
    if not places:
        return None
    at = rng.choice(places)
    others = sorted({line.station for line in lines} - {lines[at].station})
    if not others:
        return None
    changed = replace(lines[at], station=rng.choice(others))
    return Faulty(
        (*lines[:at], changed, *lines[at + 1 :]),
        frozenset({lines[at].due}),
        frozenset({"wrong station"}),
        f"{plan.dues[lines[at].due].name} by {changed.station}",
    )


FAULTS: dict[str, Callable[[Plan, tuple[Line, ...], random.Random], Faulty | None]] = {
    "wrong value": wrong_value,
    "missing call": missing_call,
    "wrong order": wrong_order,
    "skipped confirmation": skipped_confirmation,
    "wrong station": wrong_station,
}


def _may_change(due: Due) -> bool:
    return due.part in ("call", "answer", "answer again") and not due.faulty and not due.optional


def _is_plain_call(due: Due) -> bool:
    return due.part == "call" and not due.optional


def _groups(plan: Plan, lines: tuple[Line, ...]) -> list[list[Line]]:
    """Put each call with what follows it to the next."""
    groups: list[list[Line]] = []
    for line in lines:
        if plan.dues[line.due].part == "call":
            groups.append([])
        groups[-1].append(line)
    return groups


# ---- damage --------------------------------------------------------------------------------------


def damaged(lines: tuple[Line, ...], extra: tuple[Line, ...], rng: random.Random) -> list[Line]:
    """Drop, double, swap and add transmissions: each kind once or twice."""
    result = list(lines)
    for _ in range(rng.randint(1, 2)):
        del result[rng.randrange(len(result))]
    for _ in range(rng.randint(1, 2)):
        at = rng.randrange(len(result))
        result.insert(at, result[at])
    for _ in range(rng.randint(1, 2)):
        at = rng.randrange(len(result) - 1)
        result[at], result[at + 1] = result[at + 1], result[at]
    for _ in range(rng.randint(1, 2)):
        result.insert(rng.randrange(len(result) + 1), rng.choice(extra))
    return result
