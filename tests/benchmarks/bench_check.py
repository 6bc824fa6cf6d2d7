"""How fast typed pairs are judged, and what a long transmission costs to parse.

Run: ``pytest tests/benchmarks/bench_check.py -o python_files='bench_*.py' --benchmark-enable``.
"""

import contextlib
import io
import itertools
import json
import random
from pathlib import Path

import pytest

from readback.cli import main
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse

PAIRS = 4_000
ROUNDS = 5
_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_LETTERS = ("alfa", "bravo", "charlie", "delta", "echo", "foxtrot")
_OPERATORS = ("larkspur", "northgate", "bluefin")
_CALLS = (
    ("hold short of runway {runway}", "holding short of runway {runway}"),
    ("cross runway {runway} at {point}", "crossing runway {runway} at {point}"),
    ("line up and wait runway {runway}", "lining up runway {runway}"),
    ("taxi to holding point {point} via {route}", "taxi to holding point {point} via {route}"),
    ("contact port ellery tower {frequency}", "port ellery tower {frequency}"),
    ("push back approved face {facing}", "push back approved facing {facing}"),
)


def make_pairs(count: int, seed: int = 2) -> list[dict[str, str]]:
    """Draw pairs that differ from one another; in half of them one value is changed."""
    rng = random.Random(seed)
    pairs = []
    for number in range(count):
        callsign = f"{rng.choice(_OPERATORS)} {' '.join(rng.choices(_DIGITS, k=3))}"
        issued, answered = rng.choice(_CALLS)
        said = _values(rng)
        heard = said if number % 2 else _values(rng)
        pairs.append(
            {
                "instruction": f"{callsign} {issued.format(**said)}",
                "readback": f"{answered.format(**heard)} {callsign}",
            }
        )
    return pairs


def _values(rng: random.Random) -> dict[str, str]:
    digits = rng.choices(_DIGITS, k=4)
    return {
        "runway": f"{rng.choice(_DIGITS[:3])} {digits[0]} {rng.choice(('left', 'right', ''))}",
        "point": f"{rng.choice(_LETTERS)} {digits[1]}",
        "route": " and ".join(rng.sample(_LETTERS, 3)),
        "frequency": f"one two one decimal {digits[2]} {digits[3]}",
        "facing": rng.choice(("north", "south", "east", "west")),
    }


def test_pairs_a_second(benchmark, tmp_path):
    # Every run judges pairs that no run before it has seen.
    runs = [make_pairs(PAIRS, seed) for seed in range(ROUNDS + 1)]
    paths = [tmp_path / f"{number}.jsonl" for number in range(len(runs))]
    for path, pairs in zip(paths, runs, strict=True):
        path.write_text("\n".join(map(json.dumps, pairs)), encoding="utf-8")
    lines = []

    def check_all(path: Path) -> int:
        with contextlib.redirect_stdout(io.StringIO()) as out:
            status = main(["check", "--json", "--pairs", str(path)])
        lines.append(len(out.getvalue().splitlines()))
        return status

    check_all(paths.pop())  # Loading the grammar is start-up, not what is measured.
    waiting = iter(paths)
    status = benchmark.pedantic(
        check_all, setup=lambda: ((next(waiting),), {}), rounds=ROUNDS, iterations=1
    )

    if benchmark.enabled:
        rate = PAIRS / benchmark.stats["median"]
        benchmark.extra_info["pairs_per_second"] = round(rate)
        print(f"\n{rate:,.0f} pairs a second: median of {ROUNDS} runs of {PAIRS:,} pairs each")
    assert status == 1
    assert set(lines) == {PAIRS}


@pytest.mark.parametrize("words", [10, 100, 1_000])
@pytest.mark.parametrize("kind", ["calls", "unknown words"])
def test_parse_cost(benchmark, words, kind):
    grammar = load_grammar()
    texts = itertools.cycle([_long_text(words, kind, seed) for seed in range(50)])

    reading = benchmark.pedantic(lambda: parse(next(texts), grammar), rounds=50, warmup_rounds=3)

    if benchmark.enabled:
        microseconds = benchmark.stats["median"] / words * 1e6
        benchmark.extra_info["microseconds_a_word"] = round(microseconds, 2)
    assert len(reading.words) == words


def _long_text(words: int, kind: str, seed: int) -> str:
    rng = random.Random(seed)
    if kind == "unknown words":
        return " ".join("".join(rng.choices("abdegilmnoprstu", k=6)) for _ in range(words))
    drawn = (pair["instruction"] for pair in make_pairs(words, seed))
    return " ".join(" ".join(drawn).split()[:words])
