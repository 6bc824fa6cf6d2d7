"""How far a recogniser can be trusted: how often people corrected what came of it."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Outcome
from readback.measure.statistics import Share
from readback.records.correcting import JUDGED_AGAIN
from readback.records.model import CorrectionKind, KeptSession

_WRONG = (Outcome.INCORRECT, Outcome.INCOMPLETE)
_OF_HEARING = (*JUDGED_AGAIN, CorrectionKind.VERDICT)
_T = TypeVar("_T")


class EngineTrust(BaseModel):
    """How often people corrected what one recogniser heard and what was judged of it.

    A lower bound: what nobody looked at counts as right.
    """

    model_config = ConfigDict(frozen=True)

    sessions: int
    sessions_corrected: int
    """Those in which a person corrected words, a station, a pairing or a verdict."""
    words_corrected: Share
    """Transmissions whose words were corrected."""
    stations_corrected: Share
    """Transmissions whose station was corrected."""
    verdicts_changed: Share
    """Exchanges whose verdict is another than at first."""
    passed: Share
    """At first correct, of those that are incorrect or incomplete now: the dangerous ones."""
    rejected: Share
    """At first incorrect or incomplete, of those that are correct now."""
    say_again: Share
    """At first say again, of all."""


def measure_trust(sessions: Iterable[KeptSession]) -> dict[str, EngineTrust]:
    """Measure by recogniser how often it was corrected; typed sessions are left out."""
    by_engine: dict[str, list[KeptSession]] = {}
    for session in sessions:
        if session.head.engine is not None:
            by_engine.setdefault(session.head.engine, []).append(session)
    return {engine: _trust(kept) for engine, kept in sorted(by_engine.items())}


def _trust(sessions: Sequence[KeptSession]) -> EngineTrust:
    transmissions = sum(len(session.transmissions) for session in sessions)
    changes = [change for session in sessions for change in _changes(session)]
    first = [old for old, _ in changes if old is not None]
    now_wrong = [old for old, new in changes if new in _WRONG and old is not None]
    now_right = [old for old, new in changes if new is Outcome.CORRECT and old is not None]
    return EngineTrust(
        sessions=len(sessions),
        sessions_corrected=sum(
            any(one.kind in _OF_HEARING for one in session.corrections) for session in sessions
        ),
        words_corrected=_corrected(sessions, CorrectionKind.WORDS, transmissions),
        stations_corrected=_corrected(sessions, CorrectionKind.STATION, transmissions),
        verdicts_changed=_share_of(changes, lambda pair: pair[0] is not pair[1]),
        passed=_share_of(now_wrong, lambda old: old is Outcome.CORRECT),
        rejected=_share_of(now_right, lambda old: old in _WRONG),
        say_again=_share_of(first, lambda old: old is Outcome.SAY_AGAIN),
    )


def _corrected(sessions: Iterable[KeptSession], kind: CorrectionKind, total: int) -> Share:
    """Count the transmissions that were corrected at least once."""
    return Share(
        count=sum(
            len({one.target for one in session.corrections if one.kind is kind})
            for session in sessions
        ),
        total=total,
    )


def _share_of(items: Sequence[_T], counts: Callable[[_T], bool]) -> Share:
    return Share(count=sum(map(counts, items)), total=len(items))


def _changes(session: KeptSession) -> list[tuple[Outcome | None, Outcome | None]]:
    """Pair first and present verdict of each instruction; None where it was or is none."""
    first = {one.instruction: one.outcome for one in session.first_exchanges}
    now = {one.instruction: one.outcome for one in session.exchanges}
    return [(first.get(number), now.get(number)) for number in sorted(first.keys() | now.keys())]
