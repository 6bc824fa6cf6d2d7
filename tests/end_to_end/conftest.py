"""Sound without hardware, for the whole way in and out."""

import os

import pytest

from readback.phraseology.grammar import load_grammar
from readback.speech.engines import make_recogniser
from tests.end_to_end.sound_server import SoundServer, what_is_missing

MISSING = what_is_missing()

# In CI they always run: what is missing there fails.
collect_ignore_glob = ["test_*.py"] if MISSING and not os.environ.get("CI") else []


def pytest_report_header() -> str:
    found = f"left out, not found: {', '.join(MISSING)}" if MISSING else "PulseAudio of their own"
    return f"end-to-end sound tests: {found}"


@pytest.fixture(scope="session")
def sound_server(tmp_path_factory):
    server = SoundServer(tmp_path_factory.mktemp("sound"), ("headset", "second"))
    yield server
    server.close()


@pytest.fixture
def sound(sound_server, monkeypatch):
    """The server with one device plugged in, found by this process and those it starts."""
    for name, value in sound_server.environment.items():
        monkeypatch.setenv(name, value)
    sound_server.plug_in("headset")
    yield sound_server
    for name in sound_server.plugged_in:
        sound_server.unplug(name)


@pytest.fixture(scope="session")
def recogniser():
    """The ear that comes with the package, in its own process."""
    engine = make_recogniser("ear", load_grammar().search(grouped_numbers=False))
    yield engine
    engine.close()
