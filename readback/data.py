"""Where the data files lie: in a checkout beside the package, in a wheel inside it."""

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
