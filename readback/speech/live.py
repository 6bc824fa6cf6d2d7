"""The live path: the microphone's blocks, who speaks when, a recogniser fed as they come.

Everything here waits, so it belongs in a thread; the recogniser is in a process of its own. The
functions that a screen gives are called from that thread.
"""

import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from readback.errors import AudioError
from readback.speech.audio import Pcm
from readback.speech.level import LOWEST_DBFS, meter_dbfs
from readback.speech.microphone import Block, Microphone
from readback.speech.recogniser import SAMPLE_RATE_HZ, Recogniser
from readback.speech.segments import LONGEST_S, PRE_ROLL_S, Segmenter
from readback.transmission import Transmission

PARTIAL_S = 0.1
"""Sound between two partial results, while the recogniser keeps up: 10 a second."""
ECHO_S = 0.3
"""Not listened to after the voice has ended: what the loudspeaker and the room still hold."""
_START_WINDOW_S = 0.2
_RECENT_S = 3.0


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
    """How often samples were lost in it: such a take is told and never passed as correct."""
    problem: str | None = None
    """One line for the user where the microphone went away; what was heard until then is kept."""


class HalfDuplex:
    """Whose turn it is: while the voice speaks, the microphone is not listened to."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._speaking = 0
        self._silent_since = -ECHO_S

    @contextmanager
    def speaking(self) -> Iterator[None]:
        """Keep the microphone out meanwhile, and for `ECHO_S` after."""
        with self._lock:
            self._speaking += 1
        try:
            yield
        finally:
            with self._lock:
                self._speaking -= 1
                self._silent_since = self._clock()

    @property
    def may_listen(self) -> bool:
        """Whether the microphone hears no voice of ours."""
        with self._lock:
            return not self._speaking and self._clock() - self._silent_since >= ECHO_S


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

    def hear(
        self,
        *,
        hands_free: bool = True,
        seconds: float | None = None,
        on_partial: Callable[[Transmission], None] | None = None,
        is_cancelled: Callable[[], bool] = lambda: False,
    ) -> Take:
        """Hear one transmission; waits until it has ended.

        Args:
            hands_free: Whether it begins with a voice and ends with a pause; else it begins now and
                ends with `release`.
            seconds: Longest wait for its start where hands-free, else its greatest length.
            on_partial: Is given what is understood so far, several times a second.
            is_cancelled: Asked now and then; `cancel` may come before this has begun.

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
            work = _TakeInProgress(self._recogniser, on_partial)
            try:
                longest = LONGEST_S if seconds is None else seconds
                return self._hear(work, hands_free, longest, is_cancelled)
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
    ) -> Take:
        cutter: _HandsFree | _WhileKeyDown
        cutter = _HandsFree() if hands_free else _WhileKeyDown()
        began = self._clock()
        blocks = self._microphone.blocks()
        problem = None
        ended, opened = Ended.TIME, False
        try:
            for block in blocks:
                opened = True
                if self._cancelled.is_set() or is_cancelled():
                    work.throw_away()
                    return Take(Transmission(), np.zeros(0, np.int16), Ended.CANCELLED)
                if block is not None:
                    self._take_block(block, cutter, work)
                if cutter.has_ended:
                    ended = Ended.PAUSE
                    break
                if self._key_up.is_set():
                    # Ends the loop after what the driver still had.
                    ended = Ended.KEY
                    self._microphone.stop()
                waited = self._clock() - began
                if not cutter.has_begun and waited > seconds:
                    break
                if waited > seconds + LONGEST_S or (not hands_free and waited > seconds):
                    break
        except AudioError as error:
            if not opened:
                raise
            ended, problem = Ended.UNPLUGGED, str(error)
        finally:
            blocks.close()  # type: ignore[attr-defined]
        return work.finish(ended, problem)

    def _take_block(
        self, block: Block, cutter: "_HandsFree | _WhileKeyDown", work: "_TakeInProgress"
    ) -> None:
        self.level_dbfs = meter_dbfs(block.pcm)
        self._recent.append(block.pcm)
        while sum(map(len, self._recent)) > _RECENT_S * SAMPLE_RATE_HZ:
            self._recent.popleft()
        if not self._duplex.may_listen:
            # Our own voice: nothing of it may be taken for the beginning of a transmission.
            cutter.forget()
            return
        part = cutter.feed(block.pcm)
        self.hears_speech = cutter.has_begun
        work.take(part, lost=block.lost and cutter.has_begun)


class _TakeInProgress:
    """Feeds a recogniser and keeps what it was fed."""

    def __init__(
        self, recogniser: Recogniser, on_partial: Callable[[Transmission], None] | None
    ) -> None:
        self._recogniser = recogniser
        self._on_partial = on_partial
        self._parts: list[Pcm] = []
        self._waiting: list[Pcm] = []
        self._losses = 0
        self._fed = False

    def take(self, pcm: Pcm, *, lost: bool) -> None:
        self._losses += lost
        if len(pcm):
            self._waiting.append(pcm)
        if sum(map(len, self._waiting)) >= PARTIAL_S * SAMPLE_RATE_HZ:
            heard = self._feed()
            if self._on_partial is not None:
                self._on_partial(heard)

    def _feed(self) -> Transmission:
        pcm = np.concatenate(self._waiting)
        self._waiting = []
        self._parts.append(pcm)
        self._fed = True
        return self._recogniser.feed(pcm.tobytes())

    def finish(self, ended: Ended, problem: str | None) -> Take:
        if self._waiting:
            self._feed()
        heard = self._recogniser.finish() if self._fed else Transmission()
        self._fed = False
        pcm = np.concatenate(self._parts) if self._parts else np.zeros(0, np.int16)
        heard = heard.model_copy(update={"start": 0.0, "end": len(pcm) / SAMPLE_RATE_HZ})
        return Take(heard, pcm, ended, self._losses, problem)

    def throw_away(self) -> None:
        """Have the recogniser forget what it was fed."""
        if self._fed:
            self._fed = False
            self._recogniser.finish()


class _HandsFree:
    """Cuts a transmission out by its voice, see `Segmenter`, and lets it through as it comes."""

    def __init__(self) -> None:
        self._segmenter = Segmenter()
        self._kept = np.zeros(0, np.int16)
        """What may still belong to a transmission that is found later: it begins before it is
        found."""
        self._seen = 0
        self.has_begun = False
        self.has_ended = False

    def feed(self, pcm: Pcm) -> Pcm:
        """Give what of the sound belongs to the transmission, as far as it is known."""
        self._kept = np.concatenate([self._kept, pcm])
        self._seen += len(pcm)
        ended = self._segmenter.feed(pcm)
        if ended:
            self.has_begun = self.has_ended = True
            # Of a whole one in one block nothing was let through yet.
            let_through = self._seen - len(self._kept)
            end = round(ended[0].end_s * SAMPLE_RATE_HZ)
            start = max(let_through, round(ended[0].start_s * SAMPLE_RATE_HZ))
            return self._kept[start - let_through : max(start, end) - let_through]
        since = self._segmenter.open_since
        if since is None:
            self._forget_old()
            return np.zeros(0, np.int16)
        first = self._seen - len(self._kept)
        part = self._kept[max(0, round(since * SAMPLE_RATE_HZ) - first) :]
        self._kept = np.zeros(0, np.int16)
        self.has_begun = True
        return part

    def forget(self) -> None:
        """Begin again with what comes next, unless a transmission is under way."""
        if not self.has_begun:
            self._segmenter = Segmenter()
            self._kept = np.zeros(0, np.int16)
            self._seen = 0

    def _forget_old(self) -> None:
        longest = round((PRE_ROLL_S + 2 * _START_WINDOW_S) * SAMPLE_RATE_HZ)
        self._kept = self._kept[-longest:]


class _WhileKeyDown:
    """Lets everything through: the key says when."""

    has_begun = True
    has_ended = False

    def feed(self, pcm: Pcm) -> Pcm:
        return pcm

    def forget(self) -> None:
        """Nothing is kept."""
