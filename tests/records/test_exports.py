import csv
import io
import json
from html import unescape

import pytest

from readback.escaping import escape
from readback.records.exports import COLUMNS, render_csv, render_json_lines, render_webvtt
from readback.records.model import CorrectionKind
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

    assert (row["verdict"], row["verdict_by"]) == ("correct", "Ines Marlow")
    assert (row["program_verdict"], row["first_verdict"]) == ("incorrect", "incorrect")


def test_a_session_without_exchanges_has_a_row(store, head):
    (row,) = rows_of([store.load(store.begin(head()))])

    assert (row["trainee"], row["exchange"]) == ("Tam Oakley", "")


# Starts of formulas: OWASP, "CSV Injection".
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "  =", "＝"])
def test_no_cell_starts_a_formula(store, keep_session, start):
    text = f"{start}cmd|' /C calc'!A0"
    session_id = keep_session(topics=(text,), texts=((f"x{text}", text.strip()),))

    (row,) = rows_of([store.load(session_id)])

    for value in row.values():
        assert not value.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝"))


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
