"""Instructions paired with their readbacks among the transmissions of a recording."""

from collections.abc import Iterable, Sequence

from pydantic import BaseModel, ConfigDict

from readback.judging.hearing import STAND_BY
from readback.judging.rules import RuleBook
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Reading
from readback.phraseology.parser import parse
from readback.transmission import Transmission

LONGEST_PAUSE_S = 1.5
"""One station that goes on within this time is still in the same transmission (our choice, no
source); known only where each station has its own channel."""

_NOT_DUE = frozenset({"callsign"})
_DEFERRALS = frozenset({"stand_by"})


class Exchange(BaseModel):
    """One instruction and what came back."""

    model_config = ConfigDict(frozen=True)

    instruction: Transmission
    readback: Transmission | None = None
    """None where the recording or another instruction came first."""


def pair_transmissions(
    transmissions: Iterable[Transmission], grammar: Grammar, rules: RuleBook
) -> tuple[Exchange, ...]:
    """Pair each instruction with the transmission that answers it.

    An instruction is a transmission with a call that the rules want answered. The answer is the
    next transmission, of another station where stations are known; STAND BY only delays it
    where that was not told. A transmission that has its callsign at the end alone is an answer and
    opens no exchange, so that one transmission lost does not turn all later pairs round.

    Args:
        transmissions: In the order spoken, each whole: see `join_pauses`.
        grammar: The calls to find in them.
        rules: Whose rules say what is to be answered.

    Returns:
        The exchanges in the order of their instructions; what belongs to none is left out.

    Source: ICAO Annex 10 Volume II, 5.2.1.9.2 (the callsign ends a readback); from memory.
    """
    exchanges: list[Exchange] = []
    waiting: Transmission | None = None
    for spoken in transmissions:
        reading = parse(spoken, grammar)
        if waiting is None:
            waiting = spoken if _instructs(reading, rules) else None
        elif spoken.station is not None and spoken.station == waiting.station:
            if _instructs(reading, rules):
                exchanges.append(Exchange(instruction=waiting))
                waiting = spoken
        elif not _only_delays(reading) or _tells_to_stand_by(parse(waiting, grammar)):
            exchanges.append(Exchange(instruction=waiting, readback=spoken))
            waiting = None
    if waiting is not None:
        exchanges.append(Exchange(instruction=waiting))
    return tuple(exchanges)


def join_pauses(transmissions: Iterable[Transmission]) -> tuple[Transmission, ...]:
    """Join what one station said with a short pause in it, where stations are known."""
    joined: list[Transmission] = []
    for spoken in transmissions:
        if joined and _goes_on(joined[-1], spoken):
            joined[-1] = joined[-1].followed_by(spoken)
        else:
            joined.append(spoken)
    return tuple(joined)


def _goes_on(before: Transmission, after: Transmission) -> bool:
    return (
        before.station is not None
        and before.station == after.station
        and before.end is not None
        and after.start is not None
        and after.start - before.end <= LONGEST_PAUSE_S
    )


def _instructs(reading: Reading, rules: RuleBook) -> bool:
    names = [call.name for call in reading.calls]
    if not any(_is_due(name, rules) for name in names):
        return False
    return not _ends_with_callsign(names)


def _is_due(name: str, rules: RuleBook) -> bool:
    rule = rules.rule(name)
    return rule is not None and rule.answer != "none" and name not in _NOT_DUE


def _ends_with_callsign(names: Sequence[str]) -> bool:
    return names[-1] == "callsign" and "callsign" not in names[:-1]


def _tells_to_stand_by(reading: Reading) -> bool:
    return any(call.name in STAND_BY for call in reading.calls)


def _only_delays(reading: Reading) -> bool:
    said = {call.name for call in reading.calls} - _NOT_DUE
    return bool(said) and said <= _DEFERRALS
