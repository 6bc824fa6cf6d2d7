"""The live path: the microphone's blocks, who speaks when, a recogniser fed as they come.

Everything here waits, so it belongs in a thread; the recogniser is in a process of its own. The
functions that a screen gives are called from that thread.
"""

import threading
import time
from collections import deque
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from readback.errors import AudioError
from readback.speech.audio import Pcm
from readback.speech.channel_finding import find_channel
from readback.speech.cutting import HandsFree, WhileKeyDown
from readback.speech.duplex import HalfDuplex
from readback.speech.level import LOWEST_DBFS, meter_dbfs, speech_fault
from readback.speech.microphone import Block, Microphone
from readback.speech.recogniser import SAMPLE_RATE_HZ, Recogniser
from readback.speech.segments import LONGEST_S, RECORDING_HANG_S
from readback.transmission import Transmission

PARTIAL_S = 0.1
"""Sound between two partial results, while the recogniser keeps up: 10 a second."""
LATE_S = 0.25
"""Where the recogniser is so far behind what came in, that is read first and heard in one go: on a
slow machine partial results get fewer, and the verdict does not come later and later."""
SETTLE_S = 0.2
"""In a pause of this length all that was said is heard, in case nothing follows: the ear's words
were the same with 0.1 to 0.3 s after the last voiced sound (120 readbacks of four flite voices,
clean, radio and interphone at 20 dB)."""
SHORT_HANG_S, UNKNOWN_HANG_S, LONG_HANG_S = 0.4, RECORDING_HANG_S, 0.8
"""The pause that ends a transmission which has all that is awaited, one of which that is not known,
and one that has not. The short one leaves time for a correction, or for more than was asked."""
_RECENT_S = 3.0

IsComplete = Callable[[Transmission], bool | None]
"""Tells of what was heard so far whether all that is awaited is in it; None: that is not known."""


class Ended(StrEnum):
    """Why a take ended."""

    PAUSE = "pause"
    KEY = "key"
    TIME = "time"
    CANCELLED = "cancelled"
    UNPLUGGED = "unplugged"


@dataclass(frozen=True)
class Take:
    """What was heard in one go."""

    transmission: Transmission
    pcm: Pcm
    """The sound that was given to the recogniser."""
    ended: Ended
    losses: int = 0
    """How often samples were lost in it, an end cut off by a lost microphone among them: such a
    take is told and never passed as correct."""
    problem: str | None = None
    """One line for the user where the microphone went away; what was heard until then is kept."""


class LiveListener:
    """Hears one transmission after the other from a microphone.

    Args:
        microphone: What is listened to.
        recogniser: Fed as the sound comes; in a process of its own, else it blocks everything.
        duplex: Shared with the voice; None where there is none.
        clock: Gives seconds.
    """

    def __init__(
        self,
        microphone: Microphone,
        recogniser: Recogniser,
        duplex: HalfDuplex | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._microphone = microphone
        self._recogniser = recogniser
        self._duplex = duplex or HalfDuplex()
        self._clock = clock
        self._one_at_a_time = threading.Lock()
        self._cancelled = threading.Event()
        self._key_up = threading.Event()
        self._kept_open = False
        self._blocks: Generator[Block | None] | None = None
        """Of the microphone, where it is open."""
        self._hands_free = HandsFree()
        self.level_dbfs = LOWEST_DBFS
        """Of the last block, for a meter that looks now and then."""
        self.hears_speech = False
        """Whether somebody speaks, or the key is down."""
        self._recent: deque[Pcm] = deque()

    def cancel(self) -> None:
        """End the take and throw it away; may be called from any thread, at any time."""
        self._cancelled.set()

    def release(self) -> None:
        """Let the key go: the take ends with what was said until now."""
        self._key_up.set()

    @property
    def recent(self) -> Pcm:
        """The last seconds of the sound that came in, for `readback.speech.level.check_level`."""
        return np.concatenate([np.zeros(0, np.int16), *tuple(self._recent)])

    @contextmanager
    def kept_open(self) -> Iterator[None]:
        """Keep the microphone open between takes: what is said right after one is in the next."""
        self._kept_open = True
        try:
            yield
        finally:
            self._kept_open = False
            self._close()

    def hear(
        self,
        *,
        hands_free: bool = True,
        seconds: float | None = None,
        on_partial: Callable[[Transmission], None] | None = None,
        is_complete: IsComplete | None = None,
        is_cancelled: Callable[[], bool] = lambda: False,
        is_released: Callable[[], bool] = lambda: False,
    ) -> Take:
        """Hear one transmission; waits until it has ended.

        Args:
            hands_free: Whether it begins with a voice and ends with a pause; else it begins now and
                ends with `release`.
            seconds: Longest wait for its start where hands-free, else its greatest length.
            on_partial: Is given what is understood so far, several times a second.
            is_complete: Says how long a pause ends it where hands-free.
            is_cancelled: Asked now and then; `cancel` may come before this has begun.
            is_released: As well: whether the key was let go, beside `release`.

        Returns:
            The take; without words if nobody spoke or nothing was understood.

        Raises:
            AudioError: The microphone cannot be opened.
            RecogniserError: The recogniser broke.
        """
        with self._one_at_a_time:
            self._cancelled.clear()
            self._key_up.clear()
            self._recent.clear()
            work = _TakeInProgress(self._recogniser, on_partial, is_complete)
            try:
                longest = LONGEST_S if seconds is None else seconds
                return self._hear(work, hands_free, longest, is_cancelled, is_released)
            except BaseException:
                work.throw_away()
                raise
            finally:
                self.level_dbfs, self.hears_speech = LOWEST_DBFS, False

    def _hear(
        self,
        work: "_TakeInProgress",
        hands_free: bool,
        seconds: float,
        is_cancelled: Callable[[], bool],
        is_released: Callable[[], bool],
    ) -> Take:
        if self._blocks is None:
            self._blocks = self._microphone.blocks()
            self._hands_free = HandsFree()
        cutter: HandsFree | WhileKeyDown = self._hands_free if hands_free else WhileKeyDown()
        began = self._clock()
        problem = None
        ended, opened = Ended.TIME, False
        try:
            for block in self._blocks:
                opened = True
                if self._cancelled.is_set() or is_cancelled():
                    work.throw_away()
                    ended = Ended.CANCELLED
                    return Take(Transmission(), np.zeros(0, np.int16), ended)
                if block is not None:
                    self._take_block(block, cutter, work)
                late = block is not None and self._clock() - block.ended_at > LATE_S
                if cutter.is_full or work.has_ended(cutter.pause_s, late=late):
                    ended = Ended.PAUSE
                    break
                if self._key_up.is_set() or is_released():
                    # Ends the loop after what the driver still had.
                    ended = Ended.KEY
                    self._microphone.stop()
                longer = LONGEST_S if hands_free and cutter.has_begun else 0.0
                if self._clock() - began > seconds + longer:
                    break
        except AudioError as error:
            if not opened:
                raise
            ended, problem = Ended.UNPLUGGED, str(error)
        finally:
            cutter.end()
            if not self._kept_open or ended is not Ended.PAUSE:
                self._close()
        return work.finish(ended, problem)

    def _close(self) -> None:
        if self._blocks is not None:
            self._blocks.close()
            self._blocks = None

    def _take_block(
        self, block: Block, cutter: HandsFree | WhileKeyDown, work: "_TakeInProgress"
    ) -> None:
        self.level_dbfs = meter_dbfs(block.pcm)
        self._recent.append(block.pcm)
        while sum(map(len, self._recent)) > _RECENT_S * SAMPLE_RATE_HZ:
            self._recent.popleft()
        # By when it was recorded: the reader may be late.
        if self._duplex.spoke(block.began_at, block.ended_at):
            # Our own voice: nothing of it may be taken for the beginning of a transmission.
            cutter.forget()
            return
        part = cutter.feed(block.pcm)
        self.hears_speech = cutter.has_begun
        work.take(part, lost=block.lost and cutter.has_begun)


class _TakeInProgress:
    """Feeds a recogniser, keeps what it was fed, and tells when a pause ends it."""

    def __init__(
        self,
        recogniser: Recogniser,
        on_partial: Callable[[Transmission], None] | None,
        is_complete: IsComplete | None,
    ) -> None:
        self._recogniser = recogniser
        self._on_partial = on_partial
        self._is_complete = is_complete
        self._parts: list[Pcm] = []
        self._waiting: list[Pcm] = []
        self._losses = 0
        self._fed = False
        self._hang_s: float | None = None
        """The pause that ends it; None as long as it goes on."""

    def take(self, pcm: Pcm, *, lost: bool) -> None:
        self._losses += lost
        if len(pcm):
            self._waiting.append(pcm)

    def has_ended(self, pause_s: float, *, late: bool) -> bool:
        """Tell whether a pause of this length ends it; in its course all that was said is heard.

        Args:
            pause_s: Seconds since the last voiced sound.
            late: Whether more has come in already, which is to be read first.
        """
        if pause_s < SETTLE_S:
            self._hang_s = None
        if self._hang_s is not None:
            # All was heard: what comes is silence until a voice says else.
            return pause_s >= self._hang_s
        if late:
            return pause_s >= LONG_HANG_S
        if pause_s >= SETTLE_S:
            self._hang_s = self._settle()
        elif sum(map(len, self._waiting)) >= PARTIAL_S * SAMPLE_RATE_HZ:
            self._tell(self._feed())
        # That took time, in which somebody may have gone on: what came in meanwhile says.
        return False

    def _settle(self) -> float:
        """Hear all that was said; give the pause that ends it."""
        if self._waiting:
            self._feed()
        heard = self._recogniser.settle()
        self._tell(heard)
        complete = None if self._is_complete is None else self._is_complete(heard)
        return {True: SHORT_HANG_S, None: UNKNOWN_HANG_S, False: LONG_HANG_S}[complete]

    def _feed(self) -> Transmission:
        pcm = np.concatenate(self._waiting)
        self._waiting = []
        self._parts.append(pcm)
        self._fed = True
        return self._recogniser.feed(pcm.tobytes())

    def _tell(self, heard: Transmission) -> None:
        if self._on_partial is not None:
            self._on_partial(heard)

    def finish(self, ended: Ended, problem: str | None) -> Take:
        if self._waiting and self._hang_s is None:
            self._feed()
        heard = self._recogniser.finish() if self._fed else Transmission()
        self._fed = False
        pcm = np.concatenate(self._parts) if self._parts else np.zeros(0, np.int16)
        heard = heard.model_copy(
            update={
                "start": 0.0,
                "end": len(pcm) / SAMPLE_RATE_HZ,
                "channel": find_channel(pcm),
                "sound": speech_fault(pcm),
            }
        )
        losses = self._losses + (ended is Ended.UNPLUGGED)
        return Take(heard, pcm, ended, losses, problem)

    def throw_away(self) -> None:
        """Have the recogniser forget what it was fed."""
        if self._fed:
            self._fed = False
            self._recogniser.finish()
