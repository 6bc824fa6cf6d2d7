"""The program in a terminal of its own, as a user has it: keys in, what it draws out."""

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass


@dataclass
class RealTerminal:
    """One running program."""

    process: subprocess.Popen
    handle: int
    drawn: bytes = b""

    def type(self, keys: str) -> None:
        os.write(self.handle, keys.encode())

    def sees(self, text: str, seconds: float = 40.0) -> bool:
        """Wait until it has drawn a text since `forget`."""
        until = time.monotonic() + seconds
        while text.encode() not in self.drawn and time.monotonic() < until:
            if select.select([self.handle], [], [], 0.1)[0]:
                try:
                    self.drawn += os.read(self.handle, 65_536)
                except OSError:  # The program has ended.
                    break
        return text.encode() in self.drawn

    def ends(self, seconds: float = 40.0) -> int | None:
        """Wait for its end, and read what it draws until then; None if it does not come."""
        until = time.monotonic() + seconds
        while self.process.poll() is None and time.monotonic() < until:
            self.sees("\0", 0.1)
        return self.process.poll()

    def forget(self) -> None:
        self.drawn = b""

    def kill(self) -> int:
        """Kill it as the system would, without asking."""
        self.process.send_signal(signal.SIGKILL)
        return self.process.wait()


@contextmanager
def real_terminal(
    arguments: Sequence[str],
    environment: Mapping[str, str],
    size: tuple[int, int] = (100, 40),
    program: Sequence[str] = ("-m", "readback"),
) -> Iterator[RealTerminal]:
    """Run ``readback``, or another program of Python's, in a terminal of that size."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
    process = subprocess.Popen(
        [sys.executable, *program, *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm-256color", **environment},
        start_new_session=True,
    )
    os.close(theirs)
    try:
        yield RealTerminal(process, ours)
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        os.close(ours)
