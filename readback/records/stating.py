"""Corrections as a person states them, checked against what is kept."""

from collections.abc import Mapping
from datetime import datetime
from typing import get_args

from pydantic import JsonValue, ValidationError

from readback.drills.model import Station
from readback.errors import InputError
from readback.field_errors import what_is_allowed, what_is_wrong
from readback.judging.model import Outcome
from readback.records.correcting import NO_INSTRUCTION, Corrected, judged_words
from readback.records.model import (
    Correction,
    CorrectionKind,
    KeptSession,
    KeptTransmission,
    SessionHead,
)

DETAILS = frozenset(
    {
        *("organisation", "training", "competencies", "topics", "training_date"),
        *("assessment_date", "instructor", "trainee", "group", "keep_until", "pass_mark"),
    }
)
"""Fields of the head that a person may correct; the others say how it was judged."""
_STATIONS: tuple[str, ...] = get_args(Station)
"""Those of the drills."""


def state_correction(
    session: KeptSession,
    number: int,
    kind: CorrectionKind,
    target: int | None,
    corrected: Corrected,
    *,
    by: str,
    why: str,
    at: datetime,
) -> Correction:
    """Make a correction of what the session says now.

    Raises:
        InputError: The target or what is said to be right does not exist, or ``by`` or ``why`` is
            empty.
    """
    if isinstance(corrected, str) and not _is_readable(corrected):
        raise InputError("A text holds what is no character.", "Type it again.")
    original, right = {
        CorrectionKind.WORDS: _words,
        CorrectionKind.STATION: _station,
        CorrectionKind.PAIRING: _pairing,
        CorrectionKind.VERDICT: _verdict,
        CorrectionKind.RESULT: _result,
        CorrectionKind.REMARKS: _remarks,
        CorrectionKind.DETAILS: _details,
    }[kind](session, target, corrected)
    try:
        return Correction(
            number=number,
            kind=kind,
            target=target,
            original=original,
            corrected=right,
            by=by,
            at=at,
            why=why,
        )
    except ValidationError as error:
        raise InputError(
            "A correction needs a name and a reason, in readable text.",
            "Say who corrects, and why.",
        ) from error


def _is_readable(text: str) -> bool:
    """Tell text from bytes that the terminal could not decode."""
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _target(session: KeptSession, target: int | None) -> KeptTransmission:
    try:
        return session.transmission(-1 if target is None else target)
    except KeyError as error:
        raise InputError(
            f"Session {session.id} has no transmission {target}.",
            f"See readback records show {session.id}.",
        ) from error


def _words(session: KeptSession, target: int | None, right: Corrected) -> tuple[str, str]:
    return _target(session, target).current.text, " ".join(str(right or "").split())


def _station(
    session: KeptSession, target: int | None, right: Corrected
) -> tuple[str | None, str | None]:
    station = " ".join(str(right or "").split())
    # As it is shown and as it is kept: "flight deck" is flight_deck where that is a station.
    known = {one.current.station for one in session.transmissions}
    name = station.lower().replace(" ", "_")
    if station not in known and (name in known or name in _STATIONS):
        station = name
    return _target(session, target).current.station, station or None


def _pairing(
    session: KeptSession, target: int | None, right: Corrected
) -> tuple[str | int | None, str | int | None]:
    number = _target(session, target).number
    if isinstance(right, int):
        if _target(session, right).number == number:
            raise InputError(
                f"Transmission {number} cannot answer itself.", "Give the one that answers it."
            )
    elif right is not None and right != NO_INSTRUCTION:
        raise InputError(f"{right!r} is no transmission.", "Give its number, or none.")
    for exchange in session.exchanges:
        if exchange.instruction == number:
            return exchange.readback, right
    return NO_INSTRUCTION, right


def _verdict(
    session: KeptSession, target: int | None, right: Corrected
) -> tuple[str, dict[str, str | list[str | None]]]:
    transmissions = {kept.number: kept.current for kept in session.transmissions}
    # Several tries may answer one instruction: the readback's number then says which.
    for side in ("readback", "instruction"):
        for exchange in session.exchanges:
            if target is None or getattr(exchange, side) != target:
                continue
            judged = judged_words(exchange, transmissions)
            return exchange.outcome.value, {"outcome": _outcome(right).value, "judged": judged}
    raise InputError(
        f"Session {session.id} has no exchange with transmission {target}.",
        f"See readback records show {session.id}.",
    )


def _outcome(right: Corrected) -> Outcome:
    try:
        return Outcome(str(right))
    except ValueError as error:
        raise InputError(
            f"{right!r} is no verdict.", f"Give one of {', '.join(Outcome)}."
        ) from error


def _result(session: KeptSession, _: int | None, right: Corrected) -> tuple[str | None, str]:
    if right not in ("passed", "not passed"):
        raise InputError(f"{right!r} is no result.", "Give passed or not passed.")
    return session.head.result, str(right)


def _remarks(session: KeptSession, _: int | None, right: Corrected) -> tuple[str, str]:
    return session.head.remarks, str(right or "")


def _details(
    session: KeptSession, _: int | None, right: Corrected
) -> tuple[dict[str, JsonValue], dict[str, JsonValue]]:
    if not isinstance(right, Mapping) or not right or not right.keys() <= DETAILS:
        raise InputError(
            "There is no such detail of a session to correct.",
            f"Give one of {', '.join(sorted(DETAILS)).replace('_', '-')}.",
        )
    head = changed_head(session.head, right).model_dump(mode="json")
    before = session.head.model_dump(mode="json")
    return {name: before[name] for name in right}, {name: head[name] for name in right}


def changed_head(head: SessionHead, details: Mapping[str, JsonValue]) -> SessionHead:
    """Give a head with other details.

    Raises:
        InputError: One of them cannot be kept.
    """
    try:
        return SessionHead.model_validate({**head.model_dump(), **details})
    except ValidationError as error:
        raise wrong_detail(error) from error


def wrong_detail(error: ValidationError) -> InputError:
    """Make the error of the first detail of a head that cannot be kept."""
    first = error.errors()[0]
    name = str(first["loc"][0]).replace("_", " ")
    return InputError(
        f"{name}: {what_is_wrong(first)}.", what_is_allowed(first, otherwise="Give another one.")
    )
