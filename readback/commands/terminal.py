"""What the terminal can show: its width, colours and signs; outside text made harmless."""

import os
import shutil
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from typing import Literal, TextIO

from readback.escaping import escape as escape

Style = Literal["plain", "strong", "right", "wrong", "doubtful"]

_NARROWEST = 24

_SIGNS = {"✓": "v", "✗": "x", "–": "-", "+": "+", "?": "?"}
"""The signs of a status, each with what stands for it where the encoding lacks one of them."""

# Black on a coloured ground reads on dark and light terminals alike: the contrast of black on both
# is above 9. The two colours are from Okabe and Ito's palette for all kinds of colour vision.
_TRUE_COLOURS: dict[Style, str] = {
    "strong": "1",
    "right": "1;38;2;0;0;0;48;2;86;180;233",
    "wrong": "1;38;2;0;0;0;48;2;230;159;0",
    "doubtful": "1;4",
}
_256_COLOURS: dict[Style, str] = {
    **_TRUE_COLOURS,
    "right": "1;38;5;16;48;5;74",
    "wrong": "1;38;5;16;48;5;214",
}


@dataclass(frozen=True)
class Piece:
    """Text without line breaks, shown in one style; broken at its blanks only."""

    text: str
    style: Style = "plain"


@dataclass(frozen=True)
class Terminal:
    """What the output can show."""

    width: int | None = None
    """Columns to wrap at; None where lines are not wrapped, as in a file or a pipe."""
    colours: Literal["none", "256", "true"] = "none"
    signs: bool = True
    """Whether it shows the signs beyond ASCII."""

    @classmethod
    def of(cls, stream: TextIO | None = None) -> "Terminal":
        """Find out what a stream shows; None takes standard output."""
        stream = sys.stdout if stream is None else stream
        interactive = stream.isatty()
        width = shutil.get_terminal_size().columns if interactive else None
        return cls(width, _colours(interactive), _encodes_signs(stream))

    def sign(self, sign: str) -> str:
        """Give the sign, or what stands for it in ASCII."""
        return sign if self.signs else _SIGNS[sign]

    def lines(self, pieces: Iterable[Piece], first: str = "", rest: str = "") -> Iterator[str]:
        """Set pieces one after the other, broken at blanks to the width.

        Args:
            pieces: Set with a blank between them.
            first: Before the first line.
            rest: Before all other lines.
        """
        width = max(self.width, _NARROWEST) if self.width else None
        line, used = [Piece(first)], cells(first)
        empty = True
        for word in _words(pieces, width - cells(rest) if width else None):
            size = cells(word.text)
            if not empty and width is not None and used + 1 + size > width:
                yield self._styled(line)
                line, used, empty = [Piece(rest)], cells(rest), True
            if not empty:
                # A blank inside a styled piece is styled with it: one mark, not one a word.
                inside = line[-1].style == word.style
                line.append(Piece(" ", word.style if inside else "plain"))
            line.append(word)
            used += size + (not empty)
            empty = False
        yield self._styled(line).rstrip() if empty else self._styled(line)

    def _styled(self, line: list[Piece]) -> str:
        codes = {"none": {}, "256": _256_COLOURS, "true": _TRUE_COLOURS}[self.colours]
        parts = []
        for style, pieces in groupby(line, lambda piece: piece.style):
            text = "".join(piece.text for piece in pieces)
            parts.append(f"\x1b[{codes[style]}m{text}\x1b[0m" if style in codes else text)
        return "".join(parts)


def tell(message: str) -> None:
    """Print one line for the user on standard error."""
    # What was printed before comes first, where both streams end in one place.
    with suppress(OSError):
        sys.stdout.flush()
        print(f"readback: {escape(message)}", file=sys.stderr, flush=True)


def json_writer() -> Callable[[str], None]:
    """Make standard output take JSON, which is UTF-8 whatever the terminal's encoding; print it."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(encoding="utf-8")
    return print


def cells(text: str) -> int:
    """Count the columns that text takes; it holds no control characters."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1
        for char in text
    )


def _words(pieces: Iterable[Piece], longest: int | None) -> Iterator[Piece]:
    """Split pieces at blanks, and what is wider than a whole line anywhere."""
    for piece in pieces:
        for word in piece.text.split(" "):
            while longest is not None and cells(word) > longest:
                cut = longest
                while cells(word[:cut]) > longest:
                    cut -= 1
                yield Piece(word[:cut], piece.style)
                word = word[cut:]
            if word:
                yield Piece(word, piece.style)


def _colours(interactive: bool) -> Literal["none", "256", "true"]:
    if not interactive or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return "none"
    if sys.platform == "win32":
        os.system("")  # Makes the console of Windows 10 and later take the codes.
        return "true"
    if os.environ.get("COLORTERM", "").lower() in ("truecolor", "24bit"):
        return "true"
    return "256"


def _encodes_signs(stream: TextIO) -> bool:
    try:
        "".join(_SIGNS).encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
