"""Values said: every way the sources of an authority print a runway, a frequency, a code."""

import re
from collections.abc import Callable

from readback.errors import InputError
from readback.phraseology.spelling import (
    DIGIT_WORDS,
    LETTER_WORDS,
    speak_characters,
    speak_group,
    speak_hundreds,
)

AUTHORITIES = ("icao", "easa", "faa", "uk")

_SIDE_WORDS = {"L": "left", "R": "right", "C": "centre"}

_Speaker = Callable[[str, str], list[str]]


def speak_value(kind: str, value: str, authority: str = "icao") -> tuple[str, ...]:
    """Say a value in every way the authority's sources print.

    Args:
        kind: One of `values.KINDS`.
        value: As `values.read_value` returns it, or as a chart writes it: ``"4L"``, ``"121.7"``.
        authority: One of `AUTHORITIES`.

    Returns:
        Canonical tokens with a space between, the authority's standard form first. Each reads back
        to a value that is `values.same_value` as ``value``.

    Raises:
        InputError: There is no such kind or authority, or the value has not the kind's shape.
    """
    entry = _SPEAKERS.get(kind)
    if entry is None:
        raise InputError(f"No kind of value {kind!r}.", f"Use one of {', '.join(_SPEAKERS)}.")
    speaker, shape, example = entry
    if authority not in AUTHORITIES:
        raise InputError(f"No authority {authority!r}.", f"Use one of {', '.join(AUTHORITIES)}.")
    if not shape.fullmatch(value):
        raise InputError(
            f"{value!r} is no {kind.replace('_', ' ')}.", f"Write one like {example!r}."
        )
    return tuple(dict.fromkeys(speaker(value, authority)))


# Saying: each takes a value of the kind's shape and an authority, and gives its forms.


def _speak_runway(value: str, authority: str) -> list[str]:
    """ICAO says two digits (Annex 10 5.2.1.4.1.1), the US no leading zero (7110.65 2-4-3)."""
    number = value.rstrip("LRC")
    number = number.lstrip("0") or "0" if authority == "faa" else number.zfill(2)
    return [" ".join([speak_characters(number), *(_SIDE_WORDS[s] for s in value if s in "LRC")])]


def _speak_route(value: str, authority: str) -> list[str]:
    return [speak_characters(value.replace(" ", ""))]


def _speak_stand(value: str, authority: str) -> list[str]:
    """Say a last L or R after a number as a side, or as a letter: common practice, no source."""
    forms = [speak_characters(value)]
    if value[-1] in "LRC" and value[:-1].isdecimal():
        forms.append(f"{speak_characters(value[:-1])} {_SIDE_WORDS[value[-1]]}")
    return forms if value[-1] == "C" else forms[::-1]


def _speak_frequency(value: str, authority: str) -> list[str]:
    """DECIMAL and six digits (Doc 9432 2.4.4), or POINT and five (7110.65 2-4-17)."""
    whole, _, decimals = value.partition(".")
    endings = _decimals_to_say(decimals, authority) if len(whole) == 3 else [decimals]
    marks = ("point", "decimal") if authority == "faa" else ("decimal",)
    whole_words = speak_characters(whole)
    forms = [
        f"{whole_words} {mark} {speak_characters(ending)}".lstrip()
        for mark in marks
        for ending in endings
    ]
    if authority == "faa" and len(whole) == 3 and len(endings[0]) < 3:
        # The restatement of 7110.65P 2-4-18.
        forms.append(f"{speak_group(whole)} point {speak_group(endings[0])}")
    if authority == "faa" and whole == "121":
        # 7110.65 2-1-17: a ground frequency of the 121 band may be cut to its decimals.
        forms.append(f"point {speak_characters(endings[0])}")
    return forms


def _decimals_to_say(decimals: str, authority: str) -> list[str]:
    decimals = decimals.ljust(3, "0")
    if decimals.endswith("00"):
        return [decimals[0]]
    if decimals[1:] in ("20", "70"):
        return [decimals[:2]]
    if decimals[1:] not in ("25", "50", "75"):
        # The US has no 8.33 kHz channels: the rule to drop a digit that tells them apart is not
        # meant for them.
        return [decimals[:2] if authority == "faa" and decimals[2] == "0" else decimals]
    if authority == "faa":
        return [decimals[:2]]
    # Doc 9432 2.4.5: five digits may do where every channel is 25 kHz from the next.
    return [decimals, decimals[:2]] if authority == "icao" else [decimals]


def _speak_qnh(value: str, authority: str) -> list[str]:
    """1000 is ONE THOUSAND in SERA.14035, digits in the Annex 10 edition seen."""
    digits = speak_characters(value)
    if value == "1000":
        return {"icao": [digits, "one thousand"], "faa": [digits]}.get(authority, ["one thousand"])
    if authority == "uk" and len(value) == 3:
        # CAP 413 readback list, from memory: the unit is added below 1000.
        return [digits, f"{digits} hectopascals"]
    return [digits]


def _speak_altimeter(value: str, authority: str) -> list[str]:
    digits = value.replace(".", "")
    forms = [speak_characters(digits)]
    if authority == "faa" and digits[0] != "0" and digits[2:] != "00":
        # The restatement of 7110.65P 2-4-18.
        forms.append(speak_group(digits))
    return forms


def _speak_squawk(value: str, authority: str) -> list[str]:
    """Say digits; EU and UK whole thousands as such (SERA.14035, CAP 413 Table 5)."""
    if authority in ("easa", "uk") and value[0] != "0" and value.endswith("000"):
        return [f"{DIGIT_WORDS[value[0]]} thousand"]
    return [speak_characters(value)]


def _speak_time(value: str, authority: str) -> list[str]:
    """ICAO says minutes alone (Annex 10 5.2.1.4.2), the US four digits (AIM 4-2-12)."""
    digits, minutes = speak_characters(value), speak_characters(value[-2:])
    if authority == "faa" and len(value) == 4:
        return [digits, f"{digits} zulu", minutes]
    return [minutes, digits]


def _speak_engine_sequence(value: str, authority: str) -> list[str]:
    """Common practice, no source."""
    engines = [DIGIT_WORDS[engine] for engine in value.split()]
    return [" followed by ".join(engines), " ".join(engines)]


def _speak_flight_level(value: str, authority: str) -> list[str]:
    """Whole hundreds: CAP 413 ed. 20 ch. 2, 1.4.2 and SERA.14035; digits: Annex 10, AIM 4-2-9."""
    level = value[2:].zfill(3)
    digits = speak_characters(level)
    if level[0] == "0":
        # Two digits below FL100: from memory.
        return [speak_characters(level[1:]), digits]
    if level.endswith("00"):
        hundreds = f"{DIGIT_WORDS[level[0]]} hundred"
        return {"icao": [digits, hundreds], "faa": [digits]}.get(authority, [hundreds])
    return [digits]


def _speak_height(value: str, authority: str) -> list[str]:
    """Whole hundreds and thousands as such (Annex 10 5.2.1.4.1.2), anything else by digits."""
    hundreds = speak_hundreds(value)
    if hundreds is None:
        return [speak_characters(value)]
    if authority == "faa":
        # The restatement of 7110.65 2-4-17 is the second form.
        return [hundreds, speak_hundreds(value, grouped=True) or hundreds]
    return [hundreds]


def _speak_number(value: str, authority: str) -> list[str]:
    return [speak_hundreds(value) or speak_characters(value)]


def _speak_digits(value: str, authority: str) -> list[str]:
    return [speak_characters(value)]


def _speak_heading(value: str, authority: str) -> list[str]:
    digits = speak_characters(value)
    return [digits, f"{digits} degrees"]


def _speak_degrees(value: str, authority: str) -> list[str]:
    digits = speak_characters(value)
    return [f"{digits} degrees", digits]


def _speak_speed(value: str, authority: str) -> list[str]:
    digits = speak_characters(value)
    return [f"{digits} knots", digits]


def _speak_callsign_number(value: str, authority: str) -> list[str]:
    """Digits; the US group form first (AIM 4-2-4 a5, 7110.65P 2-4-20 and its note)."""
    digits = speak_characters(value)
    return [speak_group(value), digits] if authority == "faa" else [digits]


def _speak_wind(value: str, authority: str) -> list[str]:
    """Annex 10 5.2.1.4.1.1; the US AT and GUSTS (7110.65) are from memory."""
    direction, _, rest = value.partition("/")
    speed, _, gust = rest.partition("G")
    from_words = speak_characters(direction)
    speed_words, gust_words = (speak_characters(x.lstrip("0") or x[:1]) for x in (speed, gust))
    if not speed:
        return [from_words, f"{from_words} degrees"]
    full = f"{from_words} degrees {speed_words} knots" if direction else f"{speed_words} knots"
    forms = [full + (f" gusting {gust_words} knots" if gust else "")]
    if authority == "faa" and direction:
        brief = f"{from_words} at {speed_words}" + (f" gusts {gust_words}" if gust else "")
        forms.insert(0, brief)
    return forms


def _speak_letter(value: str, authority: str) -> list[str]:
    return [LETTER_WORDS[value]]


def _shaped(speaker: _Speaker, shape: str, example: str) -> tuple[_Speaker, re.Pattern[str], str]:
    return speaker, re.compile(shape), example


_SPEAKERS: dict[str, tuple[_Speaker, re.Pattern[str], str]] = {
    "runway": _shaped(_speak_runway, "[0-9]{1,2}[LRC]?", "27L"),
    "taxiway": _shaped(_speak_digits, "[A-Z0-9]+", "E3"),
    "holding_point": _shaped(_speak_digits, "[A-Z0-9]+", "C5"),
    "route": _shaped(_speak_route, "[A-Z0-9]+( [A-Z0-9]+)*", "A B C1"),
    "stand": _shaped(_speak_stand, "[A-Z0-9]+", "24L"),
    "frequency": _shaped(_speak_frequency, r"([0-9]{2,3})?\.[0-9]{1,3}", "121.700"),
    "qnh": _shaped(_speak_qnh, "[0-9]{3,4}", "1013"),
    "altimeter": _shaped(_speak_altimeter, r"[0-9]{2}\.[0-9]{2}", "29.92"),
    "squawk": _shaped(_speak_squawk, "[0-9]{4}", "2400"),
    "time": _shaped(_speak_time, "[0-9]{2}([0-9]{2})?", "0920"),
    "engine": _shaped(_speak_digits, "[0-9]", "2"),
    "engine_sequence": _shaped(_speak_engine_sequence, "[0-9]( [0-9])*", "2 1"),
    "flight_level": _shaped(_speak_flight_level, "FL[0-9]{2,3}", "FL180"),
    "altitude": _shaped(_speak_height, "[0-9]+", "3400"),
    "heading": _shaped(_speak_heading, "[0-9]{3}", "080"),
    "speed": _shaped(_speak_speed, "[0-9]+", "250"),
    "letter": _shaped(_speak_letter, "[A-Z]", "K"),
    "number": _shaped(_speak_number, "[0-9]+", "75"),
    "degrees": _shaped(_speak_degrees, "[0-9]+", "90"),
    "callsign_number": _shaped(_speak_callsign_number, "[0-9]+", "452"),
    "serial_number": _shaped(_speak_digits, "[0-9]+", "11495"),
    "wind": _shaped(
        _speak_wind, "[0-9]{3}(/[0-9]{1,3}(G[0-9]{1,3})?)?|/[0-9]{1,3}(G[0-9]{1,3})?", "200/70"
    ),
    "cloud_height": _shaped(_speak_height, "[0-9]+", "2200"),
    "visibility": _shaped(_speak_height, "[0-9]+", "700"),
    "rvr": _shaped(_speak_height, "[0-9]+", "600"),
}
