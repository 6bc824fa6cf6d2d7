"""Random values of elements, as they could stand on a chart or in a clearance."""

import random
from collections.abc import Callable, Sequence

from readback.errors import InputError
from readback.phraseology.forms import NAMES, value_forms
from readback.phraseology.generator import element_rules
from readback.phraseology.grammar import Grammar

OPERATORS = ("LARKSPUR", "NORTHGATE", "BLUEFIN")
"""The invented operators of the shipped grammar."""
VEHICLES = ("TUG", "TOW", "OPS", "LEADER", "CHECKER", "SWEEPER")
# Charts leave out I, O and X, which are taken for 1, 0 and a closed part: common practice.
_CHART_LETTERS = "ABCDEFGHJKLMNPQRSTUVWYZ"
_TRAFFIC = (
    "boeing seven three seven",
    "boeing seven four seven",
    "airbus three two zero",
    "airbus three five zero",
    "delta charlie nine",
    "arrival",
    "helicopter",
    "turboprop",
    "tug",
)

_Draw = Callable[[random.Random], str]


def random_value(grammar: Grammar, element: str, rng: random.Random) -> str:
    """Draw a value that an element can have.

    Args:
        grammar: Whose element it is.
        element: Its name, without a variant: ``"runway"``, ``"pin_state"``.
        rng: The only source of chance.

    Returns:
        The value as a chart writes it; each can be said by one of the element's rules.

    Raises:
        InputError: There is no such element.
    """
    rules = element_rules(grammar, element)
    if not rules:
        raise InputError(f"No element {element!r}.", "Use a public rule of elements.jsgf.")
    tags = [
        tag
        for rule in rules
        for tag in grammar.tags_of(rule)
        if value_forms(grammar, rule, tag, "icao")
    ]
    if element in _DRAWS:
        return _DRAWS[element](rng)
    draw = _DRAWS.get(grammar.kind_of(rules[0]))
    return rng.choice(tags) if draw is None or (tags and rng.random() < 0.5) else draw(rng)


def random_callsign(rng: random.Random) -> str:
    """Draw a callsign: an operator's flight, a registration or a vehicle."""
    kind = rng.random()
    if kind < 0.6:
        return f"{rng.choice(OPERATORS)} {rng.choice(_FLIGHTS)(rng)}"
    if kind < 0.8:
        return "G-" + "".join(rng.choices(_CHART_LETTERS, k=4))
    if kind < 0.9:
        return f"N{rng.randrange(100, 9999)}{rng.choice(_CHART_LETTERS)}"
    return f"{rng.choice(VEHICLES)} {rng.randrange(1, 30)}"


def _digits(first: int, last: int, width: int = 0) -> _Draw:
    return lambda rng: str(rng.randint(first, last)).zfill(width)


def _runway(rng: random.Random) -> str:
    return f"{rng.randint(1, 36):02}{rng.choice(('', '', 'L', 'R', 'C'))}"


def _taxiway(rng: random.Random) -> str:
    return rng.choice(_CHART_LETTERS) + rng.choice(("", "", str(rng.randint(1, 12))))


def _holding_point(rng: random.Random) -> str:
    return f"{rng.choice(_CHART_LETTERS)}{rng.randint(1, 12)}"


def _route(rng: random.Random) -> str:
    taxiways: list[str] = []
    for _ in range(rng.choice((1, 2, 2, 3, 3, 4))):
        taxiway = _taxiway(rng)
        if not any(taxiway[0] == other[0] for other in taxiways):
            taxiways.append(taxiway)
    return " ".join(taxiways)


def _stand(rng: random.Random) -> str:
    if rng.random() < 0.2:
        return f"{rng.choice(_CHART_LETTERS)}{rng.randint(1, 29)}"
    return f"{rng.randint(1, 129)}{rng.choice(('', '', '', 'L', 'R', 'A'))}"


def _frequency(rng: random.Random) -> str:
    khz = rng.randrange(118_000, 137_000, 25)
    return f"{khz // 1000}.{khz % 1000:03}"


def _altimeter(rng: random.Random) -> str:
    return f"{rng.randint(28, 30)}.{rng.randint(0, 99):02}"


def _squawk(rng: random.Random) -> str:
    return "".join(rng.choices("01234567", k=4))


def _time(rng: random.Random) -> str:
    minutes = f"{rng.randrange(60):02}"
    return rng.choice(("", f"{rng.randrange(24):02}")) + minutes


def _engine_sequence(rng: random.Random) -> str:
    engines = rng.choice(("12", "1234"))
    return " ".join(rng.sample(engines, len(engines)))


def _words(choices: Sequence[str]) -> _Draw:
    return lambda rng: rng.choice(choices)


def _departure(rng: random.Random) -> str:
    number, letter = rng.choice(("one", "two", "three")), rng.choice(("alfa", "delta"))
    return f"{rng.choice(NAMES[2:])} {number} {letter}"


_FLIGHTS: tuple[_Draw, ...] = (
    _digits(2, 999),
    _digits(2, 999),
    _digits(1001, 9899),
    lambda rng: f"{rng.randint(1, 99)}{rng.choice(_CHART_LETTERS)}",
)
_DRAWS: dict[str, _Draw] = {
    "runway": _runway,
    "taxiway": _taxiway,
    "holding_point": _holding_point,
    "route": _route,
    "stand": _stand,
    "frequency": _frequency,
    "qnh": _digits(965, 1045),
    "altimeter": _altimeter,
    "squawk": _squawk,
    "time": _time,
    "letter": lambda rng: rng.choice(_CHART_LETTERS),
    "number": _digits(1, 5),
    "minutes": _digits(1, 30),
    "hangar": _digits(1, 20),
    "origin_hangar": _digits(1, 20),
    "engine_sequence": _engine_sequence,
    "fuel_quantity": lambda rng: str(100 * rng.randint(20, 180)),
    "airway": lambda rng: f"{rng.choice(_CHART_LETTERS)}{rng.randint(1, 999)}",
    "traffic": _words(_TRAFFIC),
    "destination": _words(NAMES[:2]),
    "departure": _departure,
}
