"""What the workers post to their screen."""

from textual.message import Message

from readback.errors import ReadbackError
from readback.speech.live import Take
from readback.speech.voice import Spoken
from readback.transmission import Transmission


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


class RecordingHeard(Message):
    """A recording was heard to its end, or to its damage."""

    def __init__(
        self, path: str, transmissions: tuple[Transmission, ...], error: ReadbackError | None
    ) -> None:
        super().__init__()
        self.path = path
        self.transmissions = transmissions
        self.error = error
