"""What several benchmarks hear, and with what grammar."""

from pathlib import Path

import pytest
import soundfile

from readback.phraseology.grammar import load_grammar
from readback.search import SearchGrammar

DATA = Path(__file__).parents[1] / "ear" / "data"
CLIPS = ("hold_short", "brakes", "contact")


@pytest.fixture(scope="module")
def search() -> SearchGrammar:
    return load_grammar().search()


@pytest.fixture(scope="module")
def clips() -> list[bytes]:
    return [
        soundfile.read(DATA / f"{name}.flac", dtype="int16")[0].astype("<i2").tobytes()
        for name in CLIPS
    ]
