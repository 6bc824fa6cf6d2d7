"""What the workers post to their screen."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual.message import Message

from readback.errors import ReadbackError
from readback.speech.live import Take
from readback.speech.voice import Spoken
from readback.transmission import Transmission

if TYPE_CHECKING:
    from readback.screens.replayed import Replayed


class ListeningBegan(Message):
    """The microphone is open."""


class PartialHeard(Message):
    """What is understood so far of a transmission that goes on."""

    def __init__(self, transmission: Transmission) -> None:
        super().__init__()
        self.transmission = transmission


class TakeHeard(Message):
    """A take has ended."""

    def __init__(self, take: Take) -> None:
        super().__init__()
        self.take = take


class HearingFailed(Message):
    """Nothing can be heard."""

    def __init__(self, error: ReadbackError) -> None:
        super().__init__()
        self.error = error


class VoiceEnded(Message):
    """A station has spoken, or its text is all there is."""

    def __init__(self, spoken: Spoken) -> None:
        super().__init__()
        self.spoken = spoken


class PlayingFailed(Message):
    """What was kept or recorded cannot be played."""

    def __init__(self, error: ReadbackError) -> None:
        super().__init__()
        self.error = error


class SessionsListed(Message):
    """The records were looked through: number and title of each session."""

    def __init__(
        self, sessions: Sequence[tuple[int, str]], error: ReadbackError | None = None
    ) -> None:
        super().__init__()
        self.sessions = sessions
        self.error = error


class FolderRead(Message):
    """A folder was searched for recordings."""

    def __init__(self, files: tuple[Path, ...]) -> None:
        super().__init__()
        self.files = files


class HearingGoesOn(Message):
    """A recording was read up to here, in seconds, of its whole (0: not known).

    ``left_s``: how long the rest will take; None while nothing tells.
    """

    def __init__(self, path: str, read_s: float, whole_s: float, left_s: float | None) -> None:
        super().__init__()
        self.path = path
        self.read_s = read_s
        self.whole_s = whole_s
        self.left_s = left_s


class SessionOpened(Message):
    """A session was read, or a recording heard to its end or to its damage."""

    def __init__(self, replayed: "Replayed | None", problem: str | None = None) -> None:
        super().__init__()
        self.replayed = replayed
        self.problem = problem
