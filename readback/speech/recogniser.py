"""The promise that every recogniser keeps, and a fake of it for tests."""

from collections.abc import Callable
from typing import Protocol

from readback.transmission import Transmission

SAMPLE_RATE_HZ = 16_000
"""Samples a second that every recogniser takes: 16-bit signed mono PCM."""


class Recogniser(Protocol):
    """Hears transmissions. One engine each; made with a `readback.search.SearchGrammar`."""

    name: str
    """``pocketsphinx``, ``vosk``, ``ear``: as the user names it."""
    sample_rate_hz: int
    """Samples a second of the PCM that it takes."""

    def recognise(self, pcm: bytes) -> Transmission:
        """Hear one whole transmission.

        Args:
            pcm: 16-bit signed little-endian mono samples at ``sample_rate_hz``; may be empty.

        Returns:
            The words, times in seconds from the first sample; no words where none were heard.

        Raises:
            RecogniserError: The engine broke.
        """
        ...

    def feed(self, pcm: bytes) -> Transmission:
        """Take the next block of a transmission; return what is heard so far (a partial result)."""
        ...

    def settle(self) -> Transmission:
        """Hear what was fed until now as well as `finish` would, as far as this engine can.

        For a pause: where nothing is fed after it, `finish` has the result at once; else the
        transmission goes on.
        """
        ...

    def finish(self) -> Transmission:
        """End the transmission that was fed; return the final result and be ready for the next."""
        ...

    def close(self) -> None:
        """Give back what the engine holds; safe to call twice."""
        ...


class ScriptedRecogniser:
    """The fake for tests: a function says what is heard.

    Args:
        respond: Takes the PCM of a whole transmission, returns what was heard in it.
    """

    name = "scripted"
    sample_rate_hz = SAMPLE_RATE_HZ

    def __init__(self, respond: Callable[[bytes], Transmission]) -> None:
        self._respond = respond
        self._fed = b""

    def recognise(self, pcm: bytes) -> Transmission:
        """See `Recogniser.recognise`."""
        return self._respond(pcm)

    def feed(self, pcm: bytes) -> Transmission:
        """See `Recogniser.feed`."""
        self._fed += pcm
        return self._respond(self._fed)

    def settle(self) -> Transmission:
        """See `Recogniser.settle`."""
        return self._respond(self._fed)

    def finish(self) -> Transmission:
        """See `Recogniser.finish`."""
        fed, self._fed = self._fed, b""
        return self._respond(fed)

    def close(self) -> None:
        """See `Recogniser.close`."""
