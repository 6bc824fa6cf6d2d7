"""Takes cut out of the sound of a microphone: by the voice in it, or by a key."""

import math

import numpy as np

from readback.speech.audio import Pcm
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.speech.segments import POST_ROLL_S, PRE_ROLL_S, START_WINDOW_S, Segmenter

_NOTHING = np.zeros(0, np.int16)


class HandsFree:
    """Lets a transmission through as it comes, from before its first voiced sound.

    What follows its last voiced sound by more than `POST_ROLL_S` is held back until a voice comes
    again. When a pause is long enough is for others to say.
    """

    def __init__(self) -> None:
        self._segmenter = Segmenter(hang_s=math.inf)
        self._kept = _NOTHING
        """What may still belong to a transmission that is found later: it begins before it is
        found."""
        self._seen = 0
        self.has_begun = False
        """Whether a voice was found."""
        self.is_full = False
        """Whether it is as long as a transmission may be."""

    @property
    def pause_s(self) -> float:
        """Seconds since the last voiced sound of the transmission; 0 before its first."""
        return self._segmenter.pause_s

    def feed(self, pcm: Pcm) -> Pcm:
        """Give what of the sound belongs to the transmission, as far as it is known."""
        self._kept = np.concatenate([self._kept, pcm])
        self._seen += len(pcm)
        full = self._segmenter.feed(pcm)
        if full:
            self.has_begun = self.is_full = True
            return self._let_through(full[0].start_s, full[0].end_s)
        since = self._segmenter.open_since
        if since is None:
            self._kept = self._kept[-round((PRE_ROLL_S + 2 * START_WINDOW_S) * SAMPLE_RATE_HZ) :]
            return _NOTHING
        self.has_begun = True
        return self._let_through(since, self._segmenter.voiced_until + POST_ROLL_S)

    def _let_through(self, start_s: float, end_s: float) -> Pcm:
        first = self._seen - len(self._kept)
        start = max(0, round(start_s * SAMPLE_RATE_HZ) - first)
        end = max(start, min(len(self._kept), round(end_s * SAMPLE_RATE_HZ) - first))
        part, self._kept = self._kept[start:end], self._kept[end:]
        return part

    def forget(self) -> None:
        """Begin again with what comes next, unless a transmission is under way."""
        if not self.has_begun:
            self._segmenter = Segmenter(hang_s=math.inf)
            self._kept, self._seen = _NOTHING, 0

    def end(self) -> None:
        """End the transmission: what comes after what was let through is another."""
        self._segmenter.end()
        self.has_begun = self.is_full = False


class WhileKeyDown:
    """Lets everything through: the key says when."""

    has_begun = True
    is_full = False
    pause_s = 0.0

    def feed(self, pcm: Pcm) -> Pcm:
        """Give the sound back."""
        return pcm

    def forget(self) -> None:
        """Nothing is kept."""

    def end(self) -> None:
        """Nothing is kept."""
