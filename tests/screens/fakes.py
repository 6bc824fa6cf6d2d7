"""Services without hardware: scripted ears, a voice that only writes down."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from readback.screens.services import Services
from readback.speech.duplex import HalfDuplex
from readback.speech.microphone import Microphone
from readback.speech.recogniser import ScriptedRecogniser
from readback.speech.voice import Speaker
from readback.transmission import Transmission
from tests.live.fakes import fake_microphone, spoken

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
"""What the records take for the present."""


class Told(ScriptedRecogniser):
    """Hears these texts, one a transmission, whatever the sound."""

    def __init__(self, texts: Sequence[str]) -> None:
        self.texts = list(texts)
        super().__init__(lambda _: Transmission.typed("so far"))

    def recognise(self, pcm: bytes) -> Transmission:
        return Transmission.typed(self.texts.pop(0))

    def finish(self) -> Transmission:
        super().finish()
        return Transmission.typed(self.texts.pop(0) if self.texts else "")


class SilentVoice(Speaker):
    """Writes down what it would say."""

    def __init__(self, duplex: HalfDuplex) -> None:
        super().__init__(None, None, duplex)
        self.said: list[tuple[str, str, str]] = []

    def say(self, station, text, channel="clean"):
        self.said.append((station, text, channel))
        return super().say(station, text, channel)


def make_services(
    *texts: str,
    microphone: Microphone | None = None,
    seed: int = 7,
    recogniser=None,
    records: Path | None = None,
    trainee: str | None = None,
) -> Services:
    voices = []

    def make_voice(duplex: HalfDuplex) -> Speaker:
        voices.append(SilentVoice(duplex))
        return voices[-1]

    return Services(
        lambda: recogniser or Told(texts),
        lambda: (microphone or fake_microphone(spoken()), "fake"),
        make_voice,
        seed=seed,
        open_store=None if records is None else lambda: _open_store(records),
        trainee=trainee,
    )


def _open_store(path: Path):
    # Only where records are wanted: they bring a database library.
    from readback.records.store import Store

    return Store(path, now=lambda: NOW)
