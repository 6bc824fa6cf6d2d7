"""The plan of a recorded drill: its events and values found from what was said."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from readback.drills.align import align
from readback.drills.checking import REFERENCE
from readback.drills.engine import DrillRun
from readback.drills.model import Drill, DrillValue, Seat
from readback.drills.plan import Due, Plan, make_plan
from readback.drills.weighed import LeastCertainty
from readback.judging.items import join_items
from readback.judging.weighing import least_heard
from readback.phraseology.model import Element
from readback.phraseology.parser import parse
from readback.replay.wording import Wording
from readback.transmission import Transmission

_SEEDS_TRIED = 200
"""Draws of the events among which the recorded one is looked for."""
_ASKED, _ANSWERED = 2, 1
"""Votes for a value: who answers may have it wrong."""
_LEFT_OUT = 0.2
_WENT_BACK = 0.3
"""What a due that nobody said costs, and one said too late, beside the score of what was said; our
choice."""


@dataclass(frozen=True)
class RecordedDrill:
    """A drill as it is replayed."""

    drill: Drill
    wording: Wording
    seat: Seat | None = None
    least_certainty: LeastCertainty = lambda *_: 0.0

    def plan(self, seed: int, values: Mapping[str, str] | None = None) -> Plan:
        """Lay out one run of it."""
        return make_plan(
            self.drill,
            self.wording.grammar,
            seed=seed,
            seat=self.seat,
            authority=self.wording.rules.authority,
            values=values,
        )

    def run(self, plan: Plan) -> DrillRun:
        """Start a run through a plan."""
        return DrillRun(
            plan,
            grammar=self.wording.grammar,
            rules=self.wording.rules,
            least_certainty=self.least_certainty,
        )

    def find_plan(self, spoken: Sequence[Transmission]) -> tuple[Plan, tuple[str, ...]]:
        """Find the run that was recorded.

        The order of events is that which fits best whatever the values; each value is then the one
        that was said most where it was due, asking counting twice. So a value that everybody said
        wrong is taken for the right one: only the seed tells better.

        Args:
            spoken: In the order spoken; ``station`` counts where it is known.

        Returns:
            The plan, and the names of the values that were found; the rest is drawn by its seed.
        """
        plans: dict[tuple[str, ...], Plan] = {}
        for seed in range(_SEEDS_TRIED if self.drill.branches else 1):
            plan = self.plan(seed)
            plans.setdefault(tuple(due.step for due in plan.dues), plan)
        best = max(plans.values(), key=lambda plan: self._fit(plan, spoken))
        votes: dict[str, Counter[str]] = {name: Counter() for name in self.drill.values}
        # The same plan with the names of the values where the values stand.
        named = self.plan(best.seed, {name: f"${name}" for name in self.drill.values})
        numbers = align(self.run(_with_any_values(best)), spoken)
        for one, number in zip(spoken, numbers, strict=True):
            if number is not None:
                self._vote(votes, named.dues[number], one)
        values = {
            name: value
            for name, counts in votes.items()
            if (value := _elected(counts, self.drill.values[name])) is not None
        }
        return self.plan(best.seed, values), tuple(values)

    def _fit(self, plan: Plan, spoken: Sequence[Transmission]) -> float:
        run = self.run(_with_any_values(plan))
        placed = [
            (number, run.fits(one.station, one)[number])
            for one, number in zip(spoken, align(run, spoken), strict=True)
            if number is not None
        ]
        back = sum(after < before for (before, _), (after, _) in pairwise(placed))
        return sum(gain for _, gain in placed) - _LEFT_OUT * len(plan.dues) - _WENT_BACK * back

    def _vote(self, votes: dict[str, Counter[str]], due: Due, spoken: Transmission) -> None:
        weight = _ANSWERED if due.is_answer else _ASKED
        least = least_heard(self.least_certainty(spoken))
        reading = parse(spoken, self.wording.grammar)
        items = join_items(reading.calls, self.wording.rules)
        heard: dict[str, Element] = {}
        for call in reading.calls:
            if call.name == "callsign" and due.callsign is not None:
                heard.setdefault(due.callsign, call.elements[0])
        for expected in () if due.faulty else due.say:
            names = {expected.call, *expected.instead}
            said = next((item for item in items if item.name in names), None)
            if said is not None:
                for name, value in expected.values.items():
                    if name in said.elements:
                        heard.setdefault(value, said.elements[name])
        for template, element in heard.items():
            if _is_certain(element, least):
                for name, value in _read_values(template, element.value).items():
                    votes[name][value] += weight


def _is_certain(element: Element, least_certainty: float) -> bool:
    faint = element.certainty is not None and element.certainty < least_certainty
    return not (element.doubtful or faint)


def _read_values(template: str, said: str) -> dict[str, str]:
    """Read the values that were said in the place of their names: ``$first $second`` in ``2 1``."""
    pattern = ""
    # Every second part is the name of a value.
    for number, part in enumerate(REFERENCE.split(template)):
        if number % 2 == 0:
            pattern += re.escape(part)
        else:
            pattern += f"(?P={part})" if f"<{part}>" in pattern else f"(?P<{part}>.+?)"
    found = re.fullmatch(pattern, said)
    return found.groupdict() if found else {}


def _with_any_values(plan: Plan) -> Plan:
    """Let any value be right, and any callsign."""
    dues = tuple(
        due.model_copy(
            update={
                "callsign": None,
                "say": tuple(one.model_copy(update={"free": tuple(one.values)}) for one in due.say),
            }
        )
        for due in plan.dues
    )
    return plan.model_copy(update={"dues": dues})


def _elected(counts: Counter[str], spec: DrillValue) -> str | None:
    """Give the value with the most votes that the drill allows."""
    return next((value for value, _ in counts.most_common() if _allows(spec, value)), None)


def _allows(spec: DrillValue, value: str) -> bool:
    if spec.between is not None:
        return value.isdigit() and spec.between[0] <= int(value) <= spec.between[1]
    allowed = spec.one_of or ((spec.value,) if spec.value is not None else ())
    return not allowed or value in allowed
