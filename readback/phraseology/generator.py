"""The generator: words for a call with given values, drawn at random from the grammar."""

import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import TypeVar

from readback.errors import InputError
from readback.phraseology import jsgf
from readback.phraseology.forms import NAMES, callsign_forms, is_sayable, value_forms
from readback.phraseology.grammar import UNKNOWN, Grammar, element_name
from readback.phraseology.jsgf import Alternatives, Expansion, Reference, Repeat, Token
from readback.phraseology.model import Call
from readback.phraseology.spelling import DIGITS

Wanted = frozenset[str]
"""Names of the elements that words have to carry."""
_REPEAT_CHANCE = 0.3
_DETERMINERS = frozenset({"the", "my", "your"})
_NO_NOUNS = frozenset({"at", "on", "via"}) | frozenset(DIGITS)
"""Words that begin none of what a determiner may stand before."""
_Item = TypeVar("_Item")


def say_call(
    grammar: Grammar,
    call_name: str,
    values: Mapping[str, str],
    rng: random.Random,
    authority: str = "icao",
) -> list[str]:
    """Say one call with exactly these elements, everything else of its rule at random.

    Args:
        grammar: Whose call it is.
        call_name: The call's rule: ``"hold_short"``.
        values: Element -> value as a chart writes it: ``{"runway": "27L"}``.
        rng: The only source of chance: equal seeds give equal words.
        authority: In whose way values are said.

    Returns:
        The grammar's words.

    Raises:
        InputError: There is no such call, a value has not its kind's shape, or no wording of the
            call carries exactly these elements.
    """
    if call_name not in grammar.calls:
        raise InputError(f"No call {call_name!r}.", "Use a public rule of a grammar file.")
    if call_name == "callsign":
        forms = callsign_forms(grammar, values.get("callsign", ""), authority)
        words = rng.choice(forms).split() if forms else None
    else:
        spoken = _Sayer(grammar, values, rng, authority)
        words = spoken.say(grammar.calls[call_name].expansion, frozenset(values))
    if words is None:
        carried = ", ".join(f"{name} {value}" for name, value in values.items()) or "no element"
        raise InputError(
            f"No wording of {call_name} carries exactly {carried}.",
            "Use one of the sets that element_sets gives.",
        )
    return _without_stray(words)


def _without_stray(words: list[str]) -> list[str]:
    """Leave out THE and TO whose noun was left out: the grammar has both as optional."""
    kept: list[str] = []
    for word in reversed(words):
        after = kept[-1] if kept else None
        stray = word in _DETERMINERS and (after is None or after in _NO_NOUNS)
        if not stray and not (word == "to" and after is None):
            kept.append(word)
    return kept[::-1]


def say_calls(
    grammar: Grammar, calls: Iterable[Call], rng: random.Random, authority: str = "icao"
) -> str:
    """Say parsed calls one after the other, in any wording that has their elements.

    Raises:
        InputError: See `say_call`.
    """
    said = [
        say_call(grammar, call.name, {e.name: e.value for e in call.elements}, rng, authority)
        for call in calls
    ]
    return " ".join(word for words in said for word in words)


def element_sets(grammar: Grammar, call_name: str) -> tuple[tuple[str, ...], ...]:
    """List the sets of elements that a call can carry, each sorted, the smallest first."""
    if call_name == "callsign":
        return (("callsign",),)
    sets = _carriers(grammar).sets(grammar.calls[call_name].expansion)
    return tuple(sorted((tuple(sorted(names)) for names in sets), key=lambda n: (len(n), n)))


@lru_cache(maxsize=1024)
def element_rules(grammar: Grammar, element: str) -> tuple[str, ...]:
    """List the rules of an element: its own and its variants'."""
    return tuple(rule for rule in grammar.elements if element_name(rule) == element)


class _Carriers:
    """Which elements the parts of a grammar can carry, worked out once a part."""

    def __init__(self, grammar: Grammar) -> None:
        self._grammar = grammar
        self._sets: dict[int, frozenset[Wanted]] = {}

    def sets(self, part: Expansion) -> frozenset[Wanted]:
        found = self._sets.get(id(part))
        if found is None:
            found = self._sets[id(part)] = frozenset(self._find(part))
        return found

    def _find(self, part: Expansion) -> Iterator[Wanted]:
        if isinstance(part, Token):
            yield frozenset()
        elif isinstance(part, Reference):
            if element := _element_of(part, self._grammar):
                yield frozenset({element_name(element)})
            elif part.name == UNKNOWN:
                yield frozenset()
            elif is_sayable(part):
                yield from self.sets(self._grammar.rule(part.name))
        elif isinstance(part, jsgf.Sequence):
            joined: set[Wanted] = {frozenset()}
            for child in part.parts:
                joined = {a | b for a in joined for b in self.sets(child) if not a & b}
            yield from joined
        elif isinstance(part, Alternatives):
            for child in part.parts:
                yield from self.sets(child)
        else:
            if isinstance(part, Repeat) and part.least == 0:
                yield frozenset()
            yield from self.sets(part.part)


@lru_cache(maxsize=8)
def _carriers(grammar: Grammar) -> _Carriers:
    return _Carriers(grammar)


def _element_of(part: Reference, grammar: Grammar) -> str | None:
    file, _, name = part.name.rpartition(".")
    return name if file == "elements" and name in grammar.elements else None


class _Sayer:
    """Says parts of one call; None where a part cannot be said with what is wanted of it."""

    def __init__(
        self, grammar: Grammar, values: Mapping[str, str], rng: random.Random, authority: str
    ) -> None:
        self._grammar = grammar
        self._carriers = _carriers(grammar)
        self._values = values
        self._rng = rng
        self._authority = authority

    def say(self, part: Expansion, wanted: Wanted) -> list[str] | None:
        if wanted not in self._carriers.sets(part):
            return None
        if isinstance(part, Token):
            return [part.word]
        if isinstance(part, Reference):
            return self._say_reference(part, wanted)
        if isinstance(part, jsgf.Sequence):
            return self._say_sequence(part.parts, wanted)
        if isinstance(part, Alternatives):
            said = (self.say(child, wanted) for child in self._shuffled(part.parts))
            return next((words for words in said if words is not None), None)
        if isinstance(part, Repeat):
            return self._say_repeat(part, wanted)
        return self.say(part.part, wanted)

    def _say_reference(self, part: Reference, wanted: Wanted) -> list[str] | None:
        if part.name == UNKNOWN:
            return [self._rng.choice(NAMES)]
        element = _element_of(part, self._grammar)
        if element is None:
            return self.say(self._grammar.rule(part.name), wanted)
        value = self._values[element_name(element)]
        forms = value_forms(self._grammar, element, value, self._authority)
        return self._rng.choice(forms).split() if forms else None

    def _say_sequence(self, parts: Sequence[Expansion], wanted: Wanted) -> list[str] | None:
        if not parts:
            return None if wanted else []
        head, tail = parts[0], parts[1:]
        options = [names for names in self._carriers.sets(head) if names <= wanted]
        if len(options) > 1:
            options = self._shuffled(sorted(options, key=sorted))
        for names in options:
            first = self.say(head, names)
            rest = self._say_sequence(tail, wanted - names) if first is not None else None
            if first is not None and rest is not None:
                return first + rest
        return None

    def _say_repeat(self, part: Repeat, wanted: Wanted) -> list[str] | None:
        if part.least == 0 and not wanted and self._rng.random() < 0.5:
            return []
        words = self.say(part.part, wanted)
        if words is None:
            return None if wanted or part.least else []
        while not part.once and self._rng.random() < _REPEAT_CHANCE:
            words += self.say(part.part, frozenset()) or []
        return words

    def _shuffled(self, items: Sequence[_Item]) -> list[_Item]:
        shuffled = list(items)
        if len(shuffled) > 1:
            self._rng.shuffle(shuffled)
        return shuffled
