"""The log: what went wrong in the background, kept in a file of the user's data folder."""

import logging
import logging.handlers
from pathlib import Path

from readback.data import user_data_folder

LARGEST_BYTES = 256 * 1024
"""Then it is begun anew; the one before is kept."""


def log_path() -> Path:
    """Give the file; it is made with its first line."""
    return user_data_folder() / "readback.log"


def keep_log() -> None:
    """Write warnings of readback to the log from now on, and none of them to the terminal.

    A terminal that shows screens must not be written on. A log that cannot be written is done
    without.
    """
    logger = logging.getLogger("readback")
    if any(isinstance(handler, _LogFile) for handler in logger.handlers):
        return
    handler = _LogFile(log_path())
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    logger.addHandler(handler)


class _LogFile(logging.handlers.RotatingFileHandler):
    def __init__(self, path: Path) -> None:
        super().__init__(path, maxBytes=LARGEST_BYTES, backupCount=1, encoding="utf-8", delay=True)
        self._path = path

    def emit(self, record: logging.LogRecord) -> None:
        """Make the folder before the first line."""
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
        except OSError:
            return
        super().emit(record)

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802
        """Say nothing: there is nowhere to say it."""
