"""Corrections by a person applied to what was kept, and what follows from them judged again."""

from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher

from pydantic import JsonValue

from readback.judging.check import check
from readback.judging.exchange import pair_transmissions
from readback.judging.local import LocalWording
from readback.judging.model import Outcome
from readback.judging.rules import load_rules
from readback.phraseology.grammar import load_grammar
from readback.records.model import (
    Correction,
    CorrectionKind,
    KeptExchange,
    KeptSession,
    KeptTransmission,
)
from readback.transmission import Transmission

JUDGED_AGAIN = frozenset({CorrectionKind.WORDS, CorrectionKind.STATION, CorrectionKind.PAIRING})
"""Kinds after which the exchanges are found and judged again."""
NO_INSTRUCTION = "none"
"""The corrected pairing of a transmission that is no instruction."""

_Pair = tuple[int, int | None]
Corrected = str | int | Mapping[str, JsonValue] | None
"""What a person says is right."""


def current_session(session: KeptSession) -> KeptSession:
    """Apply the corrections: words, stations, result, remarks, and verdicts that still hold.

    A person's verdict holds for the words for which it was given; once these are corrected, the
    program's counts again.

    Args:
        session: As kept; its exchanges are those judged last.
    """
    transmissions = {kept.number: kept.original for kept in session.transmissions}
    head = session.head
    for correction in session.corrections:
        if correction.kind is CorrectionKind.WORDS:
            number = _number(correction)
            transmissions[number] = reword(transmissions[number], str(correction.corrected))
        elif correction.kind is CorrectionKind.STATION:
            number = _number(correction)
            transmissions[number] = transmissions[number].model_copy(
                update={"station": correction.corrected}
            )
        elif correction.kind in (CorrectionKind.RESULT, CorrectionKind.REMARKS):
            head = head.model_copy(update={correction.kind.value: correction.corrected})
    kept = tuple(
        one.model_copy(update={"current": transmissions[one.number]})
        for one in session.transmissions
    )
    exchanges = tuple(
        _with_outcome(exchange, transmissions, session.corrections)
        for exchange in session.exchanges
    )
    return session.model_copy(update={"head": head, "transmissions": kept, "exchanges": exchanges})


def rejudge(
    session: KeptSession, correction: Correction, local: LocalWording
) -> tuple[KeptExchange, ...]:
    """Find the exchanges again and judge those whose words or pairing the correction changed.

    Args:
        session: With the correction applied, its exchanges as they were before it.
        correction: The last one.
        local: The session's own wording; empty where it had none.

    Returns:
        All exchanges of the session; none where the correction changes no exchange.
    """
    if correction.kind not in JUDGED_AGAIN:
        return ()
    known = {(one.instruction, one.readback): one.verdict for one in session.exchanges}
    changed = correction.target if correction.kind is CorrectionKind.WORDS else None
    exchanges = []
    for number, (instruction, readback) in enumerate(_pairs(session, local), start=1):
        verdict = known.get((instruction, readback))
        if verdict is None or changed in (instruction, readback):
            verdict = check(
                session.transmission(instruction).current,
                "" if readback is None else session.transmission(readback).current,
                authority=session.head.authority,
                callsign=session.head.callsign,
                local_grammars=local.grammars,
                local_rules=local.rules,
                least_certainty=least_certainty_of(session, instruction, readback),
            )
        exchanges.append(
            KeptExchange(
                number=number,
                instruction=instruction,
                readback=readback,
                verdict=verdict,
                outcome=verdict.verdict,
            )
        )
    return tuple(exchanges)


def least_certainty_of(session: KeptSession, *numbers: int | None) -> float:
    """Tell how certain a verdict must be: as when it was heard, by the strictest of the channels.

    What a person worded is certain, and a channel that was not found counts beside one that was
    only where there is no other.

    Args:
        session: With its corrections applied.
        numbers: Of the transmissions that are judged together; None is none.
    """
    sides = [session.transmission(one) for one in numbers if one is not None]
    heard = [one for one in sides if one.current.words == one.original.words] or sides
    found = [one for one in heard if one.original.channel is not None] or heard
    whole = session.head.least_certainty
    own = [whole if one.least_certainty is None else one.least_certainty for one in found]
    return max(own, default=whole)


def reword(transmission: Transmission, text: str) -> Transmission:
    """Put other words into a transmission.

    Words that stay keep their times; all are certain, as a person heard them.
    """
    words = list(Transmission.typed(text).words)
    before = [word.word for word in transmission.words]
    matcher = SequenceMatcher(None, before, [word.word for word in words], autojunk=False)
    for block in matcher.get_matching_blocks():
        for offset in range(block.size):
            heard = transmission.words[block.a + offset]
            words[block.b + offset] = heard.model_copy(update={"certainty": None})
    return transmission.model_copy(update={"words": tuple(words), "alternatives": ()})


def _with_outcome(
    exchange: KeptExchange,
    transmissions: dict[int, Transmission],
    corrections: Sequence[Correction],
) -> KeptExchange:
    judged = judged_words(exchange, transmissions)
    for correction in reversed(corrections):
        if correction.kind is not CorrectionKind.VERDICT:
            continue
        said = correction.corrected
        if correction.target in (exchange.instruction, exchange.readback) and isinstance(
            said, dict
        ):
            if said["judged"] != judged:
                continue
            return exchange.model_copy(
                update={"outcome": Outcome(str(said["outcome"])), "outcome_by": correction.by}
            )
    return exchange.model_copy(update={"outcome": exchange.verdict.verdict, "outcome_by": None})


def judged_words(
    exchange: KeptExchange, transmissions: dict[int, Transmission]
) -> list[str | None]:
    """Give the words of an exchange as they are now: instruction and answer."""
    answer = None if exchange.readback is None else transmissions[exchange.readback].text
    return [transmissions[exchange.instruction].text, answer]


def _pairs(session: KeptSession, local: LocalWording) -> list[_Pair]:
    """Find what answers what; those that a person paired take part in no other pair."""
    by_hand: dict[int, str | int | None] = {}
    for correction in session.corrections:
        if correction.kind is CorrectionKind.PAIRING:
            right = correction.corrected
            by_hand[_number(correction)] = right if isinstance(right, (str, int)) else None
    fixed = {*by_hand, *(right for right in by_hand.values() if isinstance(right, int))}
    if session.head.pairing == "given":
        first = ((one.instruction, one.readback) for one in session.first_exchanges)
        pairs = [pair for pair in first if fixed.isdisjoint(pair)]
    else:
        free = [kept for kept in session.transmissions if kept.number not in fixed]
        pairs = _find_pairs(free, session.head.authority, local)
    for instruction, right in by_hand.items():
        if right != NO_INSTRUCTION:
            pairs.append((instruction, right if isinstance(right, int) else None))
    return sorted(pairs, key=lambda pair: pair[0])


def _find_pairs(
    kept: Sequence[KeptTransmission], authority: str, local: LocalWording
) -> list[_Pair]:
    spoken = [one.current for one in kept]
    numbers = {id(one.current): one.number for one in kept}
    # As a recording was paired: what belongs together was joined when it was heard.
    exchanges = pair_transmissions(
        spoken, load_grammar(local.grammars), load_rules(authority, local.rules)
    )
    return [
        (
            numbers[id(one.instruction)],
            None if one.readback is None else numbers[id(one.readback)],
        )
        for one in exchanges
    ]


def _number(correction: Correction) -> int:
    assert correction.target is not None
    return correction.target
