"""A small folder of recordings, some of them broken, made once."""

import importlib.util
import json
from dataclasses import dataclass
from pathlib import Path

import pytest

from readback.replay.model import ReplaySettings

MAKER = Path(__file__).parents[2] / "audio_demo_synth" / "make_folder.py"
SETTINGS = ReplaySettings(engine="ear")


@dataclass(frozen=True)
class Folder:
    path: Path
    expected: dict[str, list[str] | None]
    """File name -> the right verdicts in their order; None where it is broken."""

    @property
    def files(self) -> list[str]:
        return [str(self.path / name) for name in sorted(self.expected)]

    @property
    def broken(self) -> list[str]:
        return sorted(name for name, verdicts in self.expected.items() if verdicts is None)


@pytest.fixture(scope="session")
def maker():
    """The program that makes such folders."""
    spec = importlib.util.spec_from_file_location("make_folder", MAKER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def folder(maker, tmp_path_factory) -> Folder:
    path = tmp_path_factory.mktemp("drills") / "folder"
    maker.make_folder(path, recordings=20, broken=5, seed=3)
    return Folder(path, json.loads((path / "expected.json").read_text(encoding="utf-8")))


@pytest.fixture(autouse=True)
def _results_of_its_own(monkeypatch, tmp_path):
    """No test touches the data of whoever runs it; the processes that it starts take it over."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
