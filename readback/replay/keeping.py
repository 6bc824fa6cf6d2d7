"""Replayed recordings kept as sessions of the training records."""

from pathlib import Path

from readback.judging.local import load_local
from readback.measure.report import engine_version
from readback.records.heard import keep_judged
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.replay.model import Replayed, ReplaySettings


def keep_replayed(
    store: Store, head: SessionHead, path: Path, replayed: Replayed, settings: ReplaySettings
) -> tuple[int, bool]:
    """Keep one recording, unless the same was kept for the same training before.

    So a run that was stopped while it kept its results can be given again.

    Args:
        store: The records.
        head: What the session is about; what the recording tells is put in.
        path: The recording.
        replayed: What came out of it, with transmissions.
        settings: As it was replayed.

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
    number = keep_judged(
        store,
        own,
        path,
        [one.transmission for one in replayed.transmissions],
        [one.track for one in replayed.transmissions],
        replayed.exchanges,
        local=load_local(settings.local) if settings.local else None,
    )
    return number, True


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
