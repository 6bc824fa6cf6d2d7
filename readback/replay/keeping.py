"""Replayed recordings as sessions of the training records."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from readback.judging.local import LocalWording
from readback.measure.report import engine_version
from readback.records.audio import cut_clips
from readback.records.model import (
    NOT_KEPT,
    KeptExchange,
    KeptSession,
    KeptTransmission,
    SessionHead,
)
from readback.records.store import Store
from readback.replay.model import Replayed


def keep_replayed(
    store: Store,
    head: SessionHead,
    path: Path,
    replayed: Replayed,
    local: LocalWording | None = None,
) -> tuple[int, bool]:
    """Keep one recording, unless the same was kept for the same training before.

    So a run that was stopped while it kept its results can be given again.

    Args:
        store: The records.
        head: What the session is about, with consent the sound is kept; what the recording tells is
            put in.
        path: The recording.
        replayed: What came out of it, with transmissions.
        local: The operator's own wording that it was judged by.

    Returns:
        The session's number, and whether it was made now.

    Raises:
        AudioError: The sound is to be kept, and the recording cannot be read any more.
        InputError: The records cannot be written.
    """
    own = _about(head, replayed)
    for session in store.sessions(trainee=own.trainee):
        known = session.head
        if (
            known.settings.get("content") == replayed.content
            and (known.training, known.training_date) == (own.training, own.training_date)
            and session.finished_at is not None
        ):
            return session.id, False
    clips: Sequence[bytes | None] = [None] * len(replayed.transmissions)
    if own.consent:
        times = ((one.transmission, one.track) for one in replayed.transmissions)
        clips = cut_clips(path, [(one.start or 0.0, one.end or 0.0, track) for one, track in times])
    number = store.begin(own, local=local)
    for one, clip in zip(replayed.transmissions, clips, strict=True):
        store.keep_transmission(
            number,
            one.transmission,
            flac=clip,
            told_by=one.told_by,
            least_certainty=one.least_certainty,
        )
    for exchange in replayed.exchanges:
        store.keep_verdict(
            number,
            exchange.verdict,
            instruction=exchange.instruction,
            readback=exchange.readback,
        )
    store.finish(number)
    return number, True


def as_session(head: SessionHead, replayed: Replayed) -> KeptSession:
    """Give a recording as the session that `keep_replayed` would make of it; none is kept.

    Args:
        head: As `keep_replayed` takes it.
        replayed: What came out of the recording.
    """
    exchanges = tuple(
        KeptExchange(
            number=number,
            instruction=one.instruction,
            readback=one.readback,
            verdict=one.verdict,
            outcome=one.verdict.verdict,
        )
        for number, one in enumerate(replayed.exchanges, start=1)
    )
    return KeptSession(
        id=NOT_KEPT,
        head=_about(head, replayed),
        begun_at=datetime.now(UTC),
        finished_at=None,
        transmissions=tuple(
            KeptTransmission(
                number=one.number,
                original=one.transmission,
                current=one.transmission,
                told_by=one.told_by,
                least_certainty=one.least_certainty,
            )
            for one in replayed.transmissions
        ),
        exchanges=exchanges,
        first_exchanges=exchanges,
    )


def _about(head: SessionHead, replayed: Replayed) -> SessionHead:
    told = {"recording": Path(replayed.file).name, "content": replayed.content}
    if replayed.drill is not None:
        told["seed"] = str(replayed.drill.seed)
    return head.model_copy(
        update={
            "engine": replayed.engine,
            "engine_model": engine_version(replayed.engine),
            "least_certainty": replayed.least_certainty,
            "settings": {**head.settings, **told},
            # A drill says what answers what; it is not to be found again after a correction.
            "pairing": "found" if replayed.drill is None else "given",
        }
    )
