"""Which grammar, rules and drill a session was judged with, told by their content."""

import hashlib
from collections.abc import Iterable
from pathlib import Path

from readback.data import data_directory
from readback.errors import InputError

_DIGITS = 16
"""Of the hexadecimal digest: 64 bits tell files apart that nobody forges."""


def content_hash(*paths: Path) -> str:
    """Hash files, names left out, so that a moved file stays the same.

    Returns:
        The first 16 hexadecimal digits of the SHA-256 of the contents, one after the other.

    Raises:
        InputError: A file cannot be read.
    """
    digest = hashlib.sha256()
    for path in paths:
        try:
            content = path.read_bytes()
        except OSError as error:
            raise InputError(
                f"{path}: cannot be read ({error.strerror}).", "Give the path of a file."
            ) from error
        # Its length first, so that a line that moves from one file to the next shows.
        digest.update(len(content).to_bytes(8, "big") + content)
    return digest.hexdigest()[:_DIGITS]


def drill_hash(drill: str | None) -> str | None:
    """Hash a drill's file; None without a drill.

    Args:
        drill: Its name in the catalogue, or the path of its file.

    Raises:
        InputError: There is none of that name, or it cannot be read.
    """
    if drill is None:
        return None
    from readback.drills.files import find_drill

    return content_hash(find_drill(drill))


def grammar_version(local_grammars: Iterable[Path] = ()) -> str:
    """Hash the grammars, lexicon and spellings that come with the program, and local ones."""
    folder = data_directory("grammars")
    own = [path for ending in ("jsgf", "dict", "toml") for path in folder.glob(f"*.{ending}")]
    return content_hash(*sorted(own), *local_grammars)


def rules_version(local_rules: Iterable[Path] = ()) -> str:
    """Hash the rules files that come with the program, and local ones."""
    return content_hash(
        *sorted((data_directory("grammars") / "rules").glob("*.yaml")), *local_rules
    )
