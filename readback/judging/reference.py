"""The phraseology reference: what is said for every call, and what each authority wants back.

``python -m readback.judging.reference FILE`` writes the page; with ``--check`` it only tells, with
exit status 1, that the page is stale.
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from readback.judging.rules import AUTHORITIES, CallRule, RuleBook, Silence, Wording, load_rules
from readback.phraseology.grammar import Grammar, element_name, load_grammar
from readback.phraseology.readable import (
    elements_in,
    readable_call,
    readable_element,
    shared_rules,
)

_SHORT = {"icao": "ICAO", "easa": "EU", "faa": "US", "uk": "UK"}
_FAMILIES = {
    "ground_control": "Ground-movement radio",
    "interphone": "Interphone",
    "standard_words": "Standard words",
    "callsigns": "Callsigns",
}
_SAID = {"okay": "OK", "callsign": "the callsign alone"}
_HEAD = """\
<!-- Made by `python -m readback.judging.reference docs/phraseology.md`; do not edit by hand. -->

# Phraseology reference

Training aid, not for operational use: local procedures, the aerodrome's charts and licensed
instructors come first.

Every call that readback understands: what is said for it, the elements it carries, what each
authority wants back, and where that is published. It is made from `grammars/*.jsgf` and
`grammars/rules/*.yaml`.

- Words in capitals are said; *words in italics* are elements, or kinds of words.
- [Square brackets] hold what may be left out, (round ones / with a stroke) a choice.
- **ICAO wording**: ICAO prints the words. **Published wording**: someone else prints them, named as
  the source. **Common practice**: nobody does, as far as we know. **No standard words**: none stand
  in the sources read, though the rule has its source.
- After a source stands how it was seen: `seen`, `seen (quoted)` in another public text, or
  `from memory`: check that before a claim rests on it.
- Vehicle drivers read back as pilots do; PROCEED stands for TAXI.
"""


def italic(name: str) -> str:
    """Write a blank as the page does."""
    return f"*{name}*"


def render_reference(grammar: Grammar, books: dict[str, RuleBook]) -> str:
    """Write the page.

    Args:
        grammar: The calls.
        books: Authority to its rules.

    Returns:
        Markdown, its last line ended.

    Raises:
        GrammarError: A call has no rule.
    """
    for book in books.values():
        book.refuse_unruled(grammar.calls)
    lines = [_HEAD]
    for family, title in _FAMILIES.items():
        lines += [f"## {title}", ""]
        for call in grammar.calls.values():
            if call.family == family:
                lines += _call(grammar, books, call.name)
    lines += ["## Shared words", ""]
    for name, ways in shared_rules(grammar, italic).items():
        lines += [f"- *{name}*: {' / '.join(ways)}"]
    lines += ["", "## Elements", ""]
    for name in dict.fromkeys(map(element_name, grammar.elements)):
        lines += [f"- *{name.replace('_', ' ')}*: {' / '.join(_ways_of(grammar, name))}"]
    lines += ["", *_wordings(books)]
    return "\n".join(lines).rstrip() + "\n"


def basis_of_words(rule: CallRule | Silence, source: str) -> str:
    """Tell whose words those of a call are; see the head of the page."""
    if source.startswith("common practice"):
        return "Common practice"
    if isinstance(rule, CallRule) and rule.standard is None:
        return "No standard words"
    return "ICAO wording" if source.startswith("ICAO") else "Published wording"


def describe_answer(rule: CallRule) -> str:
    """Say in a few words what a call wants: ``read back, or answered by stop``."""
    names = [name.replace("_", " ") for name in rule.answered_by]
    if rule.answer == "none":
        return "nothing"
    if rule.answer == "reply":
        return f"answered by {_or(names)}"
    parts = ["read back"] if rule.echo else []
    if names:
        parts.append(f"answered by {_or(names)}")
    if rule.answer == "acknowledge":
        by = [_SAID.get(name, name.replace("_", " ").upper()) for name in rule.acknowledged_by]
        parts.append(f"acknowledged ({_or(by)})")
    return ", or ".join(parts)


def elements_needed(rule: CallRule, need: str, carried: tuple[str, ...]) -> list[str]:
    """Name the elements of a call that a rule needs so, of those that the call can carry."""
    own = [name for name in carried if rule.elements.get(name, "free") == need]
    return own + (list(rule.reply_elements) if need == "required" else [])


def _call(grammar: Grammar, books: dict[str, RuleBook], name: str) -> Iterator[str]:
    ruled = books["icao"].rule(name) or books["icao"].silent[name]
    source = books["icao"].source(name) or ""
    yield f"### {name.replace('_', ' ')}"
    yield ""
    standard = "" if isinstance(ruled, Silence) else _standard(ruled)
    yield f"`{name}`. **{basis_of_words(ruled, source)}**{standard}"
    yield ""
    yield from (f"- {way}" for way in readable_call(grammar, name, italic))
    yield ""
    yield "| for | answer | must come back | may be left out | weight | rule and source |"
    yield "|---|---|---|---|---|---|"
    yield from _rows(books, name, elements_in(grammar, name))
    yield ""


def _standard(rule: CallRule) -> str:
    if rule.standard is None:
        return ""
    answer = f" → {rule.standard_answer}" if rule.standard_answer else ""
    return f": {rule.standard}{answer}"


def _rows(books: dict[str, RuleBook], name: str, carried: tuple[str, ...]) -> Iterator[str]:
    """One row for each different rule, the authorities that share it named together."""
    rows: dict[str, list[str]] = {}
    for authority, book in books.items():
        rule, source = book.rule(name), book.source(name)
        if rule is None:
            cells = ["nothing", "–", "–", "–", f"{book.silent[name].says} *{source}*"]
        else:
            needed = [
                ", ".join(elements_needed(rule, need, carried)).replace("_", " ") or "–"
                for need in ("required", "optional")
            ]
            says = f"{rule.says} *{source}*"
            cells = [describe_answer(rule), *needed, rule.severity.value, says]
        rows.setdefault(" | ".join(cells), []).append(_SHORT[authority])
    for row, authorities in rows.items():
        whose = "all" if len(authorities) == len(books) else ", ".join(authorities)
        yield f"| {whose} | {row} |"


def _ways_of(grammar: Grammar, name: str) -> list[str]:
    """Write an element with all its variants, and the values that it can be read as."""
    rules = [rule for rule in grammar.elements if element_name(rule) == name]
    ways = [way for rule in rules for way in readable_element(grammar, rule, italic)]
    tags = dict.fromkeys(tag for rule in rules for tag in grammar.tags_of(rule))
    return [*dict.fromkeys(ways), *([f"(read as {', '.join(tags)})"] if tags else [])]


def _wordings(books: dict[str, RuleBook]) -> Iterator[str]:
    yield "## Ways of saying"
    yield ""
    yield "Advice apart from the verdict. A way of saying that no row names is not judged."
    yield ""
    yield "| for | where | said | held to be | say instead | why and source |"
    yield "|---|---|---|---|---|---|"
    rows: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for words, row in _wordings_by_words(books):
        rows.setdefault(row, []).append(words.upper())
    for (text, authorities), said in rows.items():
        whose = "all" if len(authorities) == len(books) else ", ".join(authorities)
        where, rest = text.split(" | ", 1)
        yield f"| {whose} | {where} | {', '.join(said)} | {rest} |"


def _wordings_by_words(
    books: dict[str, RuleBook],
) -> Iterator[tuple[str, tuple[str, tuple[str, ...]]]]:
    """Give each wording with the rest of its row and the authorities that hold it so."""
    holders: dict[tuple[str, str], list[str]] = {}
    for authority, book in books.items():
        for item in book.wording:
            holders.setdefault((item.words, _wording(item)), []).append(_SHORT[authority])
    for (words, text), authorities in holders.items():
        yield words, (text, tuple(authorities))


def _wording(item: Wording) -> str:
    family = {"ground_control": "radio", "interphone": "interphone", None: "both"}[item.family]
    side = "" if item.where == "any" else f", {item.where}"
    why = f"{item.says} *{item.source}*"
    return f"{family}{side} | {item.status} | {item.offer or '–'} | {why}"


def _or(names: list[str]) -> str:
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def main(arguments: list[str] | None = None) -> int:
    """Write the page, or tell whether it is stale.

    Returns:
        0, or 1 where ``--check`` finds the page stale.
    """
    parser = argparse.ArgumentParser(description="Make the phraseology reference.")
    parser.add_argument("file", nargs="?", type=Path, default=Path("docs/phraseology.md"))
    parser.add_argument("--check", action="store_true", help="only tell whether it is stale")
    parsed = parser.parse_args(arguments)
    page = render_reference(load_grammar(), {name: load_rules(name) for name in AUTHORITIES})
    if not parsed.check:
        parsed.file.parent.mkdir(parents=True, exist_ok=True)
        parsed.file.write_text(page, encoding="utf-8", newline="\n")
        return 0
    if parsed.file.is_file() and parsed.file.read_text(encoding="utf-8") == page:
        return 0
    command = f"python -m readback.judging.reference {parsed.file}"
    print(f"{parsed.file} is stale: run {command}.", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
