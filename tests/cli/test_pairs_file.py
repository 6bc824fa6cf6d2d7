import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.cli import main
from readback.commands.pairs import BadLine, Pair, _lines
from readback.errors import InputError

RIGHT = {"instruction": "cross runway one four", "readback": "crossing runway one four"}
WRONG = {"instruction": "cross runway one four", "readback": "crossing runway one five"}


@pytest.fixture
def write(tmp_path):
    def write_lines(*lines: object) -> str:
        path = tmp_path / "pairs.jsonl"
        made = [line if isinstance(line, bytes) else json.dumps(line).encode() for line in lines]
        path.write_bytes(b"\n".join(made) + b"\n")
        return str(path)

    return write_lines


def test_all_correct_exits_with_0(run, write):
    ran = run("check", "--pairs", write(RIGHT, RIGHT))

    assert ran.status == 0
    assert ran.out.splitlines()[-1] == "2 pairs: 2 correct"


def test_one_wrong_exits_with_1_and_is_marked(run, write):
    ran = run("check", "--pairs", write(RIGHT, WRONG))

    assert ran.status == 1
    assert "line 2: incorrect" in ran.out
    assert "crossing runway ✗[one five]" in ran.out


def test_a_file_of_bad_lines_alone_has_no_caution(run, write):
    ran = run("check", "--pairs", write(b"{"))

    assert (ran.status, ran.out) == (2, "No pair was judged.\n")
    assert ran.err.count("\n") == 1


def test_json_is_one_line_a_pair_in_the_order_of_the_file(run, write):
    ran = run("check", "--json", "--pairs", write(WRONG, RIGHT, WRONG))

    verdicts = [json.loads(line)["verdict"] for line in ran.out.splitlines()]
    assert verdicts == ["incorrect", "correct", "incorrect"]
    assert (ran.status, ran.err) == (1, "")


def test_each_pair_brings_its_own_authority_and_callsign(run, write):
    pairs = [RIGHT | {"callsign": "Larkspur 421"}, RIGHT | {"authority": "faa"}, RIGHT]

    ran = run("check", "--json", "--pairs", write(*pairs))

    verdicts = [json.loads(line) for line in ran.out.splitlines()]
    assert [item["verdict"] for item in verdicts] == ["incomplete", "correct", "correct"]
    assert [item["authority"] for item in verdicts] == ["icao", "faa", "icao"]


def test_options_count_where_a_pair_brings_none(run, write):
    ran = run("check", "--json", "--pairs", write(RIGHT), "--authority", "uk", "--callsign", "A12")

    verdict = json.loads(ran.out)
    assert (verdict["authority"], verdict["verdict"]) == ("uk", "incomplete")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (b"hold short", "not JSON at column 1"),
        (b'{"instruction": "hold short", ', "not JSON at column"),
        (b"[1, 2]", "a list instead of an object"),
        (b"null", "null instead of an object"),
        (b'"text"', "a text instead of an object"),
        (b"[" * 20_000, "not a JSON object that can be read"),
        (b'{"instruction": ' + b"9" * 5000 + b"}", "not a JSON object that can be read"),
        (b'{"instruction": "caf\xe9"}', "not UTF-8 at byte"),
        (b'{"instruction": "\\ud800 hold short", "readback": "roger"}', "no text"),
        ({"readback": "crossing"}, 'no "instruction"'),
        ({"instruction": "", "readback": "crossing"}, "is empty"),
        ({"instruction": "cross"}, 'no "readback" and "heard"'),
        ({"instruction": "cross", "readback": "crossing", "heard": "x.wav"}, "both"),
        ({"instruction": 27, "readback": "crossing"}, '"instruction" is a number'),
        ({"instruction": "cross", "readback": ["crossing"]}, '"readback" is a list'),
        ({"instruction": "cross", "readback": True}, '"readback" is true or false'),
        (RIGHT | {"authority": "moon"}, "'moon' is no authority"),
        (RIGHT | {"authority": {}}, '"authority" is an object'),
        (RIGHT | {"callsign": "-"}, "callsign"),
        ({"instruction": "cross", "heard": "nowhere.wav"}, "nowhere.wav: no such file"),
        (RIGHT | {"note": "x" * 100_001}, "longer than 100,000 bytes"),
    ],
)
def test_a_bad_line_is_told_by_number_and_loses_no_other(run, write, line, told):
    path = write(RIGHT, line, WRONG)

    ran = run("check", "--json", "--pairs", path)

    assert ran.status == 2
    assert [json.loads(text)["verdict"] for text in ran.out.splitlines()] == [
        "correct",
        "incorrect",
    ]
    assert ran.err.startswith(f"readback: {path}: line 2: ")
    assert told in ran.err
    assert ran.err.count("\n") == 1


def test_blank_lines_a_byte_order_mark_and_line_ends_of_windows_do_not_matter(run, tmp_path):
    path = tmp_path / "pairs.jsonl"
    one = json.dumps(RIGHT).encode()
    path.write_bytes(b"\xef\xbb\xbf" + one + b"\r\n\r\n  \n" + one)

    ran = run("check", "--pairs", str(path))

    assert ran.status == 0
    assert "line 4: correct" in ran.out


def test_keys_of_others_do_not_matter_and_null_is_not_given(run, write):
    ran = run("check", "--pairs", write(RIGHT | {"id": 7, "heard": None, "callsign": None}))

    assert ran.status == 0


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "holds no pairs"),
        (b"\n \n", "holds no pairs"),
        (b"\xff\xfe{\x00", "is in UTF-16"),
    ],
)
def test_a_file_without_pairs_is_told_in_one_line(run, tmp_path, content, told):
    path = tmp_path / "pairs.jsonl"
    path.write_bytes(content)

    ran = run("check", "--pairs", str(path))

    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert told in ran.err


@pytest.mark.parametrize(
    ("path", "told"), [(".", "is a folder"), ("no.jsonl", "no such file"), ("a\0b", "cannot be")]
)
def test_a_path_that_is_no_file_is_told_in_one_line(run, tmp_path, monkeypatch, path, told):
    monkeypatch.chdir(tmp_path)

    ran = run("check", "--pairs", path)

    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert told in ran.err


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs /dev/zero")
def test_a_device_is_told_in_one_line(run):
    ran = run("check", "--pairs", "/dev/zero")

    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ran.err.startswith("readback: /dev/zero: is a device, not a file.")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs /dev/zero")
def test_a_device_as_standard_input_is_told_in_one_line():
    with Path("/dev/zero").open("rb") as endless:
        ran = check_pairs("-", stdin=endless)

    assert (ran.returncode, ran.stdout, ran.stderr.count(b"\n")) == (2, b"", 1)
    assert b"standard input: is a device, not a file." in ran.stderr


class Endless(io.RawIOBase):
    """Zeros without an end, as a pipe may give them."""

    def readline(self, size: int | None = -1) -> bytes:
        return bytes(size or 0)


def test_a_line_without_an_end_ends_the_reading():
    with pytest.raises(InputError, match="pipe: line 1 does not end"):
        list(_lines(Endless(), "pipe", Path()))


def check_pairs(path, **how):
    command = [sys.executable, "-m", "readback", "check", "--pairs", path]
    return subprocess.run(command, capture_output=True, check=False, **how)


@pytest.mark.skipif(not Path("/dev/stdin").exists(), reason="needs /dev/stdin")
@pytest.mark.parametrize("path", ["-", "/dev/stdin"])
def test_a_pipe_is_read(path):
    ran = check_pairs(path, input=json.dumps(RIGHT).encode())

    assert (ran.returncode, ran.stdout) == (0, b"line 1: correct\n1 pair: 1 correct\n")


@pytest.mark.skipif(not Path("/dev/fd").exists(), reason="needs /dev/fd")
def test_what_a_shell_puts_in_the_place_of_a_file_is_read():
    read, write = os.pipe()
    os.write(write, json.dumps(RIGHT).encode())
    os.close(write)

    ran = check_pairs(f"/dev/fd/{read}", pass_fds=[read])
    os.close(read)

    assert (ran.returncode, ran.stdout) == (0, b"line 1: correct\n1 pair: 1 correct\n")


def test_a_recording_is_looked_for_beside_the_file_of_pairs(tmp_path):
    line = b'{"instruction": "cross", "heard": "tapes/one.wav"}\n'

    (pair,) = _lines(io.BytesIO(line), "pairs.jsonl", tmp_path)

    assert isinstance(pair, Pair)
    assert pair.heard == tmp_path / "tapes" / "one.wav"


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
KEYS = st.sampled_from(["instruction", "readback", "heard", "authority", "callsign", "id"])
LINES = st.one_of(
    st.binary(max_size=80),
    JSON.map(lambda value: json.dumps(value).encode()),
    st.dictionaries(KEYS, st.text() | JSON).map(lambda value: json.dumps(value).encode()),
)


@given(st.lists(LINES, max_size=5))
def test_any_bytes_are_pairs_bad_lines_or_an_input_error(lines):
    content = b"\n".join(lines)

    try:
        read = list(_lines(io.BytesIO(content), "pairs.jsonl", Path()))
    except InputError:
        return

    assert read
    assert all(isinstance(item, Pair | BadLine) for item in read)
    assert len(read) <= content.count(b"\n") + 1


@given(st.lists(st.dictionaries(KEYS, st.text(max_size=20)), min_size=1, max_size=4))
def test_any_pairs_get_a_status(tmp_path_factory, pairs):
    path = tmp_path_factory.mktemp("pairs") / "pairs.jsonl"
    path.write_text("\n".join(map(json.dumps, pairs)), encoding="utf-8")

    assert main(["check", "--json", "--pairs", str(path)]) in (0, 1, 2)
