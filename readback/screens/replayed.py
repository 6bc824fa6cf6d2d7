"""What Replay works on: a recording that was heard, or a session of the records.

No widget is touched here. Everything waits for a disk or a recogniser: call it from a thread.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from readback import __version__
from readback.drills.model import Seat
from readback.errors import InputError, ReadbackError
from readback.records.audio import decode_flac
from readback.records.model import NOT_KEPT, KeptSession, KeptTransmission, SessionHead
from readback.records.stating import state_correction
from readback.records.versions import drill_hash, grammar_version, rules_version
from readback.replay.keeping import as_session, keep_replayed
from readback.replay.kept import file_hash
from readback.replay.model import Replayed as ReplayedRecording
from readback.replay.model import ReplayedDrill, ReplaySettings
from readback.screens.correct import Asked
from readback.screens.services import Services
from readback.settings import save_settings
from readback.speech.channel import Samples
from readback.speech.clips import read_clip


@dataclass(frozen=True)
class Replayed:
    """One session as it is now.

    Args:
        services: The parts behind it.
        session: Its number is `NOT_KEPT` while it is in no records.
        path: The recording it was heard from; None: it was read from the records.
        heard: What came out of that recording.
    """

    services: Services
    session: KeptSession
    path: Path | None = None
    heard: ReplayedRecording | None = None

    @property
    def is_kept(self) -> bool:
        """Whether it is in the records."""
        return self.session.id != NOT_KEPT

    @property
    def drill(self) -> ReplayedDrill | None:
        """The drill as it was heard; None where there is none, or a correction changed it since."""
        return None if self.heard is None or self.session.corrections else self.heard.drill

    def correct(self, asked: Asked) -> "Replayed":
        """Keep a correction, and the recording first where it is not kept yet.

        Raises:
            ReadbackError: It cannot be; nothing is kept then.
        """
        wanted = {"by": asked.by, "why": asked.why}
        state_correction(
            self.session, 1, asked.kind, asked.target, asked.right, **wanted, at=datetime.now(UTC)
        )
        store, number = self.services.store(), self.session.id
        if not self.is_kept:
            number = self._keep(asked)
        session = store.correct(number, asked.kind, asked.target, asked.right, **wanted)
        with suppress(ReadbackError):
            save_settings(corrected_by=asked.by)
        return replace(self, session=session)

    def _keep(self, asked: Asked) -> int:
        assert self.path is not None
        assert self.heard is not None
        head = _for_trainee(self.session.head, asked)
        heard = self.heard.model_copy(update={"content": file_hash(self.path)})
        store, local = self.services.store(), self.services.local
        number, fresh = keep_replayed(store, head, self.path, heard, local)
        if not fresh:
            raise InputError(
                f"This recording is kept already, as session {number} of {head.trainee}.",
                "Open that session (F5) and correct it there.",
            )
        return number

    def sound(self, kept: KeptTransmission) -> Samples | None:
        """Give the sound of a transmission; None where none was kept.

        Raises:
            ReadbackError: It is damaged, or the recording is gone.
        """
        if self.path is not None:
            two = self.heard is not None and any(one.track for one in self.heard.transmissions)
            stations = ("left", "right") if two else (None,)
            said = kept.original
            return read_clip(self.path, said.start or 0.0, said.end or 0.0, stations)
        if not kept.audio_bytes:
            return None
        flac = self.services.store().audio(self.session.id, kept.number)
        return None if flac is None else decode_flac(flac)[0].astype(np.float32) / 32768.0


def read_session(services: Services, number: int) -> Replayed:
    """Read a session of the records.

    Raises:
        ReadbackError: There is none of that number, or the records cannot be read.
    """
    return Replayed(services, services.store().load(number))


class GivenUpError(Exception):
    """Nobody waits any more for what is being heard."""


def hear_recording(
    services: Services,
    path: Path,
    on_read: Callable[[float, float], bool],
    beside: tuple[str, Seat] | None = None,
) -> tuple[Replayed | None, str | None]:
    """Hear a recording and judge its exchanges, as ``readback replay`` does.

    Args:
        services: The parts behind it.
        path: The recording.
        on_read: Is told how many seconds were read, and of how many (0: not known); False gives the
            recording up.
        beside: Name of the drill that it is laid beside, and the trainee's seat in it.

    Returns:
        What was heard, None if it was nothing; and why it was not heard to its end.

    Raises:
        GivenUpError: `on_read` was False.
    """

    def go_on(read_s: float, whole_s: float) -> None:
        if not on_read(read_s, whole_s):
            raise GivenUpError

    try:
        settings = services.replay_settings(*(beside or ()))
        heard = services.replay(path, settings, go_on)
    except ReadbackError as error:
        return None, str(error)
    if not heard.transmissions:
        return None, heard.error or f"{path}: nobody speaks in it. Give another recording."
    session = as_session(_head_of(services, path, settings), heard)
    return Replayed(services, session, path, heard), heard.error


def _head_of(services: Services, path: Path, settings: ReplaySettings) -> SessionHead:
    return SessionHead(
        training=f"recording {path.stem}"[:200],
        training_date=date.today(),
        trainee=services.trainee or "not kept",
        authority=settings.authority,
        drill=settings.drill,
        drill_hash=drill_hash(settings.drill),
        grammar_version=grammar_version(),
        rules_version=rules_version(),
        program_version=__version__,
    )


def _for_trainee(head: SessionHead, asked: Asked) -> SessionHead:
    try:
        return SessionHead(
            **{**head.model_dump(), "trainee": asked.trainee, "consent": asked.consent}
        )
    except ValidationError as error:
        raise InputError("This name cannot be kept.", "Give it in 1 to 200 characters.") from error
