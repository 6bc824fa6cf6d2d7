import argparse
import json
import re
import stat
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import pytest
import soundfile

from readback.commands import records
from readback.commands.hearing import Listener
from readback.commands.record_adding import keep_recording, make_head
from readback.commands.record_views import show_due
from readback.data import data_directory
from readback.errors import InputError
from readback.records.intervals import INTERVALS, find_due
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.replay.kept import file_hash
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission
from tests.records.conftest import CROSSED_RIGHT, HELD, HOLD, NOW

RECORDINGS = data_directory("audio_demo_synth") / "recordings"
HOSTILE = "<b>\x1b[31m\u202eTam"


@dataclass(frozen=True)
class Ran:
    status: int
    out: str
    err: str


@pytest.fixture
def run(where, capsys, store) -> Callable[..., Ran]:
    def run_records(*arguments: str) -> Ran:
        parser = argparse.ArgumentParser()
        records.add_arguments(parser)
        typed = [*arguments, "--records", where]
        capsys.readouterr()
        status = records.run(parser.parse_args(typed))
        out, err = capsys.readouterr()
        return Ran(status, out, err)

    return run_records


def test_list_shows_sessions_and_tombstones(run, keep_session):
    keep_session()
    keep_session(trainee="Ada")
    run("delete", "1")

    ran = run("list")

    assert ran.status == 0
    assert "Ada; Recurrent headset training; 1 of 2 correct (50%), not passed" in ran.out
    assert "deleted on" in ran.out
    assert "Tam Oakley" not in ran.out


def test_list_can_be_narrowed(run, keep_session):
    keep_session()
    keep_session(trainee="Ada", group="C")

    by_name = json.loads(run("list", "--trainee", "Ada", "--json").out)
    by_group = json.loads(run("list", "--group", "B", "--json").out)

    assert [one["trainee"] for one in by_name["sessions"]] == ["Ada"]
    assert [one["trainee"] for one in by_group["sessions"]] == ["Tam Oakley"]


def test_show_gives_lines_verdicts_and_corrections(run, keep_session):
    keep_session()
    words = ("--transmission", "4", "--words", "crossing")
    run("correct", "1", *words, "--by", "Ines Marlow", "--why", "Heard it.")

    out = run("show", "1").out

    assert HOLD in out
    assert f"correction 1: words of transmission 4, before: {CROSSED_RIGHT}, now: crossing" in out
    assert "Heard it." in out


@pytest.mark.parametrize(
    ("options", "shown"),
    [
        (("--transmission", "3", "--verdict", "correct"), "(by Ines Marlow; the program: incorr"),
        (("--transmission", "2", "--station", "headset"), "headset: holding"),
        (("--transmission", "3", "--answered-by", "nobody"), "3 answered by nothing"),
        (("--transmission", "3", "--answered-by", "2"), "3 answered by 2"),
        (("--result", "passed"), "passed"),
        (("--remarks", "Again next week."), "remarks: Again next week."),
        (("--set", "trainee=Tom Oakley", "--set", "topics=push, start"), "trainee: Tom Oakley"),
        (("--set", "topics=push, start"), "now: topics push, start"),
        (("--set", "assessment-date=2026-04-01"), "date of assessment: 2026-04-01"),
    ],
)
def test_correct_shows_the_session_as_it_is_now(run, keep_session, options, shown):
    keep_session()

    ran = run("correct", "1", *options, "--by", "Ines Marlow", "--why", "Heard it.")

    assert ran.status == 0
    assert shown in ran.out


def test_an_assessment_that_did_not_take_place_is_taken_away(run, store, keep_session):
    keep_session()

    run("correct", "1", "--set", "assessment-date=", "--by", "Ines Marlow", "--why", "Ill.")

    assert store.load(1).head.assessment_date is None


@pytest.mark.parametrize("detail", ["trainee", "engine=vosk", "keep-until=soon"])
def test_a_detail_that_is_none_is_told(run, keep_session, detail, capsys):
    keep_session()

    with pytest.raises((InputError, SystemExit)):
        run("correct", "1", "--set", detail, "--by", "I", "--why", "w")


def test_sound_alone_is_deleted_when_consent_is_withdrawn(run, store, keep_session):
    keep_session()

    ran = run("delete", "1", "--sound-only")

    assert ran.out == "sound deleted: 1\n"
    assert store.audio(1, 1) is None


def test_text_from_outside_is_harmless_on_the_terminal(run, keep_session):
    names = ("organisation", "training", "instructor", "trainee", "group", "engine", "drill")
    keep_session(
        **dict.fromkeys(names, HOSTILE),
        topics=(HOSTILE,),
        settings={"recording": HOSTILE, "noise": HOSTILE},
        texts=((HOLD, HOSTILE),),
        result="passed",
    )
    keep_session(settings={"noise": "ramp"})
    by = ("--by", HOSTILE, "--why", HOSTILE)
    run("correct", "1", "--transmission", "2", "--station", HOSTILE, *by)
    run("correct", "1", "--remarks", HOSTILE, *by)

    for arguments in (
        *(("list",), ("show", "1"), ("due",), ("progress",), ("trust",)),
        *(("list", "--json"), ("show", "1", "--json"), ("due", "--json"), ("progress", "--json")),
        *(("export",), ("export", "--format", "jsonl"), ("export", "1", "--format", "vtt")),
    ):
        out = run(*arguments).out
        assert "\x1b" not in out
        assert "\u202e" not in out
    assert r"\x1b" in run("list").out


def test_file_names_are_harmless_on_the_terminal(run, keep_session, tmp_path):
    keep_session()
    missing = tmp_path / f"{HOSTILE.replace('/', '')}.wav"

    added = run("add", str(missing), "--trainee", "Tam", "--training", "Recurrent")
    exported = run("export", "1", "--output", str(missing.with_suffix(".csv")))

    assert added.status == 2
    for text in (added.err, exported.out):
        assert "\x1b" not in text
        assert "\u202e" not in text
        assert r"\x1b[31m\u202eTam" in text


@pytest.mark.parametrize("name", ["csv", "jsonl", "vtt", "html"])
def test_export_writes_a_new_file_for_the_owner_alone(run, keep_session, tmp_path, name):
    keep_session()
    file = tmp_path / "out"

    run("export", "1", "--format", name, "--output", str(file))

    assert HELD in file.read_text(encoding="utf-8")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    with pytest.raises(InputError, match="exists already"):
        run("export", "1", "--format", name, "--output", str(file))


def test_a_list_of_nothing_says_so(run, keep_session):
    keep_session()

    ran = run("list", "--trainee", "Nobody")

    assert (ran.status, ran.out) == (0, "")
    assert "no such session is kept" in ran.err


def test_a_report_is_not_printed_on_a_terminal(run, keep_session, monkeypatch):
    keep_session()
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)

    with pytest.raises(InputError, match="Give --output"):
        run("export", "1", "--format", "html")


def test_export_without_sessions_takes_all(run, keep_session):
    keep_session()
    keep_session()

    assert run("export", "--format", "jsonl").out.count("\n") == 2


@pytest.mark.parametrize("name", ["vtt", "html"])
def test_what_holds_one_session_is_asked_for_one(run, keep_session, name):
    with pytest.raises(InputError, match="holds one session"):
        run("export", "--format", name)


def test_due_shows_the_rule_and_its_source(run, keep_session):
    keep_session(result="passed")

    ran = run("due", "--interval", "uk-aerodrome")

    assert "due 2027-03-02, last 2026-03-02, in time from 2026-12-02: Tam Oakley" in ran.out
    assert "every 12 months" in ran.out
    assert "ADR.OR.D.017" in ran.out


@pytest.mark.parametrize(
    ("today", "told"),
    [
        (date(2026, 12, 1), "due 2027-03-02, last 2026-03-02, in time from 2026-12-02"),
        (date(2026, 12, 2), "due by 2027-03-02, last 2026-03-02, can be done now"),
        (date(2027, 3, 2), "due by 2027-03-02"),
        (date(2027, 3, 3), "overdue since 2027-03-02, last 2026-03-02:"),
    ],
)
def test_due_tells_what_can_be_done_today(store, keep_session, capsys, today, told):
    keep_session(result="passed")
    interval = INTERVALS["uk-aerodrome"]

    show_due(find_due(store.sessions(), interval), interval, today)

    assert capsys.readouterr().out.startswith(told)


def test_due_takes_an_interval_of_ones_own(run, keep_session):
    keep_session(result="passed")

    document = json.loads(run("due", "--interval", "6", "--early", "1", "--json").out)

    assert document["due"][0]["due"] == "2026-09-02"
    assert document["due"][0]["window_from"] == "2026-08-02"
    assert document["interval"]["source"] == "set by the user, no source"


@pytest.mark.parametrize("interval", ["yearly", "0", "-3", "99999"])
def test_what_is_no_interval_is_told(run, interval):
    with pytest.raises(InputError, match="is no interval"):
        run("due", f"--interval={interval}")


def test_expired_sessions_are_told_and_deleted_on_demand(run, keep_session, head):
    keep_session(keep_until=head().training_date.replace(year=2020))

    told = run("list")
    deleted = run("delete", "--expired")

    assert "1 session is past the retention time" in told.err
    assert "Tam Oakley" not in told.out
    assert deleted.out == "deleted: 1\n"
    assert run("list").err == ""


def test_delete_wants_to_be_told_what(run, keep_session):
    keep_session()

    with pytest.raises(InputError, match="needs sessions"):
        run("delete")


def test_backup_and_restore_round_trip(run, keep_session, tmp_path):
    keep_session()
    before = run("list").out
    backup = str(tmp_path / "backup")

    run("backup", backup)
    keep_session()
    run("restore", backup, "--replace")

    assert run("list").out == before


def test_progress_shows_shares_and_practice(run, keep_session):
    keep_session()

    out = run("progress", "--trainee", "Tam Oakley").out

    assert "right: 1/2 50.0 % (9.5-90.5)" in out
    assert re.search(r"cross: runway +0/1 0.0 %", out)
    assert re.search(r"cross: runway +missed 2026-03-02", out)
    assert re.search(r"readback practise \w+  trains .*cross: runway", out)


def test_progress_of_a_group_names_its_trainees(run, keep_session):
    keep_session()
    keep_session(trainee=HOSTILE)

    out = run("progress", "--group", "B").out

    assert "2 trainees: 2 sessions, 2026-03-02" in out
    assert re.search(r"Tam Oakley +1 +2026-03-02 +1/2 .* cross: runway", out)
    assert "to practise" not in out
    assert re.search(r"cross: runway +2 +<b>\\x1b\[31m\\u202eTam, Tam Oakley", out)
    assert re.search(r"readback practise \w+  trains .*cross: runway", out)
    assert "\x1b" not in out


def test_trust_shows_corrections_beside_what_was_measured(run, keep_session):
    keep_session(engine="ear")
    keep_session(engine="ear", instructor="Bo")
    right = ("--words", "crossing runway two seven left larkspur 421")
    run("correct", "1", "--transmission", "4", *right, "--by", "Ines", "--why", "Heard it.")

    out = run("trust", "--instructor", "Ines Marlow").out

    assert "ear, 1 session, 1 of them corrected" in out
    assert max(map(len, out.splitlines())) <= 80
    # Two exchanges are right now; one of them was called wrong.
    assert re.search(r"by people's corrections +- +1/2 50.0 %", out)
    assert re.search(r"by people's corrections +0/2 0.0 %", out)
    assert re.search(r"by people +1/4 25.0 % .* 0/4 .* 1/2 50.0 %", out)
    assert re.search(r"measured, clean +\d+/\d+ .* \d+/\d+", out)
    assert json.loads(run("trust", "--json").out)["corrected"]["ear"]["sessions"] == 2


def test_trust_in_nothing_is_told(run, keep_session):
    keep_session(engine=None)

    with pytest.raises(InputError, match="heard by a recogniser"):
        run("trust")


def test_progress_of_nobody_is_told(run):
    with pytest.raises(InputError, match="no such sessions"):
        run("progress", "--trainee", "Nobody")


def test_nothing_to_do_is_told(run):
    with pytest.raises(InputError, match="needs something to do"):
        records.run(argparse.Namespace(action=None))


def test_every_field_of_the_record_is_set_from_the_line(store):
    parser = argparse.ArgumentParser()
    records.add_arguments(parser)
    typed = parser.parse_args(
        "add x.wav --trainee Tam --training Recurrent --organisation Bluefin --instructor Ines"
        " --group B --remarks Good --drill push_back_tow_bar --competency phraseology --topic push"
        " --date 2026-03-02 --assessed 2026-03-03 --authority uk --callsign Bluefin1182"
        " --noise ramp --pass-mark 0.8 --result passed --keep-until 2029-03-02 --consent".split()
    )

    head = make_head(store, typed)

    empty = SessionHead(training="x", trainee="x", training_date=NOW.date())
    # What hears is known only when something is heard, and what answers what is found.
    later = {"engine", "engine_model", "local_version", "least_certainty", "pairing"}
    unset = {name for name in SessionHead.model_fields
             if getattr(head, name) == getattr(empty, name)}  # fmt: skip
    assert unset - {"training_date"} == later
    assert head.training_date == NOW.date()


def test_the_retention_time_counts_from_the_training(store):
    parser = argparse.ArgumentParser()
    records.add_arguments(parser)
    options = "--trainee Tam --training Recurrent --date 2026-03-31 --keep-months 18"

    head = make_head(store, parser.parse_args(["add", "x.wav", *options.split()]))

    assert head.keep_until == date(2027, 9, 30)


@pytest.mark.parametrize("file", ["gc04_cross_for_hold_short.flac", "gc03_cross.flac"])
def test_a_recording_is_kept_with_its_sound(where, store, head, file):
    texts = iter([HOLD, CROSSED_RIGHT])
    listener = Listener(recogniser=ScriptedRecogniser(lambda _: Transmission.typed(next(texts))))

    number, fresh = keep_recording(store, head(engine=None), RECORDINGS / file, listener)

    assert fresh
    with Store(where) as again:
        session = again.load(number)
    assert session.head.engine == "scripted"
    assert session.head.engine_model
    assert session.head.settings == {"recording": file, "content": file_hash(RECORDINGS / file)}
    assert [kept.current.station for kept in session.transmissions] == ["controller", "flight_deck"]
    assert [kept.original.text for kept in session.transmissions] == [HOLD, CROSSED_RIGHT]
    assert [exchange.outcome for exchange in session.exchanges] == ["incorrect"]
    assert session.first_exchanges[0].readback == 2
    assert all(kept.audio_bytes > 1000 for kept in session.transmissions)
    assert session.finished_at is not None


def test_a_recording_with_its_end_missing_is_told_and_nothing_of_it_is_kept(run, store, tmp_path):
    samples, rate = soundfile.read(RECORDINGS / "gc03_cross.flac")
    whole, cut = tmp_path / "whole.wav", tmp_path / "cut.wav"
    soundfile.write(whole, samples, rate)
    cut.write_bytes(whole.read_bytes()[:-20_000])

    ran = run("add", str(cut), str(whole), "--trainee", "Tam", "--training", "Recurrent")

    assert ran.status == 2
    assert "its end is missing" in ran.err
    assert "Nothing of it is kept." in ran.err
    assert [one.head.settings["recording"] for one in store.sessions()] == ["whole.wav"]
