"""Stations named by hand."""

from typing import get_args

from readback.drills.model import Station
from readback.errors import InputError

STATIONS: tuple[str, ...] = get_args(Station)
_CHANNELS = ("left", "right")
_HOW = "Give --station 3=headset, or --station left=controller."


def read_station(text: str) -> tuple[str, str]:
    """Read who spoke, as typed: ``3=headset``, ``left=controller``.

    Returns:
        The number of a transmission or the name of a channel, and the station.

    Raises:
        InputError: It is neither, or there is no such station.
    """
    where, _, station = (part.strip() for part in text.partition("="))
    name = station.lower().replace(" ", "_").replace("-", "_")
    if where not in _CHANNELS and not (where.isascii() and where.isdigit() and int(where)):
        raise InputError(f"--station {text}: {where!r} is no transmission or channel.", _HOW)
    if name not in STATIONS:
        raise InputError(
            f"--station {text}: there is no station {station!r}.",
            f"Use one of {', '.join(STATIONS)}.",
        )
    return (str(int(where)) if where.isdigit() else where), name
