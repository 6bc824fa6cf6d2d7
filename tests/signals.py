"""Signals to the programs that tests start."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def control_c_heeded() -> Iterator[None]:
    """Let what is started in here end by Control-C, as it would in a terminal.

    A shell's background job ignores the signal, and what it starts would, too, for ever.
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
