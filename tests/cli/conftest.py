"""``main`` run in this process, and a listener that hears what a test wrote down."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from readback.cli import main
from readback.commands.hearing import Listener
from readback.data import data_directory
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission


@dataclass(frozen=True)
class Ran:
    status: int
    out: str
    err: str


@pytest.fixture
def run(capsys) -> Callable[..., Ran]:
    def run_main(*arguments: str) -> Ran:
        capsys.readouterr()
        status = main(arguments)
        out, err = capsys.readouterr()
        return Ran(status, out, err)

    return run_main


@pytest.fixture
def recording() -> Path:
    return data_directory("audio_demo_synth") / "recordings" / "gc01_hold_short.flac"


@pytest.fixture
def listener_hearing() -> Callable[[Sequence[str]], Listener]:
    """Make a listener that hears these texts, one after the other, whatever the sound."""

    def make(texts: Sequence[str]) -> Listener:
        waiting = iter(texts)
        return Listener(recogniser=ScriptedRecogniser(lambda _: Transmission.typed(next(waiting))))

    return make


@pytest.fixture(autouse=True)
def _records_of_its_own(monkeypatch, tmp_path):
    """No test touches the records of whoever runs it."""
    monkeypatch.setenv("READBACK_RECORDS", str(tmp_path / "records.db"))
