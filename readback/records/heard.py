"""A recording that was heard: its exchanges judged, looked at, and kept as a session."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from readback.judging.check import check
from readback.judging.exchange import find_exchanges, join_pauses
from readback.judging.local import LocalWording
from readback.judging.model import Verdict
from readback.judging.rules import load_rules
from readback.phraseology.grammar import load_grammar
from readback.records.audio import cut_clips
from readback.records.model import KeptExchange, KeptSession, KeptTransmission, SessionHead
from readback.transmission import Transmission

if TYPE_CHECKING:
    from readback.records.store import Store

NOT_KEPT = 0
"""Number of a session that is in no records."""


class Judged(Protocol):
    """An exchange with its verdict; its transmissions by their numbers, from 1."""

    @property
    def instruction(self) -> int:
        """The instruction's number."""

    @property
    def readback(self) -> int | None:
        """The readback's number; None where nothing answered."""

    @property
    def verdict(self) -> Verdict:
        """The program's verdict."""


def judge_heard(
    heard: Sequence[Transmission], head: SessionHead, *, local: LocalWording | None = None
) -> KeptSession:
    """Judge the exchanges of a recording, as a session that is not kept yet.

    Args:
        heard: Its transmissions in their order.
        head: What the session is about; its authority, callsign and least certainty count.
        local: An operator's own wording; None: the shipped one alone.
    """
    local = local or LocalWording()
    grammar = load_grammar(local.grammars)
    rules = load_rules(head.authority, local.rules)
    spoken = join_pauses(heard)
    # Joining what is joined gives the same transmissions back.
    numbers = {id(transmission): number for number, transmission in enumerate(spoken, start=1)}
    exchanges: list[KeptExchange] = []
    for exchange in find_exchanges(spoken, grammar, rules):
        verdict = check(
            exchange.instruction,
            exchange.readback or "",
            authority=head.authority,
            callsign=head.callsign,
            local_grammars=local.grammars,
            local_rules=local.rules,
            least_certainty=head.least_certainty,
        )
        exchanges.append(
            KeptExchange(
                number=len(exchanges) + 1,
                instruction=numbers[id(exchange.instruction)],
                readback=None if exchange.readback is None else numbers[id(exchange.readback)],
                verdict=verdict,
                outcome=verdict.verdict,
            )
        )
    return KeptSession(
        id=NOT_KEPT,
        head=head,
        begun_at=datetime.now(UTC),
        finished_at=None,
        transmissions=tuple(
            KeptTransmission(number=number, original=one, current=one)
            for number, one in enumerate(spoken, start=1)
        ),
        exchanges=tuple(exchanges),
        first_exchanges=tuple(exchanges),
    )


def keep_heard(
    store: "Store",
    session: KeptSession,
    recording: Path,
    *,
    local: LocalWording | None = None,
) -> int:
    """Keep what `judge_heard` gave, with the sound where there is consent.

    Args:
        store: The records.
        session: Judged.
        recording: Where its sound is.
        local: The operator's own wording that it was judged by.

    Returns:
        The session's number.

    Raises:
        AudioError: The recording cannot be read any more: nothing is kept.
    """
    spoken = [kept.original for kept in session.transmissions]
    tracks = [one.station for one in spoken]
    return keep_judged(
        store, session.head, recording, spoken, tracks, session.exchanges, local=local
    )


def keep_judged(
    store: "Store",
    head: SessionHead,
    recording: Path,
    spoken: Sequence[Transmission],
    tracks: Sequence[str | None],
    exchanges: Iterable[Judged],
    *,
    local: LocalWording | None = None,
) -> int:
    """Keep the transmissions of a recording and their verdicts as one session.

    Args:
        store: The records.
        head: What the session is about; with consent the sound is kept.
        recording: Where the sound is.
        spoken: The transmissions.
        tracks: The recording's channel that each is on; None where there is but one.
        exchanges: Judged.
        local: The operator's own wording that it was judged by.

    Returns:
        The session's number.

    Raises:
        AudioError: The recording cannot be read any more: nothing is kept.
    """
    clips: Sequence[bytes | None] = [None] * len(spoken)
    if head.consent:
        times = zip(spoken, tracks, strict=True)
        spans = [(one.start or 0.0, one.end or 0.0, track) for one, track in times]
        clips = cut_clips(recording, spans)
    number = store.begin(head, local=local)
    for transmission, clip in zip(spoken, clips, strict=True):
        store.keep_transmission(number, transmission, flac=clip)
    for exchange in exchanges:
        store.keep_verdict(
            number,
            exchange.verdict,
            instruction=exchange.instruction,
            readback=exchange.readback,
        )
    store.finish(number)
    return number
