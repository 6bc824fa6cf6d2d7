"""What is practised is on disk at once, and the Records screen tells what there is."""

import signal
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from textual.widgets import OptionList

from readback.drills.engine import DrillRun
from readback.drills.files import find_drill, load_drill
from readback.drills.plan import make_plan
from readback.drills.practice import Practice
from readback.judging.check import check
from readback.judging.pairs import make_pairs
from readback.phraseology.grammar import load_grammar
from readback.records.audio import decode_flac
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.screens.app import ReadbackApp
from readback.screens.records import bars
from readback.screens.start import StartScreen
from readback.transmission import Transmission
from tests.live.fakes import spoken, wait_until
from tests.screens.conftest import Seat, drive
from tests.screens.fakes import make_services
from tests.screens.terminal import real_terminal
from tests.screens.test_screens import drill_is_ready

PAIR = next(one for one in make_pairs(100, 7) if one.error is None)


def keep_session(store: Store, trainee: str, *readbacks: str, day: int = 1) -> None:
    instruction = "hold short of runway 27L"
    head = SessionHead(training="ground calls", training_date=date(2026, 3, day), trainee=trainee)
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
        assert "kept in the records of Ann" in seat.sees().splitlines()[0]
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
        assert await seat.until(lambda: any("nothing is kept" in line for line in seat.told))

    drive(ReadbackApp(make_services(records=tmp_path, trainee="Ann")), use)


def test_each_transmission_of_a_drill_is_kept_and_readbacks_with_their_verdicts(tmp_path):
    path = tmp_path / "records.sqlite3"
    services = make_services(records=path, trainee="Ann")

    async def use(seat: Seat) -> None:
        for answer in ("brakes set", "brakes released"):
            assert await drill_is_ready(seat)
            while "brakes" not in seat.app.screen.practice.hint():
                await seat.type(seat.app.screen.practice.hint())
                assert await drill_is_ready(seat)
            await seat.type(answer)
        await seat.press("f10")

    drive(ReadbackApp(services, drill="push_back_tow_bar", seat="flight_deck"), use)

    with Store(path) as store:
        (session,) = store.sessions()
    first, second = (one for one in session.exchanges if "brakes" in _said(session, one.readback))
    assert (first.outcome, second.outcome) == ("incorrect", "correct")
    assert _said(session, first.instruction).startswith("confirm brakes released")
    assert _said(session, second.instruction).startswith("negative, i say again")
    stations = {kept.current.station for kept in session.transmissions}
    assert stations == {"flight_deck", "headset", "controller"}
    starts = [kept.current.start for kept in session.transmissions]
    assert starts == sorted(starts)
    assert session.head.settings == {"seed": 7, "seat": "flight_deck"}
    assert "1 fault, not gone through to its end" in session.head.remarks
    assert session.finished_at is not None


def _said(session, number: int) -> str:
    return session.transmission(number).current.text


@pytest.mark.parametrize("agreed", [True, False])
def test_the_voice_is_kept_only_where_the_trainee_agreed(tmp_path, agreed):
    path = tmp_path / "records.sqlite3"
    services = make_services(PAIR.readback, records=path, trainee="Ann")
    services.consent = agreed
    services.least_certainty, services.by_channel = 0.8, {"clean": 0.6, "noisy": 0.9}

    async def use(seat: Seat) -> None:
        await seat.press("1")
        assert ("the voice as well" in seat.sees()) is agreed
        await seat.pilot.press("f2")
        assert await seat.until(lambda: seat.app.screen.doing == "listening")
        await seat.until(lambda: "so far" in seat.sees())
        await seat.press("f2")
        assert await seat.until(lambda: seat.app.screen.done == 1)

    drive(ReadbackApp(services), use)

    with Store(path) as store:
        (session,) = store.sessions()
        flac = store.audio(session.id, 2)
    assert session.head.consent is agreed
    asked, answered = session.transmissions
    assert answered.current.end is not None
    assert asked.least_certainty is None
    assert answered.least_certainty == services.least_certainty_of(answered.original)
    assert (flac is not None) is agreed
    if flac is not None:
        pcm, rate = decode_flac(flac)
        assert rate == 16_000
        assert len(pcm) == pytest.approx(len(np.concatenate(spoken())), abs=8_000)


def lines_before_the_brakes() -> list[str]:
    drill = load_drill(find_drill("push_back_tow_bar"))
    practice = Practice(DrillRun(make_plan(drill, load_grammar(), seed=7, seat="flight_deck")))
    lines: list[str] = []
    while True:
        while practice.advance() is not None:
            pass
        if "brakes" in practice.hint():
            return lines
        lines.append(practice.hint())
        practice.answer(lines[-1])


def by_ann(path: Path) -> int:
    """Count what the records hold of her."""
    with Store(path) as store:
        return sum(
            kept.current.station == "flight_deck"
            for session in store.sessions()
            for kept in session.transmissions
        )


def test_killed_in_mid_drill_everything_up_to_the_last_verdict_is_there(tmp_path):
    path = tmp_path / "records.sqlite3"
    surroundings = {
        "READBACK_RECORDS": str(path),
        "READBACK_SETTINGS": str(tmp_path / "settings.toml"),
    }
    arguments = ["practise", "push_back_tow_bar", "--seat", "flight_deck", "--seed", "7"]

    with real_terminal([*arguments, "--trainee", "Ann"], surroundings) as terminal:
        for number, line in enumerate(lines_before_the_brakes(), start=1):
            assert terminal.sees("your turn")
            terminal.type(f"{line}\r")
            assert wait_until(lambda wanted=number: by_ann(path) == wanted, 40)
        terminal.forget()
        terminal.type("brakes set\r")
        assert terminal.sees("✗ wrong")
        status = terminal.kill()

    assert status == -signal.SIGKILL
    with Store(path) as store:
        (session,) = store.sessions()
    assert session.finished_at is None
    assert session.exchanges[-1].outcome == "incorrect"
    assert _said(session, session.exchanges[-1].readback) == "brakes set"
    with real_terminal([], surroundings) as terminal:
        assert terminal.sees("What do you want to do?")
        terminal.type("5")
        assert terminal.sees("broken off")
        assert terminal.sees("Ann")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
def test_the_records_tell_trend_errors_and_exchanges_of_a_trainee(tmp_path, size):
    path = tmp_path / "records.sqlite3"
    with Store(path) as store:
        keep_session(store, "Ann", "holding short runway 27R", "holding short runway 27R")
        keep_session(store, "Ben", "roger", day=2)
        keep_session(store, "Ann", "holding short runway 27L", "holding short runway 27R", day=3)

    async def use(seat: Seat) -> None:
        await seat.press("5")
        assert await seat.until(lambda: seat.app.screen.query_one(OptionList).option_count == 3)
        await seat.settle()
        seen = seat.sees()
        assert "3 sessions" in seen
        assert "Ann: 1 of 4" in seen
        assert "first 0%, last 50%" in seen
        assert "later half +50%" in seen
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
