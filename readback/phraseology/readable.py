"""The grammar's rules written as people read them: words in capitals, elements as blanks."""

from collections.abc import Callable

from readback.phraseology import jsgf
from readback.phraseology.grammar import UNKNOWN, Grammar, element_name
from readback.phraseology.jsgf import Alternatives, Expansion, Reference, Repeat, Tagged, Token

_KEPT = {
    "digit": "digit",
    "letter_word": "letter",
    "side_word": "left, right or centre",
    "grouped_pair": "number in group form",
    "teen": "ten to nineteen",
    "tens": "twenty to ninety",
    "direction_word": "compass direction",
    "flight_number": "flight number",
    "operator": "operator",
    UNKNOWN: "any name",
}
"""Rules that stand for a kind of word: named, not written out."""
_TYPED_ONLY = "written_"
_MOST_WAYS = 6
"""A shared rule with more ways is named in a call and written out once, by `shared_rules`."""


def angled(name: str) -> str:
    """Write a blank as JSGF does: ``<runway>``."""
    return f"<{name}>"


def readable_call(grammar: Grammar, name: str, blank: Callable[[str], str] = angled) -> list[str]:
    """Write what is said for a call.

    Args:
        grammar: Where the call stands.
        name: The call.
        blank: How an element is shown.

    Returns:
        One line for each way of saying it: what may be left out in square brackets, a choice in
        round ones.
    """
    return _lines(grammar, grammar.calls[name].expansion, blank)


def readable_element(
    grammar: Grammar, rule_name: str, blank: Callable[[str], str] = angled
) -> list[str]:
    """Write what is said for an element; see `readable_call`."""
    return _lines(grammar, grammar.elements[rule_name], blank)


def elements_in(grammar: Grammar, name: str) -> tuple[str, ...]:
    """Name the elements that a call can carry, in the order written."""
    found: dict[str, None] = {}

    def visit(part: Expansion) -> None:
        if isinstance(part, Reference):
            if _is_element(grammar, part.name):
                found.setdefault(element_name(part.name.rpartition(".")[2]))
            elif part.name not in (UNKNOWN, "VOID"):
                visit(grammar.rule(part.name))
        elif isinstance(part, jsgf.Sequence | Alternatives):
            for child in part.parts:
                visit(child)
        elif isinstance(part, Repeat | Tagged):
            visit(part.part)

    visit(grammar.calls[name].expansion)
    return tuple(found)


def shared_rules(grammar: Grammar, blank: Callable[[str], str] = angled) -> dict[str, list[str]]:
    """Write the rules that calls name instead of writing them out: name to its ways of saying."""
    found: dict[str, list[str]] = {}

    def visit(part: Expansion) -> None:
        if isinstance(part, Reference):
            name = part.name.rpartition(".")[2]
            if name in _KEPT or _is_left_out(part.name) or _is_element(grammar, part.name):
                return
            if _is_long(grammar, part.name):
                found[name.replace("_", " ")] = _lines(grammar, grammar.rule(part.name), blank)
            visit(grammar.rule(part.name))
        elif isinstance(part, jsgf.Sequence | Alternatives):
            for child in part.parts:
                visit(child)
        elif isinstance(part, Repeat | Tagged):
            visit(part.part)

    for call in grammar.calls.values():
        visit(call.expansion)
    return found


def _is_left_out(qualified: str) -> bool:
    return qualified == "VOID" or qualified.rpartition(".")[2].startswith(_TYPED_ONLY)


def _is_long(grammar: Grammar, qualified: str) -> bool:
    rule = grammar.rule(qualified)
    return isinstance(rule, Alternatives) and len(rule.parts) > _MOST_WAYS


def _is_element(grammar: Grammar, qualified: str) -> bool:
    file, _, name = qualified.rpartition(".")
    return file == "elements" and name in grammar.elements


def _lines(grammar: Grammar, part: Expansion, blank: Callable[[str], str]) -> list[str]:
    ways = part.parts if isinstance(part, Alternatives) else (part,)
    lines = [_text(grammar, way, blank) for way in ways]
    return list(dict.fromkeys(line for line in lines if line))


def _text(grammar: Grammar, part: Expansion, blank: Callable[[str], str]) -> str | None:
    """Write one part; None for what is only ever typed."""
    if isinstance(part, Token):
        return part.word.upper()
    if isinstance(part, Reference):
        return _reference(grammar, part.name, blank)
    if isinstance(part, jsgf.Sequence):
        parts = [_text(grammar, child, blank) for child in part.parts]
        return None if None in parts else " ".join(text for text in parts if text)
    if isinstance(part, Alternatives):
        ways = _lines(grammar, part, blank)
        return (f"({' / '.join(ways)})" if len(ways) > 1 else ways[0]) if ways else None
    inner = _text(grammar, part.part, blank)
    if isinstance(part, Tagged):
        return inner
    if not inner:
        return None if part.least else ""
    bare = _without_brackets(inner)
    if part.once:
        return f"[{bare}]"
    return f"[{bare}] …" if part.least == 0 else f"{inner} …"


def _reference(grammar: Grammar, qualified: str, blank: Callable[[str], str]) -> str | None:
    name = qualified.rpartition(".")[2]
    if _is_left_out(qualified):
        return None
    if name in _KEPT:
        return blank(_KEPT[name])
    if _is_element(grammar, qualified):
        return blank(element_name(name).replace("_", " "))
    if _is_long(grammar, qualified):
        return blank(name.replace("_", " "))
    return _text(grammar, grammar.rule(qualified), blank)


def _without_brackets(text: str) -> str:
    """Take off round brackets that hold the whole text."""
    if not text.startswith("("):
        return text
    depth = 0
    for at, sign in enumerate(text):
        depth += (sign == "(") - (sign == ")")
        if depth == 0:
            return text[1:-1] if at == len(text) - 1 else text
    return text
