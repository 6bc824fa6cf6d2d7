"""New files that only their owner may read."""

import os
from pathlib import Path

from readback.errors import InputError


def create_private(path: Path) -> int:
    """Create a file of the owner's alone.

    Returns:
        Its descriptor, open for reading and writing.

    Raises:
        InputError: The file exists or cannot be written.
    """
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError as error:
        raise InputError(f"{path}: exists already.", "Give the path of a new file.") from error
    except OSError as error:
        raise InputError(
            f"{path}: cannot be written ({error.strerror}).", "Give another path."
        ) from error
