"""Findings in words."""

from readback.judging.model import Status

_CALLS = {"qnh": "QNH", "brakes_order": "brakes"}
_UNSAID = {"state", "engine"}
"""Words of elements' names that their values make plain: brakes set, starting number 2."""


def name_of(call: str, element: str | None) -> str:
    """Name what a finding is about, as a person would: ``hold short runway``, ``QNH``."""
    verb = _CALLS.get(call, call.replace("_", " "))
    if element is None or element == call:
        return verb
    said = {word.rstrip("s") for word in verb.split()} | _UNSAID
    added = [word for word in element.split("_") if word not in said]
    return " ".join([verb, *added])


def describe(
    call: str,
    element: str | None,
    status: Status,
    expected: str | None,
    heard: str | None,
    instead: str | None = None,
) -> str:
    """Say one finding in one line.

    Args:
        call: The grammar's call.
        element: The grammar's element, None for the whole call.
        status: What became of it.
        expected: The value instructed.
        heard: The value read back.
        instead: An acknowledgement that came in its place.
    """
    name = name_of(call, element)
    if status is Status.CORRECT:
        return f"{name} {heard}" if heard else name
    if status is Status.WRONG:
        return f"{name} {expected}, heard {heard}"
    if status is Status.MISSING:
        value = f" {expected}" if expected else ""
        partly = f", heard only {heard}" if heard else ""
        word = f"; {instead.upper()} does not replace it" if instead else ""
        return f"{name}{value} was not read back{partly}{word}"
    if status is Status.NOT_ISSUED:
        return f"{name}{f' {heard}' if heard else ''} was read back but never instructed"
    return f"{name}{f' {heard}' if heard else ''} was not heard with certainty"
