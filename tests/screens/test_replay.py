"""Replay driven by its keys: a recording and kept sessions, heard again, corrected, judged anew."""

import threading
from pathlib import Path

import numpy as np
import pytest
from textual.widgets import Checkbox, Input, OptionList, Static

from readback.drills.files import find_drill
from readback.records.audio import encode_flac
from readback.records.model import KeptSession, SessionHead
from readback.records.store import Store
from readback.records.versions import content_hash
from readback.screens.app import ReadbackApp
from readback.screens.correct import CorrectScreen
from readback.screens.messages import SessionsListed
from readback.screens.widgets.verdict import VerdictView
from readback.speech.voice import Speaker
from readback.transmission import Transmission
from tests.drills.planting import faithful, plan_of
from tests.screens.conftest import Seat, drive
from tests.screens.draw import INSTRUCTION, RECORDING, WRONG, fill_records
from tests.screens.fakes import NOW, make_services

RIGHT = "holding short of runway two seven right larkspur four two one"


@pytest.fixture
def path(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("READBACK_SETTINGS", str(tmp_path / "settings.toml"))
    return tmp_path / "records.sqlite3"


class Tape:
    """An output that keeps what it is given."""

    def __init__(self) -> None:
        self.played: list[np.ndarray] = []

    def play(self, samples, cancelled) -> None:
        self.played.append(samples)


def app_with(records: Path, tape: Tape | None = None, **more) -> ReadbackApp:
    services = make_services(INSTRUCTION, WRONG, records=records, **more)
    if tape is not None:
        services.make_speaker = lambda duplex: Speaker(None, tape, duplex)
    return ReadbackApp(services, first="replay", files=(RECORDING,))


async def open_recording(seat: Seat) -> None:
    await seat.settle()  # until the records are read nothing is listed
    await seat.press("end", "enter")
    assert await seat.until(lambda: seat.app.screen.session is not None)
    await seat.settle()


async def open_newest(seat: Seat) -> None:
    assert await seat.until(lambda: "sessions" in seat.sees())
    await seat.settle()
    await seat.press("enter")
    assert await seat.until(lambda: seat.app.screen.session is not None)
    await seat.settle()


async def fill_in(seat: Seat, **values: str) -> None:
    assert isinstance(seat.app.screen, CorrectScreen)
    for name, value in values.items():
        seat.app.screen.query_one(f"#{name}", Input).value = value


async def save(seat: Seat) -> None:
    await seat.press("f10")
    assert await seat.until(lambda: not isinstance(seat.app.screen, CorrectScreen))
    await seat.settle()


def problem(seat: Seat) -> str:
    return str(seat.app.screen.query_one("#problem", Static).visual)


def sessions(records: Path) -> list[KeptSession]:
    with Store(records) as store:
        return list(store.sessions())


def judged(seat: Seat) -> str | None:
    verdict = seat.app.screen.query_one(VerdictView).verdict
    return None if verdict is None else verdict.verdict.value


def test_recordings_are_listed_together_with_the_sessions_and_the_cursor_stays(path):
    fill_records(path)
    app = app_with(path)
    open_store, let_go = app.services.open_store, threading.Event()

    def open_late() -> Store:
        let_go.wait(20.0)
        return open_store()

    app.services.open_store = open_late

    async def use(seat: Seat) -> None:
        assert await seat.until(lambda: "reading the records" in seat.sees())
        assert RECORDING.name not in seat.sees()
        let_go.set()
        assert await seat.until(lambda: RECORDING.name in seat.sees())
        assert "sessions" in seat.sees()
        choices = seat.app.screen.query_one("#list", OptionList)
        assert choices.highlighted_option.id == "session 2"
        await seat.press("end")
        seat.app.screen.post_message(SessionsListed([(3, "of another program")]))
        assert await seat.until(lambda: "of another program" in seat.sees())
        assert choices.highlighted_option.id == "file 0"

    drive(app, use)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
def test_a_recording_is_a_list_of_transmissions_with_times_stations_and_verdicts(path, size):
    async def use(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down")
        seen = seat.sees()
        assert "1 00:00" in seen
        assert "controller" in seen
        assert "not kept" in seen
        assert "✗ INCORRECT   flight deck" in seen
        assert judged(seat) == "incorrect"

    drive(app_with(path), use, size)
    assert sessions(path) == []


async def choose_drill(seat: Seat, name: str) -> None:
    await seat.press("f8")
    assert "Which drill was recorded" in seat.sees()
    drills = seat.app.screen.query_one(OptionList)
    drills.highlighted = [one for one, _ in seat.app.screen._choices].index(name)
    await seat.press("enter")


def test_a_recording_is_laid_beside_the_drill_that_was_chosen(path):
    lines = [one.transmission.text for one in faithful(plan_of("conditional_line_up", 1))]
    clearance, answer = lines[1:3]  # the request before them is left out
    wrong = answer.replace("nine left", "nine right")
    assert wrong != answer
    services = make_services(clearance, wrong, records=path)

    async def use(seat: Seat) -> None:
        await seat.settle()
        await choose_drill(seat, "conditional_line_up")
        assert "beside the drill conditional_line_up, the trainee as flight deck" in seat.sees()
        await seat.press("end", "enter")
        assert await seat.until(lambda: seat.app.screen.session is not None)
        await seat.press("down")
        seen = seat.sees()
        assert "drill conditional_line_up:" in seen
        assert "missing:" in seen
        assert judged(seat) == "incorrect"
        assert "Drill" not in seen.splitlines()[-1]
        await seat.press("m")
        await fill_in(seat, right="Runway again.", why="Seen.", by="Ines", trainee="Ann")
        await save(seat)
        assert "missing:" not in seat.sees()

    drive(ReadbackApp(services, first="replay", files=(RECORDING,)), use, (120, 40))
    (kept,) = sessions(path)
    assert kept.head.drill == "conditional_line_up"
    assert kept.head.drill_hash == content_hash(find_drill("conditional_line_up"))
    assert kept.head.pairing == "given"


def test_a_drill_that_was_chosen_is_left_out_again(path):
    async def use(seat: Seat) -> None:
        await seat.settle()
        await choose_drill(seat, "push_back_tow_bar")
        await seat.press("f8")
        assert "beside the drill" not in seat.sees()
        await open_recording(seat)
        assert judged(seat) == "incorrect"
        await seat.press("f5", "f8", "escape")
        assert "beside the drill" not in seat.sees()

    drive(app_with(path), use)


def test_of_another_drill_it_is_told_that_nothing_of_it_was_said(path):
    async def use(seat: Seat) -> None:
        await seat.settle()
        await choose_drill(seat, "push_back_tow_bar")
        await open_recording(seat)
        assert "nothing of it was said" in seat.sees()
        assert judged(seat) is None

    drive(app_with(path), use)


def test_heard_words_are_corrected_judged_at_once_and_found_after_a_restart(path):
    async def correct_words(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down", "w")
        await fill_in(seat, right=RIGHT, why="I listened again.", by="Ines", trainee="Ann")
        await save(seat)
        assert judged(seat) == "correct"
        assert "✓ CORRECT" in seat.sees()
        assert "Ann, session 1: 1 of 1 correct" in seat.sees()

    async def look_again(seat: Seat) -> None:
        await open_newest(seat)
        await seat.press("down")
        seen = seat.sees()
        assert "✓ CORRECT" in seen
        assert "words of 2, before: crossing runway" in seen
        assert "Ines, 2026-03-02 09:30: I listened again." in " ".join(seen.split())

    drive(app_with(path), correct_words)
    drive(app_with(path), look_again)

    (session,) = sessions(path)
    assert session.transmission(2).original.text == WRONG
    assert session.transmission(2).current.text == RIGHT
    assert session.first_exchanges[0].outcome == "incorrect"
    (correction,) = session.corrections
    assert (correction.by, correction.why) == ("Ines", "I listened again.")
    assert session.head.trainee == "Ann"
    assert not session.head.consent
    assert {kept.audio_bytes for kept in session.transmissions} == {0}


def test_station_pairing_verdict_and_remark_of_a_kept_session_are_corrected(path):
    fill_records(path)
    by = {"why": "As the instructor heard it.", "by": "Ines"}

    async def use(seat: Seat) -> None:
        await open_newest(seat)
        await seat.press("down", "s")
        await fill_in(seat, right="flight deck two", **by)
        await save(seat)
        await seat.press("down", "down", "v")
        await fill_in(seat, right="correct", **by)
        await save(seat)
        assert "CORRECT by Ines; the program says:" in seat.sees()
        await seat.press("a")
        await fill_in(seat, right="nobody", **by)
        await save(seat)
        await seat.press("m")
        await fill_in(seat, right="Watch the side.", **by)
        await save(seat)
        assert "remarks: Watch the side." in seat.sees()

    drive(app_with(path), use)

    session = sessions(path)[-1]
    kinds = [correction.kind.value for correction in session.corrections]
    assert kinds == ["words", "station", "verdict", "pairing", "remarks"]
    assert session.transmission(2).current.station == "flight deck two"
    assert session.corrections[2].corrected["outcome"] == "correct"
    assert [one.readback for one in session.exchanges if one.instruction == 3] == [None]
    assert session.head.remarks == "Watch the side."


def test_who_corrects_is_remembered(path):
    fill_records(path)

    async def use(seat: Seat) -> None:
        await open_newest(seat)
        for _ in range(2):
            await seat.press("m")
            by = seat.app.screen.query_one("#by", Input).value
            await fill_in(seat, right="Good.", why="Well done.", by=by or "Ines")
            await save(seat)

    drive(app_with(path), use)

    assert [one.by for one in sessions(path)[-1].corrections] == ["Ines"] * 3


@pytest.mark.parametrize(
    ("key", "values", "told"),
    [
        ("w", {"why": " ", "by": "Ines"}, "needs a reason"),
        ("w", {"why": "misheard", "by": ""}, "needs a name"),
        ("v", {"right": "good", "why": "misheard", "by": "Ines"}, "no verdict"),
        ("a", {"right": "9", "why": "misheard", "by": "Ines"}, "no transmission 9"),
        ("w", {"right": RIGHT, "why": "misheard", "by": "Ines", "trainee": ""}, "Whose records"),
        ("w", {"why": "misheard", "by": "Ines", "trainee": "x" * 201}, "cannot be kept"),
    ],
)
def test_a_correction_that_cannot_be_is_told_in_the_form_and_nothing_is_kept(
    path, key, values, told
):
    async def use(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down", key)
        seat.app.screen.query_one("#trainee", Input).max_length = None
        await fill_in(seat, **{"trainee": "Ann", **values})
        await seat.press("f10")
        assert await seat.until(lambda: told in problem(seat))
        await seat.press("escape")
        assert judged(seat) == "incorrect"

    drive(app_with(path), use)
    assert sessions(path) == []


def test_the_voice_of_a_recording_is_kept_only_with_consent_and_played_from_the_records(path):
    tape = Tape()

    async def correct_it(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down", "w")
        await fill_in(seat, right=RIGHT, why="misheard", by="Ines", trainee="Ann")
        seat.app.screen.query_one("#consent", Checkbox).value = True
        await save(seat)

    async def listen(seat: Seat) -> None:
        await open_newest(seat)
        await seat.press("f3")
        assert await seat.until(lambda: len(tape.played) == 2)

    drive(app_with(path), correct_it)
    drive(app_with(path, tape), listen)

    (session,) = sessions(path)
    assert all(kept.audio_bytes > 1000 for kept in session.transmissions)
    assert all(len(sound) > 16_000 for sound in tape.played)


def test_one_transmission_of_a_recording_is_played_or_the_pair(path):
    tape = Tape()

    async def use(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down", "f2")
        assert await seat.until(lambda: len(tape.played) == 1)
        await seat.settle()
        await seat.press("f3")
        assert await seat.until(lambda: len(tape.played) == 3)

    drive(app_with(path, tape), use)

    one, first, second = map(len, tape.played)
    assert one == second != first


def test_what_has_no_sound_is_read_out_or_marked_with_a_tone(path):
    with Store(path, now=lambda: NOW) as store:
        head = SessionHead(training="x", training_date=NOW.date(), trainee="Ann", consent=True)
        session = store.begin(head)
        store.keep_transmission(session, Transmission.typed(INSTRUCTION))
        flac = encode_flac(np.full(8_000, 1_000, np.int16))
        store.keep_transmission(session, Transmission.typed(WRONG), flac=flac)
    tape = Tape()

    async def use(seat: Seat) -> None:
        await open_newest(seat)
        await seat.press("f2")
        assert await seat.until(lambda: len(tape.played) == 1)
        await seat.settle()
        await seat.press("down", "f2")
        assert await seat.until(lambda: len(tape.played) == 2)

    drive(app_with(path, tape), use)

    assert tape.played[1][:8_000] == pytest.approx(1_000 / 32_768)


def test_playing_without_output_is_told(path):
    async def use(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("f3")
        assert await seat.until(lambda: bool(seat.told))
        assert "Nothing can be played" in seat.told[0]

    drive(app_with(path), use)


def test_a_path_can_be_typed_and_a_wrong_one_is_one_line(path, tmp_path):
    async def use(seat: Seat) -> None:
        seat.app.screen.query_one("#path", Input).focus()
        await seat.settle()
        await seat.type(str(tmp_path / "no.wav"))
        assert await seat.until(lambda: bool(seat.told))
        assert "no such file" in seat.told[0]
        await seat.type(str(RECORDING))
        assert await seat.until(lambda: seat.app.screen.session is not None)

    drive(app_with(path), use)


def test_a_folder_that_is_typed_offers_the_recordings_in_it(path, tmp_path):
    folder = tmp_path / "day"
    folder.mkdir()

    async def use(seat: Seat) -> None:
        seat.app.screen.query_one("#path", Input).focus()
        await seat.settle()
        await seat.type(str(folder))
        assert await seat.until(lambda: bool(seat.told))
        assert "holds no recording" in seat.told[0]
        (folder / "monday.flac").write_bytes(RECORDING.read_bytes())
        await seat.type(str(folder))
        assert await seat.until(lambda: "monday.flac" in seat.sees())
        await open_recording(seat)
        assert "recording monday, not kept" in seat.sees()

    drive(app_with(path), use)


def test_what_is_kept_already_is_not_kept_twice(path):
    right = {"right": RIGHT, "why": "misheard", "by": "Ines", "trainee": "Ann"}

    async def use(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down", "w")
        await fill_in(seat, **right)
        await save(seat)

    async def again(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("down", "w")
        await fill_in(seat, **right)
        await seat.press("f10")
        assert await seat.until(lambda: "kept already, as session 1 of Ann" in problem(seat))

    drive(app_with(path), use)
    drive(app_with(path), again)

    (session,) = sessions(path)
    assert len(session.corrections) == 1


def test_what_is_not_correct_is_found_one_after_the_other(path):
    fill_records(path)
    with Store(path) as store:
        wrong = [one.readback for one in store.load(2).exchanges if one.outcome != "correct"]
    assert len(wrong) == 2

    async def use(seat: Seat) -> None:
        await open_newest(seat)
        seen = []
        for _ in range(3):
            await seat.press("f7")
            seen.append(seat.app.screen.chosen.number)
        assert seen == [*wrong, wrong[0]]

    drive(app_with(path), use)


def test_where_nothing_is_wrong_it_is_said(path):
    services = make_services(INSTRUCTION, RIGHT, records=path)

    async def use(seat: Seat) -> None:
        await open_recording(seat)
        await seat.press("f7")
        assert seat.told == ["Nothing here is wrong."]

    drive(ReadbackApp(services, first="replay", files=(RECORDING,)), use)


def test_records_that_cannot_be_read_are_told_and_recordings_still_open(tmp_path):
    async def use(seat: Seat) -> None:
        assert await seat.until(lambda: bool(seat.told))
        await open_recording(seat)

    drive(app_with(tmp_path), use)


def test_escape_goes_back_to_the_list_and_then_out(path):
    fill_records(path)

    async def use(seat: Seat) -> None:
        await open_newest(seat)
        await seat.press("escape")
        assert seat.app.screen.session is None
        assert "Choose a session" in seat.sees()
        await seat.press("escape")
        assert "What do you want to do?" in seat.sees()

    drive(app_with(path), use)


def test_a_session_chosen_in_the_records_is_replayed_and_its_correction_seen_there(path):
    fill_records(path)
    services = make_services(records=path)

    async def use(seat: Seat) -> None:
        assert await seat.until(lambda: "2 sessions" in seat.sees())
        await seat.settle()
        assert "1 of 3 correct" in seat.sees()
        await seat.press("f4")
        assert await seat.until(lambda: getattr(seat.app.screen, "session", None) is not None)
        await seat.press("down", "down", "down", "v")
        await fill_in(seat, right="correct", why="Callsign was audible.", by="Ines")
        await save(seat)
        await seat.press("escape")
        assert await seat.until(lambda: "2 of 3 correct" in seat.sees())

    drive(ReadbackApp(services, first="records"), use, (120, 40))
