"""What is practised is on disk at once, and the Records screen tells what there is."""

import signal
import subprocess
import sys
from datetime import date

import pytest
from textual.widgets import OptionList

from readback.data import data_directory
from readback.judging.check import check
from readback.judging.pairs import make_pairs
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.screens.app import ReadbackApp
from readback.screens.records import bars
from readback.screens.start import StartScreen
from readback.transmission import Transmission
from tests.screens.conftest import Seat, drive
from tests.screens.fakes import make_services

PAIR = next(one for one in make_pairs(100, 7) if one.error is None)


def keep_session(store: Store, trainee: str, *readbacks: str) -> None:
    instruction = "hold short of runway 27L"
    head = SessionHead(training="ground calls", training_date=date(2026, 3, 1), trainee=trainee)
    session = store.begin(head)
    for readback in readbacks:
        asked = store.keep_transmission(session, Transmission.typed(instruction))
        said = store.keep_transmission(session, Transmission.typed(readback))
        store.keep_verdict(session, check(instruction, readback), instruction=asked, readback=said)
    store.finish(session)


def test_practice_of_a_trainee_is_kept_and_ended_with_the_screen(tmp_path):
    path = tmp_path / "records.sqlite3"

    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.type("roger")
        await seat.press("f4")
        await seat.type(PAIR.readback)
        await seat.press("escape")
        assert isinstance(seat.app.screen, StartScreen)

    drive(ReadbackApp(make_services(records=path, trainee="Ann")), use)

    with Store(path) as store:
        (session,) = store.sessions(trainee="Ann")
    assert [one.outcome == "correct" for one in session.exchanges] == [False, True]
    assert session.transmission(1).current.text == PAIR.instruction
    assert session.finished_at is not None


def test_without_a_trainee_nothing_is_kept(tmp_path):
    path = tmp_path / "records.sqlite3"

    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.type("roger")

    drive(ReadbackApp(make_services(records=path)), use)

    with Store(path) as store:
        assert list(store.sessions()) == []


def test_records_that_cannot_be_written_are_told_and_practice_goes_on(tmp_path):
    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.type("roger")
        assert await seat.until(lambda: any("Not kept" in line for line in seat.told))

    drive(ReadbackApp(make_services(records=tmp_path, trainee="Ann")), use)


KILLED = """
import asyncio, os, signal, sys
from pathlib import Path
from readback.screens.app import ReadbackApp
from tests.screens.conftest import Seat
from tests.screens.fakes import make_services
from tests.screens.test_screens import drill_is_ready

async def main():
    services = make_services(records=Path(sys.argv[1]), trainee="Ann")
    app = ReadbackApp(services, drill="push_back_tow_bar", seat="headset")
    async with app.run_test(size=(80, 24)) as pilot:
        seat = Seat(app, pilot)
        for _ in range(40):
            assert await drill_is_ready(seat)
            judged = app.screen.practice.turn.is_answer
            await seat.type(app.screen.practice.hint())
            if judged:
                await seat.settle()
                os.kill(os.getpid(), signal.SIGKILL)

asyncio.run(main())
"""


def test_killed_in_mid_drill_everything_up_to_the_last_verdict_is_there(tmp_path):
    path = tmp_path / "records.sqlite3"
    root = data_directory("grammars").parent

    ran = subprocess.run([sys.executable, "-c", KILLED, str(path)], cwd=root, capture_output=True)

    assert ran.returncode == -signal.SIGKILL, ran.stderr.decode()[-800:]
    with Store(path) as store:
        (session,) = store.sessions()
    assert session.finished_at is None
    assert session.head.drill == "push_back_tow_bar"
    assert len(session.exchanges) == 1
    assert session.exchanges[0].outcome == "correct"


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
def test_the_records_tell_trend_errors_and_exchanges_of_a_trainee(tmp_path, size):
    path = tmp_path / "records.sqlite3"
    with Store(path) as store:
        keep_session(store, "Ann", "holding short runway 27R", "holding short runway 27R")
        keep_session(store, "Ben", "roger")
        keep_session(store, "Ann", "holding short runway 27L", "holding short runway 27R")

    async def use(seat: Seat) -> None:
        await seat.press("5")
        assert await seat.until(lambda: seat.app.screen.query_one(OptionList).option_count == 3)
        await seat.settle()
        seen = seat.sees()
        assert "3 sessions" in seen
        assert "Ann: 1 of 4" in seen
        assert "first 0%, last 50%" in seen
        assert "wrong 3" in seen
        await seat.press("down")
        assert "Ben: 0 of 1" in seat.sees()

    drive(ReadbackApp(make_services(records=path)), use, size)


def test_no_records_yet_says_how_to_keep_some(tmp_path):
    async def use(seat: Seat) -> None:
        await seat.press("5")
        assert await seat.until(lambda: "0 sessions" in seat.sees())
        assert "--trainee NAME" in seat.sees()

    drive(ReadbackApp(make_services(records=tmp_path / "records.sqlite3")), use)


@pytest.mark.parametrize(
    ("shares", "drawn"), [([], ""), ([0.0, 1.0], "▁█"), ([0.5], "▅"), ([0.0] * 70, "▁" * 60)]
)
def test_a_trend_is_drawn_in_bars(shares, drawn):
    assert bars(shares) == drawn
