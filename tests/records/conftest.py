"""A store of its own, in a file and on a server, and a session of two exchanges in it."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from readback.drills.engine import DrillRun
from readback.drills.files import find_drill, load_drill
from readback.drills.plan import make_plan
from readback.judging.check import check
from readback.phraseology.grammar import load_grammar
from readback.records.audio import encode_flac
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.records.versions import content_hash
from readback.transmission import Transmission

if TYPE_CHECKING:
    from tests.records.postgresql import Cluster

HOLD = "larkspur 421 hold short of runway two seven left"
HELD = "holding short of runway two seven left larkspur 421"
CROSS = "larkspur 421 cross runway two seven left"
CROSSED_RIGHT = "crossing runway two seven right larkspur 421"
ON_A_FILE = pytest.mark.parametrize("where", ["sqlite"], indirect=True)
"""For a test that is about the SQLite file."""
ON_A_SERVER = pytest.mark.parametrize(
    "where", [pytest.param("postgresql", marks=pytest.mark.postgresql)], indirect=True
)
NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


def tone(seconds: float = 0.5) -> bytes:
    times = np.arange(round(16_000 * seconds)) / 16_000
    return encode_flac((8000 * np.sin(2 * np.pi * 440 * times)).astype(np.int16))


def spoken(text: str, station: str | None, start: float) -> Transmission:
    typed = Transmission.typed(text)
    return typed.model_copy(update={"station": station, "start": start, "end": start + 3.0})


@pytest.fixture(scope="session")
def cluster() -> "Iterator[Cluster]":
    # Imported here: its driver is an extra.
    from tests.records.postgresql import Cluster

    server = Cluster()
    yield server
    server.close()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def where(request, tmp_path) -> str:
    """Where the records are: a file, or a database of a PostgreSQL server."""
    if request.param == "sqlite":
        return str(tmp_path / "records.sqlite3")
    return request.getfixturevalue("cluster").emptied()


@pytest.fixture
def store(where) -> Iterator[Store]:
    with Store(where, now=lambda: NOW) as store:
        yield store


@pytest.fixture
def head() -> Callable[..., SessionHead]:
    def make(**changed) -> SessionHead:
        values = {
            "organisation": "Bluefin Ground Training",
            "training": "Recurrent headset training",
            "competencies": ("communication",),
            "topics": ("hold short", "crossing"),
            "training_date": date(2026, 3, 2),
            "assessment_date": date(2026, 3, 2),
            "instructor": "Ines Marlow",
            "trainee": "Tam Oakley",
            "group": "B",
            "engine": "pocketsphinx",
            "consent": True,
            "pass_mark": 0.8,
        }
        return SessionHead(**{**values, **changed})

    return make


@pytest.fixture
def keep_session(store, head) -> Callable[..., int]:
    """Keep a session: hold short read back right, a crossing with the wrong side."""

    def keep(texts=((HOLD, HELD), (CROSS, CROSSED_RIGHT)), finished=True, **changed) -> int:
        session_id = store.begin(head(**changed))
        start = 0.0
        for instruction, readback in texts:
            said = spoken(instruction, "tower", start)
            answered = spoken(readback, "flight deck", start + 4.0)
            first = store.keep_transmission(session_id, said, flac=tone())
            second = store.keep_transmission(session_id, answered, flac=tone())
            store.keep_verdict(
                session_id, check(said, answered), instruction=first, readback=second
            )
            start += 10.0
        if finished:
            store.finish(session_id, remarks="Watch the sides.")
        return session_id

    return keep


@pytest.fixture
def keep_drill(store, head) -> Callable[..., int]:
    """Keep a push back with a tow bar in which two readbacks are wrong, flown by the program."""

    def keep(**changed) -> int:
        path = find_drill("push_back_tow_bar")
        run = DrillRun(make_plan(load_drill(path), load_grammar(), seed=7))
        drill = {"drill": path.stem, "drill_hash": content_hash(path), "pairing": "given"}
        given = {**drill, "settings": {"seed": 7}, "callsign": None, "engine": "ear", **changed}
        session_id = store.begin(head(**given))
        said: dict[int, tuple[int, Transmission]] = {}
        for number, due in enumerate(run.plan.dues):
            text = run.voice.say(due) if due.signal is None else due.signal.replace("_", " ")
            if due.step in ("release_brakes", "clear_push") and due.part == "answer":
                text = "roger"
            spoke = spoken(text, due.station, 4.0 * number)
            run.hear(due.station, spoke, spoke.start)
            kept = store.keep_transmission(session_id, spoke, flac=tone())
            said[due.number] = (kept, spoke)
            if due.answers is not None and due.signal is None:
                asked, instruction = said[due.answers]
                verdict = check(instruction, spoke, callsign=due.callsign)
                store.keep_verdict(session_id, verdict, instruction=asked, readback=kept)
        store.finish(session_id, remarks="Watch the brakes.")
        return session_id

    return keep


@pytest.fixture
def database_bytes(tmp_path) -> Callable[[], bytes]:
    def read() -> bytes:
        files = sorted(Path(tmp_path).glob("records.sqlite3*"))
        return b"".join(file.read_bytes() for file in files)

    return read
