"""The ear's time and memory with the whole grammar, beside pocketsphinx in the same run.

Run: ``OPENBLAS_NUM_THREADS=1 pytest tests/benchmarks/bench_ear.py --benchmark-enable -s`` (one
thread, as the ear has in its own process). Bounds, on one core: 0.02 of real time with decoding and
certainty, load under 0.5 s, memory under 300 MB; a final result within 0.3 s after the end of
speech; with 2,000 names at most 1.3 times the cost of none. Times are processor time, so that a
busy machine changes them less.
"""

import json
import subprocess
import sys
import time

import numpy as np
import pytest

from readback.phraseology.grammar import load_grammar
from readback.search import SearchGrammar
from readback.speech.ear import EarRecogniser
from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser
from readback.speech.recogniser import Recogniser

ROUNDS = 7
REAL_TIME, LOAD_S, MEMORY_MB, FINAL_S = 0.02, 0.5, 300, 0.3
FLAT = 1.3
"""So many times the cost without names is allowed with any number of them."""
LOADING = """
import resource, json, time
import numpy
from readback.phraseology.grammar import load_grammar
from readback.speech.ear import EarRecogniser
search = load_grammar().search()
import onnxruntime
began = time.process_time()
ear = EarRecogniser(search)
spent = time.process_time() - began
ear.recognise(bytes(range(256)) * 625)
print(json.dumps([spent, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""


def real_time(recogniser: Recogniser, clips: list[bytes]) -> float:
    """Processor time for each second of sound, the median of some rounds."""
    seconds = sum(len(clip) for clip in clips) / 2 / recogniser.sample_rate_hz
    spent = []
    for _ in range(ROUNDS):
        began = time.process_time()
        for clip in clips:
            recogniser.recognise(clip)
        spent.append(time.process_time() - began)
    return float(np.median(spent)) / seconds


def test_real_time_factor(search: SearchGrammar, clips: list[bytes]) -> None:
    ear = real_time(EarRecogniser(search), clips)
    pocketsphinx = real_time(PocketSphinxRecogniser(search), clips)

    print(f"\near {ear:.4f} of real time, pocketsphinx {pocketsphinx:.4f}, {len(search.arcs)} arcs")
    assert ear <= REAL_TIME


@pytest.mark.parametrize("count", [50, 400, 2000])
def test_time_holds_with_many_names(clips: list[bytes], count: int) -> None:
    few = real_time(EarRecogniser(load_grammar().search(names={})), clips)
    names = {f"station{n}": (f"{a} {b} T AH N",) for n, (a, b) in enumerate(name_sounds(count))}
    search = load_grammar().search(names=names)
    many = real_time(EarRecogniser(search), clips)

    print(f"\n{count} names, {len(search.arcs)} arcs: {few:.4f} -> {many:.4f} of real time")
    assert many <= REAL_TIME
    assert many <= FLAT * few


def name_sounds(count: int) -> list[tuple[str, str]]:
    """Different endings for invented names."""
    vowels, consonants = "AA AE AH AO AW AY EH ER EY IH".split(), "B D F G K L M N P S".split()
    ends = [f"{v} {c}" for v in vowels for c in consonants]
    middles = [c if v is None else f"{c} {v}" for v in (None, *vowels) for c in consonants]
    return [(middles[n // 100], ends[n % 100]) for n in range(count)]


def test_load_and_memory() -> None:
    done = subprocess.run(
        [sys.executable, "-c", LOADING], capture_output=True, text=True, check=True
    )
    spent, memory_mb = json.loads(done.stdout)

    print(f"\nload {spent:.2f} s, {memory_mb:.0f} MB resident at most")
    assert spent < LOAD_S
    assert memory_mb < MEMORY_MB


def test_final_result_after_the_end(search: SearchGrammar, clips: list[bytes]) -> None:
    ear = EarRecogniser(search)
    clip = clips[0]
    last = len(clip) // 6400 * 6400
    for at in range(0, last, 6400):
        ear.feed(clip[at : at + 6400])
    began = time.process_time()
    ear.feed(clip[last:])
    ear.finish()
    spent = time.process_time() - began

    print(f"\nfinal result of {len(clip) / 32000:.1f} s after {spent:.3f} s")
    assert spent < FINAL_S
