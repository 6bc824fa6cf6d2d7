"""How fast generated pairs are made and judged, over all calls and all four authorities.

Run: ``pytest tests/benchmarks/bench_pairs.py -o python_files='bench_*.py' --benchmark-enable``.
"""

import itertools

import pytest

from readback.judging.check import check
from readback.judging.pairs import make_pairs
from readback.judging.rules import AUTHORITIES

EACH = 500
ROUNDS = 5


@pytest.fixture
def seeds():
    """New pairs every round: none has been judged before."""
    return itertools.count(100)


def drawn(seed):
    return [pair for authority in AUTHORITIES for pair in make_pairs(EACH, seed, authority)]


def judge_all(pairs):
    return [
        check(pair.instruction, pair.readback, authority=pair.authority).verdict == pair.verdict
        for pair in pairs
    ]


def test_pairs_judged_a_second(benchmark, seeds):
    judge_all(drawn(1))

    agreed = benchmark.pedantic(
        judge_all, setup=lambda: ((drawn(next(seeds)),), {}), rounds=ROUNDS, iterations=1
    )

    told(benchmark, "judged")
    assert sum(agreed) >= 0.999 * EACH * len(AUTHORITIES)


def test_pairs_made_a_second(benchmark, seeds):
    drawn(1)

    pairs = benchmark.pedantic(
        drawn, setup=lambda: ((next(seeds),), {}), rounds=ROUNDS, iterations=1
    )

    told(benchmark, "made")
    assert len(pairs) == EACH * len(AUTHORITIES)


def told(benchmark, what):
    """Print pairs a second; nothing is measured where benchmarks are off."""
    if benchmark.stats is None:
        return
    seconds = benchmark.stats.stats.median
    rate = EACH * len(AUTHORITIES) / seconds
    benchmark.extra_info[f"pairs {what} a second"] = round(rate)
    print(f"{rate:,.0f} pairs {what} a second (median of {ROUNDS} runs of {EACH * 4:,} new pairs)")
