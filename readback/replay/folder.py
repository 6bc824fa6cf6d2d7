"""The recordings in what was named: files as they are, folders with all that is in them."""

from collections.abc import Iterable
from pathlib import Path

from readback.errors import InputError

READ = frozenset("aif aifc aiff au caf flac mp3 oga ogg opus rf64 snd w64 wav wave".split())
"""Endings of files that can be read."""
NOT_READ = frozenset("3gp aac amr m4a mp4 webm wma".split())
"""Endings of recordings that cannot: they are listed as such, not left out in silence."""


def find_recordings(named: Iterable[str]) -> list[str]:
    """List the recordings that were named.

    Args:
        named: Files, taken as they are, and folders, searched with the folders in them. Hidden
            files and folders do not count.

    Returns:
        Paths, each once; those of a folder by name.

    Raises:
        InputError: A folder holds no recording, or cannot be read.
    """
    found: dict[str, None] = {}
    for name in named:
        folder = Path(name)
        if not folder.is_dir():
            found[name] = None
            continue
        inside = _inside(folder)
        if not inside:
            raise InputError(
                f"{name}: holds no recording.", "Give a folder with WAV or FLAC files, for example."
            )
        found.update(dict.fromkeys(inside))
    return list(found)


def _inside(folder: Path) -> list[str]:
    try:
        entries = sorted(folder.rglob("*"))
    except OSError as error:
        raise InputError(
            f"{folder}: cannot be read ({error.strerror}).", "Give another folder."
        ) from error
    return [
        str(path)
        for path in entries
        if path.suffix.lower().removeprefix(".") in READ | NOT_READ
        and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    ]
