"""What is practised goes into the training records, transmission by transmission, as it happens."""

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, NamedTuple

from pydantic import ValidationError

from readback import __version__
from readback.errors import InputError
from readback.judging.model import Verdict
from readback.records.audio import encode_flac
from readback.records.model import SessionHead
from readback.records.versions import drill_hash, grammar_version, rules_version
from readback.speech.audio import Pcm
from readback.transmission import Transmission

if TYPE_CHECKING:
    from readback.records.store import Store


class _Said(NamedTuple):
    transmission: Transmission
    pcm: Pcm | None
    least_certainty: float | None


class Keeper:
    """Keeps one session; it begins when the trainee first says something, so that none is empty.

    A thread of its own writes one thing after the other; `kept` tells when. After a failure
    nothing more is written: what answers what would no longer be right.

    Args:
        open_store: Gives the records.
        head: Gives the session's head when it begins.
        clock: Gives seconds.
    """

    def __init__(
        self,
        open_store: "Callable[[], Store]",
        head: "Callable[[Store], SessionHead]",
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._open_store = open_store
        self._head = head
        self._clock = clock
        self._began = clock()
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="keeper")
        self._session: int | None = None
        self._said = 0
        self._by_trainee = False
        self._held: list[_Said] = []
        self._consent = False
        self._failure: Exception | None = None
        self._told = False
        # The records take a while to load: not when the first verdict is waited for.
        self._submit(self._load)

    def say(
        self,
        transmission: Transmission,
        pcm: Pcm | None = None,
        *,
        by_trainee: bool = False,
        least_certainty: float | None = None,
    ) -> int:
        """Keep what was said just now, with its sound where the session has consent.

        Args:
            transmission: Heard, its times from the start of the take; or typed.
            pcm: Its sound at 16 kHz; None: there is none.
            by_trainee: Whether the session begins with it.
            least_certainty: As it is judged with; None: with the session's.

        Returns:
            Its number in the session.
        """
        self._said += 1
        self._by_trainee = self._by_trainee or by_trainee
        placed = _at(transmission, self._clock() - self._began)
        self._held.append(_Said(placed, pcm, least_certainty))
        if self._by_trainee:
            held, self._held = self._held, []
            self._submit(lambda: self._keep(held))
        return self._said

    def judge(self, verdict: Verdict, *, instruction: int, readback: int) -> None:
        """Keep the verdict on an exchange of what was said."""

        def keep() -> None:
            if self._session is not None:
                self._open_store().keep_verdict(
                    self._session, verdict, instruction=instruction, readback=readback
                )

        self._submit(keep)

    async def kept(self) -> None:
        """Wait until everything until now is on disk.

        Raises:
            InputError: The records cannot be written; told once.
        """
        await asyncio.wrap_future(self._submit(lambda: None))
        if self._failure is not None and not self._told:
            self._told = True
            raise self._failure

    def finish(self, remarks: str = "") -> None:
        """End the session, if one was begun; waits for the disk.

        Args:
            remarks: What the program has to say of the whole.
        """
        self._submit(lambda: self._finish(remarks))
        self._thread.shutdown()

    # ---- in the thread -------------------------------------------------------------------------

    def _submit(self, work: Callable[[], None]) -> "Future[None]":
        return self._thread.submit(self._do, work)

    def _do(self, work: Callable[[], None]) -> None:
        if self._failure is None:
            try:
                work()
            except Exception as error:
                # `kept` raises it where it can be told.
                self._failure = error

    def _load(self) -> None:
        self._open_store()

    def _keep(self, held: "list[_Said]") -> None:
        store = self._open_store()
        if self._session is None:
            head = self._head(store)
            self._session, self._consent = store.begin(head), head.consent
        for said in held:
            flac = encode_flac(said.pcm) if self._consent and said.pcm is not None else None
            store.keep_transmission(
                self._session,
                said.transmission,
                flac=flac,
                least_certainty=said.least_certainty,
            )

    def _finish(self, remarks: str) -> None:
        if self._session is not None:
            self._open_store().finish(self._session, remarks=remarks)


def make_head(
    store: "Store",
    *,
    trainee: str,
    training: str,
    authority: str,
    engine: str | None,
    least_certainty: float,
    consent: bool,
    drill: str | None = None,
    settings: dict[str, str | int] | None = None,
) -> SessionHead:
    """Make the head of a session that is practised now; see `SessionHead` for the fields.

    Raises:
        InputError: The trainee's name is blank or too long.
    """
    try:
        return SessionHead(
            training=training,
            training_date=store.today,
            trainee=trainee,
            authority=authority,
            drill=drill,
            drill_hash=drill_hash(drill),
            grammar_version=grammar_version(),
            rules_version=rules_version(),
            program_version=__version__,
            engine=engine,
            engine_model=_model_of(engine),
            least_certainty=least_certainty,
            consent=consent,
            settings=settings or {},
            pairing="given",
        )
    except ValidationError as error:
        field = str(error.errors()[0]["loc"][0])
        raise InputError(
            f"The {field} cannot be kept.", "Give it in 1 to 200 characters."
        ) from error


def _model_of(engine: str | None) -> str | None:
    if engine is None:
        return None
    # It knows all recognisers: loaded only where something was heard.
    from readback.measure.report import engine_version

    return engine_version(engine)


def _at(transmission: Transmission, now_s: float) -> Transmission:
    """Give the times from the start of the session; what was typed has only that of its end."""
    if transmission.end is None:
        return transmission.model_copy(update={"start": now_s})
    later = now_s - transmission.end
    words = tuple(
        word.model_copy(
            update={
                side: None if (at := getattr(word, side)) is None else max(0.0, at + later)
                for side in ("start", "end")
            }
        )
        for word in transmission.words
    )
    start = max(0.0, (transmission.start or 0.0) + later)
    return transmission.model_copy(update={"words": words, "start": start, "end": now_s})
