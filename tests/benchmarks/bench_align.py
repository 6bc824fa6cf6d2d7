"""How long it takes to align a recorded exchange of 500 transmissions with its drill.

Run: ``pytest tests/benchmarks/bench_align.py -o python_files='bench_*.py' --benchmark-enable``.
"""

import random

import pytest

from readback.drills.align import align
from readback.drills.engine import DrillRun
from readback.drills.plan import Plan
from tests.drills.planting import CATALOGUE, Line, damaged, faithful, plan_of
from tests.drills.test_align import EXTRA

TRANSMISSIONS = 500
LIMIT_S = 1.0


def long_plan() -> tuple[Plan, list[Line]]:
    """Chain drills to one of 500 dues; their exchange in words drawn at random, damaged."""
    dues, lines = [], []
    for number in range(len(CATALOGUE) * 4):
        plan = plan_of(CATALOGUE[number % len(CATALOGUE)], number)
        if plan.setting.headset == "none":
            continue
        start = len(dues)
        for due in plan.dues:
            moved = {"number": due.number + start}
            if due.answers is not None:
                moved["answers"] = due.answers + start
            dues.append(due.model_copy(update=moved))
        rng = random.Random(number)
        for line in damaged(faithful(plan, rng), EXTRA, rng):
            due = None if line.due is None else line.due + start
            lines.append(Line(due, line.station, line.text))
        if len(dues) >= TRANSMISSIONS and len(lines) >= TRANSMISSIONS:
            break
    kept = {"dues": tuple(dues), "happenings": ()}
    return plan.model_copy(update=kept), lines[:TRANSMISSIONS]


@pytest.mark.parametrize("dues", ["one drill", "500 dues"])
def test_align_500_transmissions(benchmark, dues):
    if dues == "one drill":
        plan = plan_of("push_back_tow_bar", 0)
        rng = random.Random(1)
        lines = [line for _ in range(20) for line in damaged(faithful(plan, rng), EXTRA, rng)]
        lines = lines[:TRANSMISSIONS]
    else:
        plan, lines = long_plan()
    spoken = [line.transmission for line in lines]

    # A new run each time: nothing is parsed or scored before.
    found = benchmark.pedantic(
        align, setup=lambda: ((DrillRun(plan), spoken), {}), rounds=5, iterations=1
    )

    assert len(found) == TRANSMISSIONS
    if dues == "500 dues":
        right = sum(a == line.due for a, line in zip(found, lines, strict=True))
        benchmark.extra_info["right"] = right
        print(f"\n{len(plan.dues)} dues: {right} of {TRANSMISSIONS} steps right")
    if benchmark.enabled:
        seconds = benchmark.stats["median"]
        verdict = "under" if seconds < LIMIT_S else "OVER"
        print(f"{dues}: median {seconds:.2f} s, {verdict} {LIMIT_S:.0f} s")
