"""Where the data files lie: in a checkout beside the package, in a wheel inside it."""

import os
import sys
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def data_directory(name: str) -> Path:
    """Find one of the project's data directories.

    Args:
        name: ``"grammars"`` or ``"audio_demo_synth"``.

    Returns:
        The directory; in an installed wheel the copy inside the package.
    """
    installed = _PACKAGE / "_data" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name


def user_data_folder() -> Path:
    """Give the folder for this user's data of readback; it need not exist.

    Source: XDG Base Directory Specification, ``$XDG_DATA_HOME``; common practice, no
    source, on Windows and macOS.
    """
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA")
        return (Path(local) if local else Path.home() / "AppData" / "Local") / "readback"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "readback"
    xdg = os.environ.get("XDG_DATA_HOME", "")
    return (Path(xdg) if Path(xdg).is_absolute() else Path.home() / ".local/share") / "readback"
