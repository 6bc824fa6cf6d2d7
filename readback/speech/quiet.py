"""C libraries that write to standard error themselves, kept quiet."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def quiet_standard_error() -> Iterator[None]:
    """Lead file descriptor 2 nowhere meanwhile, for all threads: keep the body short.

    Python's ``sys.stderr`` cannot catch what a C library writes.
    """
    saved = None
    with suppress(OSError):  # There may be no standard error, as under pythonw.
        saved = os.dup(2)
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
    try:
        yield
    finally:
        if saved is not None:
            os.dup2(saved, 2)
            os.close(saved)
