"""Labelled recordings: a folder with ``labels.csv`` and the clips that it names."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from readback.errors import InputError
from readback.judging.check import check
from readback.judging.model import Outcome
from readback.judging.rules import AUTHORITIES

LABELS = "labels.csv"
REQUIRED = ("file", "instruction", "readback")
OPTIONAL = ("authority", "callsign", "expected", "error", "voice", "split")
"""Columns that may be left out or left empty; others are not read."""
EXPECTED = tuple(outcome.value for outcome in Outcome if outcome is not Outcome.SAY_AGAIN)

_HEAD = f"Start it with a line of column names: {', '.join((*REQUIRED, *OPTIONAL))}."


class Labelled(BaseModel):
    """One recording of one readback, and what is known about it."""

    model_config = ConfigDict(frozen=True)

    file: Path
    instruction: str
    readback: str
    """The words that are really spoken, a planted error included."""
    authority: str = "icao"
    callsign: str | None = None
    expected: Outcome
    """The verdict that is due; where the file does not say, that on the typed words."""
    error: str | None = None
    """What is wrong with the readback, in words; None in a faithful one."""
    voice: str = "unnamed"
    split: str | None = None
    """``tuning``, ``reporting``, or None where nobody said."""

    @property
    def faithful(self) -> bool:
        """Whether the readback is right."""
        return self.expected is Outcome.CORRECT


def read_labels(folder: Path) -> tuple[Labelled, ...]:
    """Read a folder of labelled recordings.

    Args:
        folder: Holds ``labels.csv``, in UTF-8, and the recordings.

    Returns:
        In the order of the file.

    Raises:
        InputError: The folder or the file is not there or not as it must be; tells the line.
    """
    if not folder.is_dir():
        raise InputError(f"{folder}: no such folder.", "Give a folder of labelled recordings.")
    path = folder / LABELS
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            found = tuple(_read(csv.DictReader(file, strict=True), path, folder))
    except FileNotFoundError as error:
        raise InputError(f"{path}: no such file.", f"Write it. {_HEAD}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: is not in UTF-8.", "Save it as UTF-8.") from error
    except csv.Error as error:
        raise InputError(f"{path}: is no CSV ({error}).", "Save it as CSV again.") from error
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}).", "Give another.") from error
    if not found:
        raise InputError(f"{path}: names no recording.", "Give a line to each recording.")
    return found


def spread(labelled: Sequence[Labelled], count: int | None) -> tuple[Labelled, ...]:
    """Take some recordings, two that follow each other at a time, spread over the whole list.

    Our own lists have a right and a wrong readback of one voice in turn, kind of text after kind.

    Args:
        labelled: All of them.
        count: How many to take at most; None takes all.
    """
    if count is None or count >= len(labelled):
        return tuple(labelled)
    twos, wanted = (len(labelled) + 1) // 2, (count + 1) // 2
    starts = [2 * (number * twos // wanted) for number in range(wanted)]
    return tuple(one for start in starts for one in labelled[start : start + 2])[:count]


def _read(reader: "csv.DictReader[str]", path: Path, folder: Path) -> Iterator[Labelled]:
    names = [(name or "").strip() for name in reader.fieldnames or ()]
    reader.fieldnames = names
    absent = [name for name in REQUIRED if name not in names]
    if absent:
        raise InputError(f"{path}: no column {', '.join(absent)}.", _HEAD)
    seen: set[str] = set()
    for row in reader:
        where = f"{path}: line {reader.line_num}"
        if None in row:
            raise InputError(f"{where}: more values than columns.", "Put texts in quotes.")
        content = {name: (value or "").strip() for name, value in row.items()}
        if not any(content.values()):
            continue
        if content["file"] in seen:
            raise InputError(f"{where}: {content['file']} a second time.", "Name each once.")
        seen.add(content["file"])
        yield _labelled(content, where, folder)


def _labelled(row: Mapping[str, str], where: str, folder: Path) -> Labelled:
    for name in REQUIRED:
        if not row[name]:
            raise InputError(f"{where}: no {name}.", "Fill it in, or leave the line out.")
    if not (folder / row["file"]).is_file():
        raise InputError(f"{where}: {row['file']} is not in {folder}.", "Put it there.")
    authority = row.get("authority") or "icao"
    if authority not in AUTHORITIES:
        raise InputError(
            f'{where}: no authority "{authority}".', f"Write one of {', '.join(AUTHORITIES)}."
        )
    expected = row.get("expected") or ""
    if expected and expected not in EXPECTED:
        raise InputError(
            f'{where}: "{expected}" is no expected verdict.',
            f"Write one of {', '.join(EXPECTED)}, or leave it empty.",
        )
    callsign = row.get("callsign") or None
    try:
        typed = check(row["instruction"], row["readback"], authority=authority, callsign=callsign)
    except InputError as error:
        raise InputError(f"{where}: {error.what}", error.remedy) from error
    return Labelled(
        file=folder / row["file"],
        instruction=row["instruction"],
        readback=row["readback"],
        authority=authority,
        callsign=callsign,
        expected=Outcome(expected) if expected else typed.verdict,
        error=row.get("error") or None,
        voice=row.get("voice") or "unnamed",
        split=row.get("split") or None,
    )
