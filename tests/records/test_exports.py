import csv
import io
import json
import unicodedata
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.escaping import escape
from readback.records.exports import COLUMNS, render_csv, render_json_lines, render_webvtt
from readback.records.model import CorrectionKind, SessionHead
from readback.records.outside import cell
from tests.records.conftest import CROSS, CROSSED_RIGHT, HELD, HOLD

HOSTILE = '=HYPERLINK("x")<script>alert(1)</script>\u202e\x1b[31m'


@pytest.fixture
def where(tmp_path) -> str:
    """What reads no database needs only one kind."""
    return str(tmp_path / "records.sqlite3")


def rows_of(sessions) -> list[dict[str, str]]:
    text = "".join(render_csv(sessions))
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_has_a_row_for_each_exchange(store, keep_session):
    rows = rows_of([store.load(keep_session())])

    assert tuple(rows[0]) == COLUMNS
    assert [row["verdict"] for row in rows] == ["correct", "incorrect"]
    assert [(row["instruction"], row["readback"]) for row in rows] == [
        (HOLD, HELD),
        (CROSS, CROSSED_RIGHT),
    ]
    assert {row["pass_rate"] for row in rows} == {"0.5"}
    assert rows[1]["mistakes"]


def test_csv_tells_a_persons_verdict_from_the_programs(store, keep_session):
    session_id = keep_session()
    session = store.correct(
        session_id, CorrectionKind.VERDICT, 3, "correct", by="Ines Marlow", why="Heard it."
    )

    row = rows_of([session])[1]

    assert row["corrections"].startswith(
        "1: verdict of transmission 3, before: incorrect, now: cor"
    )
    assert (row["verdict"], row["verdict_by"]) == ("correct", "Ines Marlow")
    assert (row["program_verdict"], row["first_verdict"]) == ("incorrect", "incorrect")


def test_a_session_without_exchanges_has_a_row(store, head):
    (row,) = rows_of([store.load(store.begin(head()))])

    assert (row["trainee"], row["exchange"]) == ("Tam Oakley", "")


# Starts of formulas: OWASP, "CSV Injection".
@pytest.mark.parametrize(
    "start", ["=", "+", "-", "@", "\t", "\r", "\n", "  =", "＝", "\xa0=", "\u3000＋", "\t ="]
)
def test_no_cell_starts_a_formula(store, keep_session, start):
    text = f"{start}cmd|' /C calc'!A0"
    session_id = keep_session(topics=(text,), texts=((f"x{text}", text.strip()),))

    (row,) = rows_of([store.load(session_id)])

    for value in row.values():
        assert not value.startswith(("\t", "\r", "\n"))
        assert not value.lstrip().startswith(("=", "+", "-", "@", "＝", "＋"))


TEXTS = ("organisation", "training", "instructor", "trainee", "group", "drill", "engine", "remarks")


def test_every_text_is_harmless_in_a_spreadsheet(store, keep_session):
    session_id = keep_session(
        **dict.fromkeys(TEXTS, HOSTILE),
        competencies=(HOSTILE,),
        settings={"recording": HOSTILE},
        texts=((HOSTILE, HOSTILE),),
    )
    session = store.correct(session_id, CorrectionKind.WORDS, 1, HOSTILE, by=HOSTILE, why=HOSTILE)

    text = "".join(render_csv([session]))

    assert "\x1b" not in text
    assert "\u202e" not in text
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert all(not value.startswith("=") for value in row.values())
    assert {row[name] for name in TEXTS if name != "remarks"} == {cell(HOSTILE)}


@given(st.text(st.characters(codec="utf-8")))
def test_no_text_at_all_starts_a_formula_or_leaves_its_cell(text):
    shown = cell(text)

    (row,) = csv.reader(io.StringIO("".join(csv_line(shown)), newline=""))
    assert row == [shown]
    assert not {unicodedata.category(char) for char in shown} & {"Cc", "Cf", "Zl", "Zp"}
    assert not shown.lstrip().startswith(("=", "+", "-", "@"))


def csv_line(text: str) -> str:
    file = io.StringIO(newline="")
    csv.writer(file).writerow([text])
    return file.getvalue()


def test_every_field_of_the_record_is_in_each_export(store, keep_drill):
    session = store.load(keep_drill(callsign="Larkspur 421", local_version="0123456789abcdef"))
    row = rows_of([session])[0]
    document = json.loads("".join(render_json_lines([session])))
    captions = render_webvtt(session)

    assert set(SessionHead.model_fields) <= set(row)
    assert set(SessionHead.model_fields) == set(document["head"])
    for fact in (
        session.head.drill_hash,
        "0123456789abcdef",
        "Ines Marlow",
        "80%",
        "communication",
    ):
        assert fact in captions
    assert (row["settings"], row["callsign"], row["pairing"]) == ("seed 7", "Larkspur 421", "given")


def test_harmless_text_stays_as_it_is():
    assert cell("runway 27L - hold") == "runway 27L - hold"
    assert escape("Zoë, 27L") == "Zoë, 27L"


def test_what_turns_the_writing_is_shown_as_its_code():
    assert escape("a\u202eb\x1bc\nd") == r"a\u202eb\x1bc\nd"


def test_json_lines_give_everything_but_the_sound(store, keep_session):
    ids = [keep_session(), keep_session(trainee=HOSTILE)]

    lines = list(render_json_lines(store.load(number) for number in ids))

    assert all(line.count("\n") == 1 for line in lines)
    documents = [json.loads(line) for line in lines]
    assert [document["id"] for document in documents] == ids
    assert documents[1]["head"]["trainee"] == HOSTILE
    # On a terminal, too, it turns nothing.
    assert "\u202e" not in lines[1]
    assert "\x1b" not in lines[1]
    assert documents[0]["score"]["pass_rate"] == 0.5
    assert documents[0]["exchanges"][1]["verdict"]["verdict"] == "incorrect"
    assert "fLaC" not in lines[0]


def test_webvtt_has_each_transmission_with_its_times_and_station(store, keep_session):
    text = render_webvtt(store.load(keep_session()))

    assert text.startswith("WEBVTT\n\n")
    assert f"1\n00:00:00.000 --> 00:00:03.000\n<v tower>{HOLD}\n" in text
    assert f"4\n00:00:14.000 --> 00:00:17.000\n<v flight deck>{CROSSED_RIGHT}\n" in text


def test_webvtt_escapes_what_was_heard(store, keep_session):
    text = render_webvtt(store.load(keep_session(texts=((f"--> {HOSTILE}", "a & b"),))))

    cues = [line for line in text.splitlines() if line.startswith("<v ")]
    # W3C WebVTT: cue text has no "-->", and "<" and "&" only as references.
    assert all("-->" not in cue and "<script" not in cue for cue in cues)
    assert "<v flight deck>a &amp; b" in cues
    assert "<script>" in unescape(cues[0])
    assert "\u202e" not in text
    assert "\x1b" not in text
