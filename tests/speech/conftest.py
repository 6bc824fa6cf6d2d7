"""A small grammar, recorded speech and one recogniser of each kind."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from readback.search import Arc, SearchGrammar
from readback.speech.recogniser import Recogniser

DATA = Path(__file__).parent / "data"

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "niner")
PRONUNCIATIONS = {
    "zero": ("Z IH R OW", "Z IY R OW"),
    "one": ("W AH N",),
    "two": ("T UW",),
    "three": ("TH R IY", "T R IY"),
    "four": ("F AO R", "F OW ER"),
    "five": ("F AY V", "F AY F"),
    "six": ("S IH K S",),
    "seven": ("S EH V AH N",),
    "eight": ("EY T",),
    "nine": ("N AY N",),
    "niner": ("N AY N ER",),
    "hold": ("HH OW L D",),
    "holding": ("HH OW L D IH NG",),
    "short": ("SH AO R T",),
    "of": ("AH V",),
    "cross": ("K R AO S",),
    "runway": ("R AH N W EY",),
    "left": ("L EH F T",),
    "right": ("R AY T",),
    "larkspur": ("L AA R K S P ER",),
    "northgate": ("N AO R TH G EY T",),
}
JSGF = """#JSGF V1.0;
grammar small;
public <transmission> = <callsign> <call> | <call> <callsign> | <call> | <callsign>;
<callsign> = (larkspur | northgate) <digit> <digit> <digit>;
<call> = <crossing> runway <digit> <digit> [left | right];
<crossing> = hold short of | holding short of | cross;
<digit> = zero | one | two | three | four | five | six | seven | eight | nine | niner;
"""

Steps = Sequence[Sequence[str | None]]


def path_arcs(paths: Sequence[Steps]) -> tuple[tuple[Arc, ...], frozenset[int]]:
    """Make a word graph of paths, each a sequence of steps, each a choice of words."""
    arcs: list[Arc] = []
    state = 0
    finals = set()
    for path in paths:
        source = 0
        for step in path:
            state += 1
            arcs += [Arc(source, state, word) for word in step]
            source = state
        finals.add(source)
    return tuple(arcs), frozenset(finals)


def small_grammar() -> SearchGrammar:
    callsign: Steps = [("larkspur", "northgate"), DIGITS, DIGITS, DIGITS]
    runway: Steps = [("runway",), DIGITS, DIGITS, ("left", "right", None)]
    calls: list[Steps] = [
        [("hold", "holding"), ("short",), ("of",), *runway],
        [("cross",), *runway],
    ]
    paths = [
        callsign,
        *calls,
        *([*callsign, *call] for call in calls),
        *([*call, *callsign] for call in calls),
    ]
    arcs, finals = path_arcs(paths)
    return SearchGrammar(
        jsgf=JSGF,
        pronunciations=PRONUNCIATIONS,
        phrases=(
            *("hold short of runway", "holding short of runway", "cross runway"),
            *DIGITS,
            *("left", "right", "larkspur", "northgate"),
        ),
        arcs=arcs,
        final_states=finals,
    )


def read_pcm(name: str) -> bytes:
    samples, _ = soundfile.read(DATA / f"{name}.flac", dtype="int16")
    return bytes(samples.tobytes())


def read_samples(name: str) -> npt.NDArray[np.int16]:
    return np.frombuffer(read_pcm(name), np.int16)


@pytest.fixture(scope="session")
def grammar() -> SearchGrammar:
    return small_grammar()


def _pocketsphinx() -> Recogniser:
    from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser

    return PocketSphinxRecogniser(small_grammar())


def _pocketsphinx_process() -> Recogniser:
    from readback.speech.worker import RecogniserProcess

    return RecogniserProcess("pocketsphinx", small_grammar())


ENGINES: dict[str, Callable[[], Recogniser]] = {
    "pocketsphinx": _pocketsphinx,
    "pocketsphinx in a process": _pocketsphinx_process,
}


@pytest.fixture(scope="session", params=ENGINES)
def recogniser(request: pytest.FixtureRequest) -> Iterator[Recogniser]:
    """Every engine that hears English here; the contract is the same for all."""
    engine = ENGINES[request.param]()
    yield engine
    engine.close()
