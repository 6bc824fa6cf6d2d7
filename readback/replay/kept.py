"""Results of a run kept as they come, so that a killed run goes on where it stopped."""

import hashlib
import os
import tempfile
from contextlib import suppress
from pathlib import Path

from pydantic import ValidationError

from readback import __version__
from readback.errors import InputError
from readback.measure.report import engine_version
from readback.records.versions import drill_hash, grammar_version, rules_version
from readback.replay.model import Replayed, ReplaySettings

_BLOCK = 1 << 20


class KeptResults:
    """Results in a folder, one file each, named by the recording's content.

    They hold what was said, so nobody but their owner may read them.

    Args:
        folder: Where; made when the first result is kept.
        settings: Results of other settings, or of another version of the program, its grammars
            and rules, do not count.
        engine: The recogniser that hears.
    """

    def __init__(self, folder: Path, settings: ReplaySettings, engine: str) -> None:
        self._folder = folder / _settings_key(settings, engine)

    def find(self, content: str) -> Replayed | None:
        """Give the result for a content; None where none was kept."""
        try:
            return Replayed.model_validate_json(self._path(content).read_bytes())
        except (OSError, ValidationError):
            # A result that cannot be read is found again.
            return None

    def keep(self, result: Replayed) -> None:
        """Keep a result; whole on disk when this returns.

        Raises:
            InputError: It cannot be written.
        """
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            # A temporary file is for its owner alone from the start.
            handle, name = tempfile.mkstemp(dir=self._folder)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(result.model_dump_json())
            Path(name).replace(self._path(result.content))
        except OSError as error:
            raise InputError(
                f"{self._folder}: results cannot be kept ({error.strerror}).",
                "Name another folder with --results.",
            ) from error

    def clear(self) -> None:
        """Remove the results."""
        with suppress(OSError):
            for path in self._folder.iterdir():
                path.unlink()
            self._folder.rmdir()

    def _path(self, content: str) -> Path:
        return self._folder / f"{content}.json"


def file_hash(path: Path) -> str:
    """Hash a file's content, block by block; empty where it is none or cannot be read."""
    digest = hashlib.sha256()
    if not path.is_file():
        # A pipe or a device may have no end.
        return ""
    try:
        with path.open("rb") as file:
            while block := file.read(_BLOCK):
                digest.update(block)
    except (OSError, ValueError):
        # Hearing it tells what is wrong.
        return ""
    return digest.hexdigest()


def _settings_key(settings: ReplaySettings, engine: str) -> str:
    """Hash all that a result depends on, apart from the recording."""
    from readback.judging.local import load_local

    local = load_local(settings.local) if settings.local else None
    parts = [
        __version__,
        engine,
        engine_version(engine),
        settings.model_dump_json(exclude={"local", "drill"}),
        grammar_version((*local.grammars, *local.lexicons, *local.names) if local else ()),
        rules_version(local.rules if local else ()),
        drill_hash(settings.drill) or "",
    ]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]
