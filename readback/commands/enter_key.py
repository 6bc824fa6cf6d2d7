"""The Enter key of a plain terminal, which begins and ends a take."""

import queue
import threading
from typing import TextIO

from readback.errors import InputError

_LOOK_S = 0.1
"""Between two looks: a wait without end cannot be stopped with Ctrl-C on Windows."""


class EnterKey:
    """Presses of a key: each line of an input is one.

    Args:
        lines: Standard input; read in a thread of its own.
    """

    def __init__(self, lines: TextIO) -> None:
        self._lines = lines
        self._presses: queue.SimpleQueue[None] = queue.SimpleQueue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def wait(self) -> None:
        """Wait for the next press.

        Raises:
            InputError: The input has ended.
        """
        while not self.was_pressed(_LOOK_S):
            if not self._reader.is_alive() and self._presses.empty():
                raise InputError(
                    "Nobody can press Enter: the input has ended.", "Use --hands-free."
                )

    def was_pressed(self, within_s: float = 0.0) -> bool:
        """Tell whether it was pressed, or is within some seconds; each press counts once."""
        try:
            self._presses.get(block=within_s > 0, timeout=within_s)
        except queue.Empty:
            return False
        return True

    def _read(self) -> None:
        while self._lines.readline():
            self._presses.put(None)
