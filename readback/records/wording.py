"""An operator's own wording kept with its sessions: any desk can judge them again by it."""

from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import IntegrityError

from readback.errors import InputError
from readback.judging.local import LocalWording
from readback.records.tables import WORDINGS
from readback.records.versions import content_hash


def keep_wording(connection: Connection, local: LocalWording) -> str:
    """Keep the files that judge, once for each content.

    Args:
        connection: Writes.
        local: Checked, as `load_local` gives it; pronunciations judge nothing and are left out.

    Returns:
        The version: the hash of the files' content.

    Raises:
        InputError: A file cannot be read any more.
    """
    version = content_hash(*local.grammars, *local.rules)
    there = select(WORDINGS.c.version).where(WORDINGS.c.version == version)
    if connection.execute(there).first() is None:
        files = {"grammars": _read(local.grammars), "rules": _read(local.rules)}
        try:
            with connection.begin_nested():
                connection.execute(insert(WORDINGS).values(version=version, files=files))
        except IntegrityError:
            # Another desk kept the same in between.
            pass
    return version


def load_wording(connection: Connection, version: str, folder: Path) -> LocalWording:
    """Give the wording of that version as files.

    Args:
        connection: Reads.
        version: As `keep_wording` gave it.
        folder: Where the files are laid, unless they lie there.
    """
    kept = connection.execute(select(WORDINGS.c.files).where(WORDINGS.c.version == version))
    files = kept.scalar_one()
    place = folder / version
    place.mkdir(exist_ok=True)
    return LocalWording(
        grammars=_write(files["grammars"], place), rules=_write(files["rules"], place)
    )


def _read(paths: Iterable[Path]) -> list[list[str]]:
    try:
        return [[path.name, path.read_text(encoding="utf-8")] for path in paths]
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"The local wording cannot be read ({error}).", "Give its directory again."
        ) from error


def _write(files: Iterable[tuple[str, str]], place: Path) -> tuple[Path, ...]:
    paths = []
    for name, text in files:
        # A name from a database leads nowhere else.
        path = place / Path(name).name
        if not path.exists():
            path.write_text(text, encoding="utf-8")
        paths.append(path)
    return tuple(paths)
