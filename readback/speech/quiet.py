"""C libraries that write to standard error themselves, kept quiet."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


class _Redirection:
    """Led away by whoever comes first, led back by whoever leaves last.

    Each for himself, a second one would keep what the first had led nowhere, and put that back.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._inside = 0
        self._saved: int | None = None

    def enter(self) -> None:
        with self._lock:
            self._inside += 1
            if self._inside > 1:
                return
            with suppress(OSError):  # There may be no standard error, as under pythonw.
                self._saved = os.dup(2)
                with Path(os.devnull).open("wb") as nowhere:
                    os.dup2(nowhere.fileno(), 2)

    def leave(self) -> None:
        with self._lock:
            self._inside -= 1
            if self._inside or self._saved is None:
                return
            os.dup2(self._saved, 2)
            os.close(self._saved)
            self._saved = None


_REDIRECTION = _Redirection()


@contextmanager
def quiet_standard_error() -> Iterator[None]:
    """Lead file descriptor 2 nowhere meanwhile, for all threads: keep the body short.

    Python's ``sys.stderr`` cannot catch what a C library writes. A library that does the same on
    its own is safe beside other threads only in here.
    """
    _REDIRECTION.enter()
    try:
        yield
    finally:
        _REDIRECTION.leave()
