"""Values: the words of a runway, a frequency, a code, read to what a chart writes.

`read_value` asks for the shape of a value, not for its existence: a readback of runway 45 or of
squawk 2800 has to be read before it can be called wrong. `speaking` says values; the names to use
from outside are all here.

Values are without their kind's word (``"27L"``, not ``"runway 27L"``); words are canonical tokens.
"""

from collections.abc import Callable, Sequence

from readback.errors import InputError
from readback.phraseology.speaking import AUTHORITIES, speak_value
from readback.phraseology.spelling import DIGITS, LETTERS, read_number

__all__ = [
    "AUTHORITIES",
    "DIGITS",
    "KINDS",
    "LETTERS",
    "read_number",
    "read_value",
    "same_value",
    "speak_value",
]

_SIDES = {"left": "L", "right": "R", "centre": "C"}
_DECIMAL_WORDS = frozenset({"decimal", "point"})
_GUST_WORDS = frozenset({"gusting", "gusts", "gust"})

_Reader = Callable[[Sequence[str]], str | None]


def read_value(kind: str, words: Sequence[str]) -> str | None:
    """Read the words of one value to the value as a chart writes it.

    Args:
        kind: One of `KINDS`.
        words: Canonical tokens; words that only name the kind or its unit are passed over.

    Returns:
        ``"27L"``, ``"E3"``, ``"A B C1"``, ``"121.700"``, ``"FL180"``; a frequency said in part
        stays short: ``".7"``, ``"20.2"``. None if the words do not have the shape of the kind.

    Raises:
        InputError: There is no such kind.
    """
    entry = _READERS.get(kind)
    if entry is None:
        raise InputError(f"No kind of value {kind!r}.", f"Use one of {', '.join(KINDS)}.")
    reader, passed_over = entry
    kept = [word for word in words if word not in passed_over]
    return reader(kept) if kept else None


def same_value(kind: str, a: str, b: str) -> bool:
    """Tell whether two values are one to a controller.

    A runway's leading zero is optional, a frequency is compared by channel and as far as it was
    said, a time of minutes alone by its minutes, a route by the letters and digits in their order.

    Source: 7110.65 2-4-3, 2-4-17 and 3-10-9; ICAO Annex 10 Vol II, 5.2.1.4.2.
    """
    if a == b:
        return True
    if kind == "frequency":
        return _same_frequency(a, b)
    if kind == "time":
        return {len(a), len(b)} == {2, 4} and a[-2:] == b[-2:]
    if kind == "runway":
        return a.lstrip("0") == b.lstrip("0")
    if kind == "flight_level":
        return a.removeprefix("FL").lstrip("0") == b.removeprefix("FL").lstrip("0")
    if kind == "route":
        # "alfa alfa" may be A A or AA: on the air the two are the same words.
        return a.replace(" ", "") == b.replace(" ", "")
    return False


def _same_frequency(a: str, b: str) -> bool:
    whole_a, _, decimals_a = a.partition(".")
    whole_b, _, decimals_b = b.partition(".")
    if _channel(decimals_a) != _channel(decimals_b):
        return False
    short, full = sorted((whole_a, whole_b), key=len)
    return short in ("", full) or f"1{short}" == full


def _channel(decimals: str) -> str:
    """Give the channel's three decimals back to a frequency said without its third.

    No channel name ends in 20 or 70 (ICAO Annex 10 Vol V, table 4-1, from memory): such an ending
    is always 25 or 75 without its last digit (7110.65 2-4-17; Doc 9432 2.4.5).
    """
    padded = decimals.ljust(3, "0")
    return f"{padded[0]}{padded[1]}5" if padded[1:] in ("20", "70") else padded


# Reading: each takes the words that are left, at least one.


def _read_runway(words: Sequence[str]) -> str | None:
    side = _SIDES.get(words[-1], "")
    number = read_number(words[:-1] if side else words)
    return number.zfill(2) + side if number and len(number) <= 2 else None


def _read_parts(words: Sequence[str]) -> list[str] | None:
    """Read letters and the numbers between them: ``["C", "1", "D"]``."""
    parts: list[str] = []
    run: list[str] = []
    for word in words:
        letter = LETTERS.get(word)
        if letter is None:
            run.append(word)
            continue
        if run:
            number = read_number(run)
            if number is None:
                return None
            parts.append(number)
            run = []
        parts.append(letter)
    if run:
        number = read_number(run)
        if number is None:
            return None
        parts.append(number)
    return parts


def _read_designator(words: Sequence[str]) -> str | None:
    parts = _read_parts(words)
    return "".join(parts) if parts else None


def _read_route(words: Sequence[str]) -> str | None:
    parts = _read_parts(words)
    if not parts:
        return None
    return "".join([f" {part}" if part.isalpha() else part for part in parts]).lstrip()


def _read_stand(words: Sequence[str]) -> str | None:
    side = _SIDES.get(words[-1], "")
    if not side:
        return _read_designator(words)
    designator = _read_designator(words[:-1])
    return designator + side if designator else None


def _read_frequency(words: Sequence[str]) -> str | None:
    mark = next((at for at, word in enumerate(words) if word in _DECIMAL_WORDS), None)
    if mark is None:
        digits = read_number(words)
        # Only a VHF frequency is said without its decimal: common practice, no source.
        if digits is None or not 4 <= len(digits) <= 6 or digits[0] != "1":
            return None
        return f"{digits[:3]}.{digits[3:]:0<3}"
    whole = read_number(words[:mark]) if mark else ""
    decimals = read_number(words[mark + 1 :])
    if whole is None or decimals is None or len(decimals) > 3:
        return None
    if len(whole) == 3:
        return f"{whole}.{decimals:0<3}"
    return f"{whole}.{decimals}" if len(whole) in (0, 2) else None


def _read_altimeter(words: Sequence[str]) -> str | None:
    digits = read_number(words)
    return f"{digits[:2]}.{digits[2:]}" if digits and len(digits) == 4 else None


def _read_flight_level(words: Sequence[str]) -> str | None:
    digits = read_number(words)
    return f"FL{digits:0>3}" if digits and len(digits) in (2, 3) else None


def _read_engine_sequence(words: Sequence[str]) -> str | None:
    digits = [DIGITS.get(word, "") for word in words]
    return " ".join(digits) if all(digits) else None


def _read_letter(words: Sequence[str]) -> str | None:
    return LETTERS.get(words[0]) if len(words) == 1 else None


def _read_wind(words: Sequence[str]) -> str | None:
    """Read ``"200/70"``, ``"160/18G30"``, ``"220"`` (no speed) or ``"/18"`` (no direction)."""
    direction_words: list[str] = []
    speed_words: list[str] = []
    gust_words: list[str] = []
    field = direction_words
    for word in words:
        if word in ("degrees", "at"):
            field = speed_words
        elif word in _GUST_WORDS:
            field = gust_words
        elif word != "knots":
            field.append(word)
    if "knots" in words and not speed_words:
        # A speed alone; with five words or more the direction stands before it.
        at = 3 if len(direction_words) > 3 else 0
        direction_words, speed_words = direction_words[:at], direction_words[at:]
    direction, speed, gust = map(_read_field, (direction_words, speed_words, gust_words))
    if direction is None or speed is None or gust is None or len(direction) not in (0, 3):
        return None
    if (gust and not speed) or not (direction or speed):
        return None
    return (
        direction + (f"/{speed.zfill(2)}" if speed else "") + (f"G{gust.zfill(2)}" if gust else "")
    )


def _read_field(words: Sequence[str]) -> str | None:
    return read_number(words) if words else ""


def _digits_of(*lengths: int) -> _Reader:
    def read(words: Sequence[str]) -> str | None:
        digits = read_number(words)
        return digits if digits and len(digits) in lengths else None

    return read


def _passing_over(reader: _Reader, words: str) -> tuple[_Reader, frozenset[str]]:
    return reader, frozenset(words.split())


_READERS: dict[str, tuple[_Reader, frozenset[str]]] = {
    "runway": _passing_over(_read_runway, "runway"),
    "taxiway": _passing_over(_read_designator, "taxiway"),
    "holding_point": _passing_over(_read_designator, "holding point position taxiway"),
    "route": _passing_over(_read_route, "and then taxiway taxiways via"),
    "stand": _passing_over(_read_stand, "stand gate bay"),
    "frequency": _passing_over(
        _read_frequency, "frequency ground tower apron delivery on megahertz"
    ),
    "qnh": _passing_over(_digits_of(3, 4), "qnh hectopascals"),
    "altimeter": _passing_over(_read_altimeter, "altimeter decimal point"),
    "squawk": _passing_over(_digits_of(4), "squawk"),
    "time": _passing_over(_digits_of(2, 4), "time at zulu utc hours"),
    "engine": _passing_over(_digits_of(1), "engine number"),
    "engine_sequence": _passing_over(
        _read_engine_sequence, "followed by then and engine engines number numbers"
    ),
    "flight_level": _passing_over(_read_flight_level, "flight level"),
    "altitude": _passing_over(read_number, "altitude feet"),
    "heading": _passing_over(_digits_of(3), "heading course degrees"),
    "speed": _passing_over(read_number, "speed knots"),
    "letter": _passing_over(_read_letter, "information letter"),
    "number": _passing_over(read_number, "number"),
    "degrees": _passing_over(read_number, "degrees"),
    "callsign_number": _passing_over(read_number, ""),
    "serial_number": _passing_over(read_number, "serial number"),
    "wind": _passing_over(_read_wind, "wind surface"),
    "cloud_height": _passing_over(read_number, "cloud feet"),
    "visibility": _passing_over(read_number, "visibility metres"),
    "rvr": _passing_over(read_number, "rvr metres"),
}

KINDS = tuple(_READERS)
"""Every kind of value that can be read and said."""
