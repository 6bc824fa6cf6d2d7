"""What certainty costs beside decoding: at most as much again, and 0.3 s for 5 s of speech.

Run: ``pytest tests/benchmarks/bench_certainty.py --benchmark-enable -s``. On one core, in processor
time, so that a busy machine changes it less. The ear's certainty is the sum over all paths, which
runs along with the search (counted as half of it), the pass backward, the readings, how well
each fits, and how noisy it is; then every reading is judged, where without certainty the best alone
would be.
PocketSphinx's is read off a score that the decoder has anyway.
"""

import functools
import time
from collections import Counter
from typing import Any

import numpy as np

from readback.judging.check import check
from readback.search import SearchGrammar
from readback.speech.ear import EarRecogniser
from readback.speech.ear.recogniser import noise_in
from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser

INSTRUCTION = "larkspur four two one, hold short of runway two seven left"
ROUNDS = 7
SPEECH_S = 5.0
MOST_OF_DECODING, MOST_S = 1.0, 0.3
CERTAINTY = ("_backward", "_fits", "_describe", "_readings")
"""What the decoder does for certainty alone."""


def timed(owner: Any, name: str, spent: Counter[str]) -> None:
    """Make a method of one object add up the processor time that it takes."""
    method = getattr(owner, name)

    @functools.wraps(method)
    def run(*arguments: Any) -> Any:
        began = time.process_time()
        try:
            return method(*arguments)
        finally:
            spent[name] += time.process_time() - began

    setattr(owner, name, run)


def test_certainty_of_the_ear(search: SearchGrammar, clips: list[bytes]) -> None:
    ear = EarRecogniser(search)
    seconds = sum(len(clip) for clip in clips) / 2 / ear.sample_rate_hz
    spent: Counter[str] = Counter()
    for name in (*CERTAINTY, "_forward"):
        timed(ear._decoder, name, spent)
    rounds = []
    for _ in range(ROUNDS):
        spent.clear()
        began = time.process_time()
        heard = [ear.recognise(clip) for clip in clips]
        whole = time.process_time() - began
        began = time.process_time()
        for clip in clips:
            noise_in(clip)
        noise = time.process_time() - began
        decoder = sum(spent[name] for name in CERTAINTY) + spent["_forward"] / 2
        certainty = decoder + noise
        began = time.process_time()
        for one in heard:
            check(INSTRUCTION, one, least_certainty=0.9)
        judged = time.process_time()
        for one in heard:
            check(INSTRUCTION, one.model_copy(update={"alternatives": ()}))
        certainty += (judged - began) - (time.process_time() - judged)
        rounds.append((whole - decoder - noise, certainty))

    decoding, certainty = np.median(np.array(rounds), axis=0)
    print(
        f"\near: decoding {decoding / seconds:.4f} of real time, certainty"
        f" {certainty / decoding:.2f} times that again, {certainty / seconds * SPEECH_S:.3f} s for"
        f" {SPEECH_S:.0f} s of speech"
    )
    assert certainty <= MOST_OF_DECODING * decoding
    assert certainty / seconds * SPEECH_S <= MOST_S


def test_certainty_of_pocketsphinx(search: SearchGrammar, clips: list[bytes]) -> None:
    recogniser = PocketSphinxRecogniser(search)
    seconds = sum(len(clip) for clip in clips) / 2 / recogniser.sample_rate_hz
    spent: Counter[str] = Counter()
    timed(recogniser, "_result", spent)
    began = time.process_time()
    for clip in clips:
        recogniser.recognise(clip)
    decoding = time.process_time() - began - spent["_result"]

    print(
        f"\npocketsphinx: decoding {decoding / seconds:.4f} of real time, certainty"
        f" {spent['_result'] / decoding:.4f} times the decoding"
    )
    assert spent["_result"] <= MOST_OF_DECODING * decoding
    assert spent["_result"] / seconds * SPEECH_S <= MOST_S
