"""The forms in which values are said, as far as the grammar has them."""

from collections.abc import Iterator
from functools import lru_cache
from itertools import product

from readback.phraseology import jsgf
from readback.phraseology.callsigns import spoken_forms
from readback.phraseology.grammar import UNKNOWN, Grammar
from readback.phraseology.jsgf import Alternatives, Expansion, Reference, Repeat, Tagged, Token
from readback.phraseology.values import KINDS, same_value, speak_value

_WRITTEN = "written_"
NAMES = ("brackwater", "quillford", "zennorby", "osmundvik")
"""Invented names for the words that the grammar leaves open; no word of it is near them."""


@lru_cache(maxsize=65536)
def value_forms(grammar: Grammar, rule: str, value: str, authority: str) -> tuple[str, ...]:
    """List the ways in which a rule of an element says a value; empty where it cannot.

    Raises:
        InputError: The value has not the kind's shape.
    """
    kind = grammar.kind_of(rule)
    forms = list(_tagged_forms(grammar, grammar.elements[rule], value))
    if not forms:
        forms += speak_value(kind, value, authority) if kind in KINDS else (value,)
    if kind == "frequency":
        forms += [form.replace(" decimal ", " ") for form in forms if " decimal " in form]
    return tuple(form for form in forms if _says(grammar, rule, tuple(form.split()), value))


@lru_cache(maxsize=4096)
def callsign_forms(grammar: Grammar, callsign: str, authority: str) -> tuple[str, ...]:
    """List the ways in which a full callsign is said, the authority's standard form first."""
    forms = [" ".join(spoken_forms(callsign)[0])]
    name, _, number = callsign.rpartition(" ")
    if name and number.isdecimal():
        numbers = speak_value("callsign_number", number, authority)
        forms = [f"{name.lower()} {form}" for form in numbers] + forms
    return tuple(form for form in dict.fromkeys(forms) if _is_call(grammar, "callsign", form))


def is_sayable(part: Reference) -> bool:
    """Tell whether a rule may be said: placeholders of printed examples are only written."""
    return part.name != "VOID" and not part.name.rpartition(".")[2].startswith(_WRITTEN)


def _says(grammar: Grammar, rule: str, words: tuple[str, ...], value: str) -> bool:
    if not grammar.is_element(rule, words):
        return False
    kind, read = grammar.element_value(rule, words)
    return read == value or (kind in KINDS and same_value(kind, read, value))


def _tagged_forms(grammar: Grammar, part: Expansion, tag: str) -> Iterator[str]:
    """Say the parts that bear a tag in every way."""
    if isinstance(part, Tagged):
        if part.tag == tag:
            yield from (" ".join(words) for words in _sayings(grammar, part.part))
    elif isinstance(part, Reference):
        if part.name != UNKNOWN and is_sayable(part):
            yield from _tagged_forms(grammar, grammar.rule(part.name), tag)
    elif isinstance(part, Repeat):
        yield from _tagged_forms(grammar, part.part, tag)
    elif not isinstance(part, Token):
        for child in part.parts:
            yield from _tagged_forms(grammar, child, tag)


def _sayings(grammar: Grammar, part: Expansion) -> Iterator[tuple[str, ...]]:
    if isinstance(part, Token):
        yield (part.word,)
    elif isinstance(part, Reference):
        if part.name == UNKNOWN:
            yield (NAMES[0],)
        elif is_sayable(part):
            yield from _sayings(grammar, grammar.rule(part.name))
    elif isinstance(part, Alternatives):
        for child in part.parts:
            yield from _sayings(grammar, child)
    elif isinstance(part, jsgf.Sequence):
        for said in product(*(tuple(_sayings(grammar, child)) for child in part.parts)):
            yield tuple(word for words in said for word in words)
    else:
        if isinstance(part, Repeat) and part.least == 0:
            yield ()
        yield from _sayings(grammar, part.part)


def _is_call(grammar: Grammar, call_name: str, form: str) -> bool:
    words = form.split()
    found = grammar.matches(grammar.signs(words), 0)
    return any(end == len(words) and call_name in names for end, names in found)
