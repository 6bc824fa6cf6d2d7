"""What our adapter adds to the bare recogniser on the same audio: at most 10 %.

Run: ``pytest tests/benchmarks/bench_decoding.py --benchmark-enable``
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "speech"))

from readback.speech.engines import make_recogniser
from readback.speech.pocketsphinx_engine import (
    DECODER_SETTINGS,
    PocketSphinxRecogniser,
    _dictionary,
    _transitions,
)
from tests.speech.conftest import read_pcm, small_grammar

MOST = 1.10
END = 1 + max(arc.target for arc in small_grammar().arcs)
ROUNDS = 11
CLIPS = ("instruction", "right_readback", "wrong_readback", "cross")


class Bare:
    """The engine with the same settings, used as its own documentation shows."""

    def __init__(self) -> None:
        from pocketsphinx import Decoder

        self.decoder: Any = Decoder(**DECODER_SETTINGS)
        for entry, phones in _dictionary(small_grammar()):
            self.decoder.add_word(entry, phones, True)
        transitions = list(_transitions(small_grammar(), END))
        self.decoder.add_fsg("readback", self.decoder.create_fsg("readback", 0, END, transitions))
        self.decoder.activate_search("readback")

    def recognise(self, pcm: bytes) -> str:
        self.decoder.start_utt()
        self.decoder.process_raw(pcm, full_utt=True)
        self.decoder.end_utt()
        return str(self.decoder.hyp().hypstr)


@pytest.fixture(scope="module")
def clips() -> list[bytes]:
    return [read_pcm(name) for name in CLIPS]


def timed(hear: Callable[[bytes], object], clips: list[bytes]) -> float:
    start = time.perf_counter()
    for clip in clips:
        hear(clip)
    return time.perf_counter() - start


@pytest.mark.parametrize("in_process", [True, False], ids=["in process", "own process"])
def test_adapter_against_bare_decoder(clips, benchmark, capsys, in_process):
    bare = Bare()
    ours = make_recogniser("pocketsphinx", small_grammar(), in_process=in_process)
    seconds = sum(len(clip) for clip in clips) / 32_000
    assert [ours.recognise(clip).text for clip in clips] == [bare.recognise(clip) for clip in clips]

    # Each round times both, one after the other, so that other work on the machine meets both.
    rounds = [(timed(bare.recognise, clips), timed(ours.recognise, clips)) for _ in range(ROUNDS)]
    benchmark(lambda: [ours.recognise(clip) for clip in clips])
    ours.close()

    ratio = median(mine for _, mine in rounds) / median(plain for plain, _ in rounds)
    factors = [median(side) / seconds for side in zip(*rounds, strict=True)]
    with capsys.disabled():
        print(
            f"\n{seconds:.1f} s of audio, median of {ROUNDS} rounds: bare {factors[0]:.4f} of real "
            f"time, adapter {factors[1]:.4f}, ratio {ratio:.3f} (at most {MOST:.2f})"
        )
    assert ratio <= MOST


def test_partial_results(clips, benchmark):
    """Blocks of 0.1 s and the whole again at the end, as a microphone is heard."""
    ours = PocketSphinxRecogniser(small_grammar())

    def stream() -> str:
        for start in range(0, len(clips[0]), 3_200):
            ours.feed(clips[0][start : start + 3_200])
        return ours.finish().text

    assert benchmark(stream).startswith("larkspur four five two")
