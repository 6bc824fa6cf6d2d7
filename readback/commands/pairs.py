"""Instructions and readbacks from a file of JSON lines."""

import json
import os
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from readback.errors import InputError

LONGEST_LINE = 100_000
"""Bytes. Longer than hours of talk: the line is no pair."""
_MOST_SKIPPED = 100_000_000
"""Bytes. A line longer than that may have no end: what is read is no file of pairs."""
STANDARD_INPUT = "-"

_KEYS = ("instruction", "readback", "heard", "authority", "callsign")
_SHAPE = 'Write {"instruction": "...", "readback": "..."}.'


@dataclass(frozen=True)
class Pair:
    """One instruction and what came back."""

    line: int
    """Number of its line in the file, the first being 1."""
    instruction: str
    readback: str | None
    """Typed; None where it is a recording."""
    heard: Path | None
    """The recording; a relative path starts at the folder of the file of pairs."""
    authority: str | None
    callsign: str | None


@dataclass(frozen=True)
class BadLine:
    """One line that is no pair."""

    line: int
    error: InputError


def read_pairs(path: str) -> Iterator[Pair | BadLine]:
    """Read a file of pairs, one JSON object a line; blank lines do not count.

    Args:
        path: The file, in UTF-8; ``-`` reads standard input.

    Yields:
        What each line holds, in the order of the file.

    Raises:
        InputError: The file cannot be read or holds no line.
    """
    try:
        if path == STANDARD_INPUT:
            file = _standard_input()
            _check_device(file, "standard input")
            yield from _lines(file, "standard input", Path())
        else:
            with Path(path).open("rb") as file:
                _check_device(file, path)
                yield from _lines(file, path, Path(path).parent)
    except FileNotFoundError as error:
        raise InputError(f"{path}: no such file.", "Give the path of a file of pairs.") from error
    except IsADirectoryError as error:
        raise InputError(f"{path}: is a folder.", "Give the path of a file of pairs.") from error
    except (OSError, ValueError) as error:
        # ValueError: a zero byte in the path.
        why = getattr(error, "strerror", None) or error
        raise InputError(f"{path}: cannot be read ({why}).", "Give another file.") from error


def _standard_input() -> BinaryIO:
    # There is none where the caller closed it.
    if sys.stdin is None:
        raise InputError("There is no standard input.", "Give the path of a file of pairs.")
    return sys.stdin.buffer


def _check_device(file: BinaryIO, name: str) -> None:
    """Refuse a device, which may never end; a terminal is typed at, a pipe can be read."""
    try:
        mode = os.fstat(file.fileno()).st_mode
    except OSError:  # A stream of Python's own has no descriptor.
        return
    if stat.S_ISBLK(mode) or (stat.S_ISCHR(mode) and not file.isatty()):
        raise InputError(f"{name}: is a device, not a file.", "Give the path of a file of pairs.")


def checked_text(text: str, what: str) -> str:
    """Check text that a user gave: that it is text, and of a length that somebody could say.

    Raises:
        InputError: It is neither.
    """
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError as error:
        raise InputError(f"{what} holds bytes that are no text.", "Give it in UTF-8.") from error
    if size > LONGEST_LINE:
        raise InputError(f"{what} is longer than {LONGEST_LINE:,} bytes.", "Give one transmission.")
    return text


def checked_instruction(text: str, what: str = "The instruction") -> str:
    """Check an instruction as `checked_text` does, and that it says something.

    Raises:
        InputError: It is no text, too long or blank.
    """
    if not text.strip():
        raise InputError(f"{what} is empty.", "Give what was instructed.")
    return checked_text(text, what)


def _lines(file: BinaryIO, name: str, folder: Path) -> Iterator[Pair | BadLine]:
    number = 0
    empty = True
    while raw := file.readline(LONGEST_LINE + 1):
        number += 1
        if number == 1 and raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            raise InputError(f"{name}: is in UTF-16.", "Save it as UTF-8.")
        if number == 1:
            raw = raw.removeprefix(b"\xef\xbb\xbf")
        if not raw.strip():
            continue
        empty = False
        too_long = len(raw) > LONGEST_LINE
        if too_long and not _skip_line(file, raw):
            raise InputError(f"{name}: line {number} does not end.", "Give a file of pairs.")
        try:
            if too_long:
                raise InputError(f"longer than {LONGEST_LINE:,} bytes.", "Give one pair a line.")
            yield _pair(raw, number, folder)
        except InputError as error:
            what = f"{name}: line {number}: {error.what}"
            yield BadLine(number, InputError(what, error.remedy))
    if empty:
        raise InputError(f"{name}: holds no pairs.", _SHAPE)


def _skip_line(file: BinaryIO, raw: bytes) -> bool:
    """Read to the end of a line; False where none is in sight."""
    skipped = 0
    while raw and not raw.endswith(b"\n"):
        raw = file.readline(LONGEST_LINE)
        skipped += len(raw)
        if skipped > _MOST_SKIPPED:
            return False
    return True


def _pair(raw: bytes, number: int, folder: Path) -> Pair:
    content = _json(raw)
    if not isinstance(content, dict):
        raise InputError(f"{_kind(content)} instead of an object.", _SHAPE)
    texts = {key: _text(content, key) for key in _KEYS}
    instruction, readback, heard = texts["instruction"], texts["readback"], texts["heard"]
    if instruction is None:
        raise InputError('no "instruction".', _SHAPE)
    if (readback is None) == (heard is None):
        both = "neither" if readback is None else "both"
        raise InputError(f'{both} "readback" and "heard".'.replace("neither", "no", 1), _ONE_OF)
    return Pair(
        line=number,
        instruction=checked_instruction(instruction, '"instruction"'),
        readback=readback,
        heard=None if heard is None else folder / heard,
        authority=texts["authority"],
        callsign=texts["callsign"],
    )


_ONE_OF = 'Give "readback", typed, or "heard", the path of a recording.'


def _json(raw: bytes) -> Any:
    try:
        return json.loads(raw.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise InputError(f"not UTF-8 at byte {error.start + 1}.", "Save it as UTF-8.") from error
    except json.JSONDecodeError as error:
        raise InputError(f"not JSON at column {error.colno} ({error.msg}).", _SHAPE) from error
    except (ValueError, RecursionError) as error:
        # A number of thousands of digits; thousands of brackets in one another.
        raise InputError("not a JSON object that can be read.", _SHAPE) from error


def _text(content: dict[str, Any], key: str) -> str | None:
    value = content.get(key)
    if value is not None and not isinstance(value, str):
        raise InputError(f'"{key}" is {_kind(value)} instead of a text.', "Put it in quotes.")
    return None if value is None else checked_text(value, f'"{key}"')


def _kind(value: object) -> str:
    kinds = {bool: "true or false", int: "a number", float: "a number", str: "a text"}
    kinds |= {list: "a list", dict: "an object", type(None): "null"}
    return kinds[type(value)]
