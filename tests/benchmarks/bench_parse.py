"""What a transmission costs to parse, by length, at its worst.

Run: ``pytest tests/benchmarks/bench_parse.py -o python_files='bench_*.py' --benchmark-enable``.
`bench_check.py` has ordinary calls and unknown words; here are the texts that could be dear.
"""

import random

import pytest

from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_LETTERS = ("alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel")


def _drawn(words: tuple[str, ...], count: int) -> str:
    return " ".join(random.Random(3).choices(words, k=count))


WORST = {
    "digits": lambda count: _drawn(_DIGITS, count),
    "letters": lambda count: _drawn(_LETTERS, count),
    "route": lambda count: "via " + _drawn(_LETTERS + _DIGITS, count - 1),
    "to for": lambda count: " ".join((["to", "for"] * count)[:count]),
    "bravo to": lambda count: " ".join((["bravo", "to"] * count)[:count]),
    "corrections": lambda count: " ".join((["runway", "two", "correction"] * count)[:count]),
    "slips": lambda count: _drawn(("holdng", "runwya", "sevn", "corssing", "taxxi"), count),
}


@pytest.mark.parametrize("words", [10, 100, 1_000])
@pytest.mark.parametrize("kind", WORST)
@pytest.mark.parametrize("callsigns", [(), ("LARKSPUR 421", "G-ABCD")], ids=["", "known"])
def test_worst_case(benchmark, kind, words, callsigns):
    grammar, text = load_grammar(), WORST[kind](words)

    reading = benchmark.pedantic(
        lambda: parse(text, grammar, callsigns), rounds=15, warmup_rounds=2
    )

    if benchmark.enabled:
        microseconds = benchmark.stats["median"] / words * 1e6
        benchmark.extra_info["microseconds_a_word"] = round(microseconds, 2)
        print(f"\n{kind}, {words} words: {microseconds:.1f} microseconds a word")
    assert len(reading.words) == words
