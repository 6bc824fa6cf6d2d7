"""The terminal that the screens are drawn in, whatever libraries do to standard error meanwhile."""

import os
import sys
from typing import Any

from textual.drivers.linux_driver import LinuxDriver


class OwnTerminal(LinuxDriver):
    """Draws through a file descriptor of its own.

    Textual 8.2.8 draws on standard error's. sounddevice 0.5.6 leads that one nowhere while it
    starts PortAudio, and `quiet_standard_error` while it is asked to: what was drawn meanwhile was
    lost, the first picture of Set-up in 3 of 3 openings on a busy machine.
    """

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        told = sys.__stderr__
        if told is not None:
            # Not closed: Textual draws on it until the program ends.
            self._file = os.fdopen(
                os.dup(told.fileno()), "w", encoding=told.encoding, errors=told.errors
            )
