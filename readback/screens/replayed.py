"""What Replay works on: a recording that was heard, or a session of the records.

No widget is touched here. Everything waits for a disk or a recogniser: call it from a thread.
"""

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from readback import __version__
from readback.errors import InputError, ReadbackError
from readback.records.audio import decode_flac
from readback.records.heard import NOT_KEPT, judge_heard, keep_heard
from readback.records.model import KeptSession, KeptTransmission, SessionHead
from readback.records.stating import state_correction
from readback.records.versions import grammar_version, rules_version
from readback.screens.correct import Asked
from readback.screens.services import Services
from readback.settings import save_settings
from readback.speech.channel import Samples
from readback.speech.clips import read_clip
from readback.transmission import Transmission


@dataclass(frozen=True)
class Replayed:
    """One session as it is now.

    Args:
        services: The parts behind it.
        session: Its number is `NOT_KEPT` while it is in no records.
        path: The recording it was heard from; None: it was read from the records.
    """

    services: Services
    session: KeptSession
    path: Path | None = None

    @property
    def is_kept(self) -> bool:
        """Whether it is in the records."""
        return self.session.id != NOT_KEPT

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
        if self.path is not None and not self.is_kept:
            number = keep_heard(store, _for_trainee(self.session, asked), self.path)
        session = store.correct(number, asked.kind, asked.target, asked.right, **wanted)
        with suppress(ReadbackError):
            save_settings(corrected_by=asked.by)
        return replace(self, session=session)

    def sound(self, kept: KeptTransmission) -> Samples | None:
        """Give the sound of a transmission; None where none was kept.

        Raises:
            ReadbackError: It is damaged, or the recording is gone.
        """
        if self.path is not None:
            return read_clip(self.path, kept.original.start or 0.0, kept.original.end or 0.0)
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


def hear_recording(
    services: Services, path: Path, on_heard: Callable[[Transmission], bool]
) -> tuple[Replayed | None, ReadbackError | None]:
    """Hear a recording and judge its exchanges.

    Args:
        services: The parts behind it.
        path: The recording.
        on_heard: Is given each transmission; False ends the hearing.

    Returns:
        What was heard, None if it was nothing; and why it was not heard to its end.
    """
    heard: list[Transmission] = []
    failure: ReadbackError | None = None
    try:
        heard.extend(_until(services.hear_file(path), on_heard))
    except ReadbackError as error:
        failure = error
    if not heard:
        nobody = InputError(f"{path}: nobody speaks in it.", "Give another recording.")
        return None, failure or nobody
    return Replayed(services, judge_heard(heard, _head_of(services, path)), path), failure


def _until(
    heard: Iterable[Transmission], on_heard: Callable[[Transmission], bool]
) -> Iterable[Transmission]:
    # One by one: what was heard before a damage still counts.
    for transmission in heard:
        yield transmission
        if not on_heard(transmission):
            return


def _head_of(services: Services, path: Path) -> SessionHead:
    return SessionHead(
        training=f"recording {path.stem}"[:200],
        training_date=date.today(),
        trainee=services.trainee or "not kept",
        authority=services.authority,
        grammar_version=grammar_version(),
        rules_version=rules_version(),
        program_version=__version__,
        engine=services.recogniser_name,
        least_certainty=services.least_certainty,
        settings={"recording": path.name},
    )


def _for_trainee(session: KeptSession, asked: Asked) -> KeptSession:
    head = session.head.model_dump()
    try:
        named = SessionHead(**{**head, "trainee": asked.trainee, "consent": asked.consent})
    except ValidationError as error:
        raise InputError("This name cannot be kept.", "Give it in 1 to 200 characters.") from error
    return session.model_copy(update={"head": named})
