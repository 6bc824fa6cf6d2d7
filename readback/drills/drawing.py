"""The values of a drill drawn for one run."""

import random
from collections.abc import Iterable, Mapping

from readback.drills.model import DrillValue
from readback.errors import GrammarError
from readback.phraseology.grammar import Grammar
from readback.phraseology.samples import random_callsign, random_value

_TRIES = 200


def draw_values(
    specs: Mapping[str, DrillValue], grammar: Grammar, rng: random.Random
) -> dict[str, str]:
    """Draw each value, in the order of the file, unlike those from which it must differ.

    Raises:
        GrammarError: Two values cannot differ as they must.
    """
    drawn: dict[str, str] = {}
    for name, spec in specs.items():
        taken = {drawn[other] for other in spec.unlike if other in drawn}
        taken |= {drawn[other] for other in drawn if name in specs[other].unlike}
        drawn[name] = _draw_unlike(name, spec, taken, grammar, rng)
    return drawn


def _draw_unlike(
    name: str, spec: DrillValue, taken: Iterable[str], grammar: Grammar, rng: random.Random
) -> str:
    for _ in range(_TRIES):
        value = _draw(spec, grammar, rng)
        if value not in taken:
            return value
    raise GrammarError(
        f"values.{name}: no value is unlike {', '.join(sorted(taken))}.", "Allow more values."
    )


def _draw(spec: DrillValue, grammar: Grammar, rng: random.Random) -> str:
    if spec.value is not None:
        return spec.value
    if spec.one_of:
        return rng.choice(spec.one_of)
    if spec.between:
        return str(rng.randint(*spec.between))
    return (
        random_callsign(rng)
        if spec.element == "callsign"
        else random_value(grammar, spec.element, rng)
    )
