"""Who may be heard: while our own voice speaks, the microphone is not listened to."""

import math
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager

ECHO_S = 0.3
"""Not listened to after the voice has ended: what the loudspeaker and the room still hold."""
_REMEMBERED = 16
"""Times of speaking: a reader of the microphone is never so late."""


class HalfDuplex:
    """Whose turn it is: while the voice speaks, the microphone is not listened to."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._speaking = 0
        self._spoke: deque[tuple[float, float]] = deque(maxlen=_REMEMBERED)
        """From when to when the voice spoke; the last one for ever while it speaks."""

    @contextmanager
    def speaking(self) -> Iterator[None]:
        """Keep the microphone out meanwhile, and for `ECHO_S` after."""
        with self._lock:
            self._speaking += 1
            if self._speaking == 1:
                self._spoke.append((self._clock(), math.inf))
        try:
            yield
        finally:
            with self._lock:
                self._speaking -= 1
                if not self._speaking:
                    self._spoke[-1] = (self._spoke[-1][0], self._clock())

    @property
    def may_listen(self) -> bool:
        """Whether the microphone hears no voice of ours now."""
        now = self._clock()
        return not self.spoke(now, now)

    def spoke(self, since: float, until: float) -> bool:
        """Tell whether the voice, or its echo, was to be heard between two times of the clock."""
        with self._lock:
            return any(began <= until and since < ended + ECHO_S for began, ended in self._spoke)
