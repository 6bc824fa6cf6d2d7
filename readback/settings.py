"""A user's settings: what need not be said at each command (``settings.toml``).

They stand in the folder of this user's data of readback, or where ``READBACK_SETTINGS`` says. What
is given on the command line counts before them.
"""

import json
import os
import re
import tomllib
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from readback.data import user_data_folder
from readback.errors import InputError
from readback.field_errors import what_is_wrong

VARIABLE = "READBACK_SETTINGS"
"""Environment variable with the path of the file."""


class Settings(BaseModel):
    """What the file may hold; None where it says nothing."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    engine: str | None = None
    """Recogniser: ``ear``, ``vosk``, ``pocketsphinx``."""
    vosk_model: Path | None = None
    """Folder of an English Vosk model."""
    second_opinion: str | None = None
    """Recogniser that hears each recorded readback of ``readback check`` too; see `heed`."""
    local: Path | None = None
    """Directory of an operator's own wording."""
    device: str | None = None
    """Microphone, as ``readback listen --device`` takes it."""
    hands_free: bool | None = None
    """Whether a voice begins a take and a pause ends it; else a key does both."""
    trainee: str | None = None
    """Whose practice is kept in the records."""
    consent: bool | None = None
    """Whether the trainee agreed that the voice is kept in the records."""
    corrected_by: str | None = None
    """Who corrected the records last."""


def settings_path() -> Path:
    """Name the file of settings; it need not exist."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else user_data_folder() / "settings.toml"


def load_settings() -> Settings:
    """Read the settings; empty ones where there is no file.

    Returns:
        The settings; a relative path in them counts from the file's folder.

    Raises:
        InputError: The file cannot be read, is not TOML, or holds what is no setting.
    """
    path = settings_path()
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings()
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not UTF-8"
        raise InputError(f"{path}: cannot be read ({why}).", "Mend or remove it.") from error
    try:
        found = Settings.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path}: {error}.", "Mend that line.") from error
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(part) for part in first["loc"])
        known = ", ".join(Settings.model_fields)
        raise InputError(
            f"{path}: {name}: {what_is_wrong(first)}.", f"Settings are {known}."
        ) from error
    paths = {
        name: path.parent / value
        for name in ("vosk_model", "local")
        if (value := getattr(found, name)) is not None
    }
    return found.model_copy(update=paths)


def save_settings(**changes: str | bool | None) -> None:
    """Write what was chosen into the file of settings; its other lines stay as they are.

    Args:
        changes: Fields of `Settings` that hold no path; None takes a line out.

    Raises:
        InputError: The file cannot be read or written.
    """
    load_settings()
    path = settings_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
        for name, value in changes.items():
            lines = [line for line in lines if not re.match(rf"\s*{name}\s*=", line)]
            if value is not None:
                # A string or a truth value in JSON is one in TOML.
                lines.append(f"{name} = {json.dumps(value, ensure_ascii=False)}")
        written = path.with_name(f"{path.name}.new")
        written.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
        written.replace(path)
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be written ({error}).", "Mend or remove it.") from error
