import io
import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.commands.terminal import Piece, Terminal, cells, escape

CHECK = ("check", "cross runway one four", "crossing runway one five")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("hold short", "hold short"),
        ("Zürich 跑道", "Zürich 跑道"),
        ("a\x1b[31mred", r"a\x1b[31mred"),
        ("two\nlines\ttab\r", r"two\nlines\ttab\r"),
        ("\u202eright to left\u202c", r"\u202eright to left\u202c"),
        ("zero\u200bwidth", r"zero\u200bwidth"),
        ("c1 \x9b31m", r"c1 \x9b31m"),
        ("tag\U000e0041", r"tag\U000e0041"),
        ("half \udcff", r"half \udcff"),
    ],
)
def test_what_controls_a_terminal_is_shown_as_its_code(text, shown):
    assert escape(text) == shown


@given(st.text())
def test_escaped_text_is_one_printable_line(text):
    shown = escape(text)

    assert all(char.isprintable() or char.isspace() for char in shown)
    assert len(shown.splitlines()) <= 1


@given(st.lists(st.text().map(escape).map(Piece), max_size=4), st.integers(24, 90))
def test_no_line_is_wider_than_the_terminal_and_no_word_is_lost(pieces, width):
    terminal = Terminal(width)

    lines = list(terminal.lines(pieces, "  ", "    "))

    assert all(cells(line) <= width for line in lines)
    spoken = "".join(piece.text for piece in pieces).replace(" ", "")
    assert "".join(lines).replace(" ", "") == spoken


def test_lines_are_not_wrapped_where_there_is_no_terminal():
    (line,) = Terminal().lines([Piece("word " * 100)])

    assert len(line) == 499


def test_a_styled_piece_is_one_mark_and_keeps_its_blanks():
    (line,) = Terminal(80, "256").lines([Piece("hold"), Piece("two seven", "wrong")])

    assert line == "hold \x1b[1;38;5;16;48;5;214mtwo seven\x1b[0m"


def test_signs_have_a_stand_in_where_the_encoding_lacks_them():
    stream = io.TextIOWrapper(io.BytesIO(), encoding="cp1252")

    terminal = Terminal.of(stream)

    assert [terminal.sign(sign) for sign in "✓✗–+?"] == list("vx-+?")


def on_a_terminal(columns: int = 80, **variables: str) -> str:
    """Run a check with a pseudo-terminal for its output."""
    pty = pytest.importorskip("pty")
    termios = pytest.importorskip("termios")
    ours, theirs = pty.openpty()
    termios.tcsetwinsize(theirs, (24, columns))
    kept = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "COLUMNS")}
    environment = kept | {"TERM": "xterm-256color", "COLORTERM": "", **variables}
    with subprocess.Popen(
        [sys.executable, "-m", "readback", *CHECK], stdout=theirs, stderr=theirs, env=environment
    ):
        os.close(theirs)
        shown = b""
        while True:
            try:
                block = os.read(ours, 4096)
            except OSError:
                break
            if not block:
                break
            shown += block
    os.close(ours)
    return shown.decode().replace("\r\n", "\n")


def test_a_terminal_gets_colours_and_signs():
    shown = on_a_terminal()

    assert "\x1b[1;38;5;16;48;5;214m✗[one five]\x1b[0m" in shown


def test_true_colours_are_the_two_that_all_kinds_of_colour_vision_tell_apart():
    # Okabe and Ito, "Color Universal Design" (2008): orange 230 159 0, sky blue 86 180 233.
    assert "48;2;230;159;0m✗[one five]" in on_a_terminal(COLORTERM="truecolor")


@pytest.mark.parametrize("variables", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_no_colour_leaves_the_signs(variables):
    shown = on_a_terminal(**variables)

    assert "\x1b" not in shown
    assert "✗[one five]" in shown


def test_an_empty_no_color_does_not_count():
    # The NO_COLOR convention: "when present and not an empty string" (from memory).
    assert "\x1b[" in on_a_terminal(NO_COLOR="")


@pytest.mark.parametrize("columns", [30, 50, 200])
def test_output_fits_the_terminal(columns):
    lines = on_a_terminal(columns, NO_COLOR="1").splitlines()

    assert max(map(cells, (line for line in lines if "Training aid" not in line))) <= columns
