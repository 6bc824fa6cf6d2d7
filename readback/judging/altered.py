"""Values as they are misheard: one digit, the side, the order, the state."""

from readback.judging.drafts import Draft
from readback.judging.scenarios import alike
from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.samples import OPERATORS, random_value

_SIDES = "LRC"
_LETTERS = "ABCDEFGHJKLMNPQRSTUVWYZ"


def other_digit(draft: Draft, name: str, value: str) -> str | None:
    """Change one digit; the value keeps its shape and is not taken for the first one."""
    places = [at for at, sign in enumerate(value) if sign.isdigit()]
    kind = draft.grammar.kind_of(name)
    for _ in range(20) if places else ():
        at = draft.rng.choice(places)
        altered = value[:at] + draft.rng.choice("0123456789") + value[at + 1 :]
        if not alike(kind, altered, value) and _may_be_heard(kind, altered, value):
            return altered
    return None


def _may_be_heard(kind: str, altered: str, value: str) -> bool:
    if kind == "frequency":
        # In the US the whole number of 121 may be left out, which hides what it was.
        same_band = altered[:3] == value[:3] or "121" not in (altered[:3], value[:3])
        return same_band and 118 <= int(altered[:3]) <= 136
    if kind == "runway":
        return 1 <= int(altered.rstrip(_SIDES)) <= 36
    return kind not in ("stand", "number") or altered[0] != "0"


def another_side(draft: Draft, name: str, value: str) -> str | None:
    """Say another side for that of a runway."""
    if value[-1] not in _SIDES:
        return None
    return value[:-1] + draft.rng.choice(_SIDES.replace(value[-1], ""))


def without_side(draft: Draft, name: str, value: str) -> str | None:
    """Leave the side of a runway out."""
    return value[:-1] if value[-1] in _SIDES else None


def another_value(draft: Draft, name: str, value: str) -> str | None:
    """Say any other value that the element can have."""
    kind = draft.grammar.kind_of(name)
    for _ in range(50):
        altered = random_value(draft.grammar, name, draft.rng)
        if not alike(kind, altered, value):
            return altered
    return None


def another_taxiway(draft: Draft, name: str, value: str) -> str | None:
    """Change one taxiway of a route."""
    taxiways = value.split()
    at = draft.rng.randrange(len(taxiways))
    for _ in range(20):
        letter = draft.rng.choice(_LETTERS)
        if all(letter != taxiway[0] for taxiway in taxiways):
            taxiways[at] = letter + taxiways[at][1:]
            return " ".join(taxiways)
    return None


def swapped(draft: Draft, name: str, value: str) -> str | None:
    """Swap two of several taxiways or engines."""
    parts = value.split()
    if len(parts) < 2:
        return None
    at = draft.rng.randrange(len(parts) - 1)
    parts[at], parts[at + 1] = parts[at + 1], parts[at]
    return " ".join(parts)


def shortened(draft: Draft, name: str, value: str) -> str | None:
    """Leave one of several taxiways out."""
    parts = value.split()
    if len(parts) < 2:
        return None
    del parts[draft.rng.randrange(len(parts))]
    return " ".join(parts)


def misheard_callsign(draft: Draft, callsign: str) -> str:
    """Change the operator, a digit or a letter of a callsign, past every short form of it."""
    while True:
        altered = _misheard(draft, callsign)
        if compare_callsigns(callsign, altered) == "other":
            return altered


def _misheard(draft: Draft, callsign: str) -> str:
    name, blank, number = callsign.rpartition(" ")
    if name in OPERATORS and draft.rng.random() < 0.3:
        return f"{draft.rng.choice(OPERATORS)} {number}"
    at = draft.rng.randrange(1 if blank == "" else 0, len(number))
    signs = "123456789" if number[at].isdigit() else _LETTERS
    if number[at] == "-":
        return callsign
    return f"{name}{blank}{number[:at]}{draft.rng.choice(signs)}{number[at + 1 :]}"
