"""What was practised goes into the training records, each judged transmission at once."""

import threading

from readback import __version__
from readback.judging.model import Verdict
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.records.versions import content_hash, grammar_version, rules_version
from readback.transmission import Transmission


class Keeper:
    """Keeps one session; it begins with its first verdict, so that none is kept empty.

    Its methods wait for the disk: call them from a thread, one at a time is seen to.

    Args:
        store: The records.
        trainee: Whose session it is.
        training: Name of the training.
        authority: Whose rules count.
        engine: The recogniser; None: typed words.
        drill: Name of the drill; None in free practice.
    """

    def __init__(
        self,
        store: Store,
        trainee: str,
        training: str,
        authority: str,
        *,
        engine: str | None = None,
        drill: str | None = None,
    ) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._session: int | None = None
        self._trainee = trainee
        self._training = training
        self._authority = authority
        self._engine = engine
        self._drill = drill

    def keep(self, instruction: Transmission, readback: Transmission, verdict: Verdict) -> None:
        """Keep one exchange; on disk when this returns.

        Raises:
            InputError: The records cannot be written.
        """
        with self._lock:
            if self._session is None:
                self._session = self._store.begin(self._head())
            asked = self._store.keep_transmission(self._session, instruction)
            said = self._store.keep_transmission(self._session, readback)
            self._store.keep_verdict(self._session, verdict, instruction=asked, readback=said)

    def finish(self) -> None:
        """End the session, if one was begun.

        Raises:
            InputError: The records cannot be written.
        """
        with self._lock:
            if self._session is not None:
                session, self._session = self._session, None
                self._store.finish(session)

    def _head(self) -> SessionHead:
        return SessionHead(
            training=self._training,
            training_date=self._store.today,
            trainee=self._trainee,
            authority=self._authority,
            drill=self._drill,
            drill_hash=_hash_of(self._drill),
            grammar_version=grammar_version(),
            rules_version=rules_version(),
            program_version=__version__,
            engine=self._engine,
            pairing="given",
        )


def _hash_of(drill: str | None) -> str | None:
    if drill is None:
        return None
    from readback.drills.files import find_drill

    return content_hash(find_drill(drill))
