"""``readback rules``: what an authority wants read back, each rule with its source."""

import argparse
import difflib
import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from readback.commands.terminal import Piece, Terminal, json_writer
from readback.errors import InputError

if TYPE_CHECKING:
    from readback.judging.rules import RuleBook
    from readback.phraseology.grammar import Grammar

NAME = "rules"
SUMMARY = "show what must be read back, and where that is published"
DESCRIPTION = (
    "Show what each call wants for an answer, and where that is published. CALL gives one call in"
    " full."
)
EXAMPLE = "readback rules --authority faa hold_short"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument(
        "call", nargs="?", metavar="CALL", help="one call, such as hold_short; all without it"
    )
    parser.add_argument(
        "--authority",
        default="icao",
        metavar="NAME",
        help="whose rules: icao (default), easa, faa or uk; all compares the four",
    )
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Show the rules; the status is 0."""
    from readback.judging.rules import AUTHORITIES, load_rules
    from readback.phraseology.grammar import load_grammar

    names = AUTHORITIES if arguments.authority == "all" else (arguments.authority,)
    books = [load_rules(name) for name in names]
    grammar = load_grammar()
    calls = [_known(arguments.call, grammar)] if arguments.call else list(grammar.calls)
    if arguments.json:
        content = [_as_json(book, grammar, calls, whole=not arguments.call) for book in books]
        json_writer()(json.dumps(content if len(content) > 1 else content[0], indent=2))
        return 0
    terminal = Terminal.of()
    for book in books:
        for line in _lines(book, grammar, calls, terminal, whole=not arguments.call):
            print(line)
    if arguments.call:
        for line in _ways_of_saying(grammar, calls[0], terminal):
            print(line)
    return 0


def _known(call: str, grammar: "Grammar") -> str:
    name = call.strip().lower().replace(" ", "_").replace("-", "_")
    if name in grammar.calls:
        return name
    near = difflib.get_close_matches(name, grammar.calls, 3)
    remedy = f"Did you mean {' or '.join(near)}?" if near else '"readback rules" lists them all.'
    raise InputError(f"{call!r} is no call.", remedy)


def _lines(
    book: "RuleBook", grammar: "Grammar", calls: list[str], terminal: Terminal, *, whole: bool
) -> Iterator[str]:
    yield from terminal.lines([Piece(book.title, "strong")])
    for name in calls:
        if whole:
            yield from terminal.lines(_brief(book, name), "  ", "      ")
        else:
            yield from _in_full(book, grammar, name, terminal)
    if whole:
        yield from terminal.lines([Piece("Ways of saying", "strong")])
        for item in book.wording:
            instead = f"; say {item.offer}" if item.offer and item.status != "accepted" else ""
            text = f"{item.words.upper()}: {item.status}{instead}. {item.says}"
            yield from terminal.lines([Piece(text)], "  ", "      ")


def _brief(book: "RuleBook", name: str) -> Iterator[Piece]:
    from readback.judging.reference import describe_answer

    rule = book.rule(name)
    yield Piece(f"{name}:", "strong")
    if rule is None:
        silence = book.silent.get(name)
        yield Piece(f"nothing. {silence.says}" if silence else "no rule.")
    else:
        yield Piece(f"{describe_answer(rule)} ({rule.severity}). {rule.says}")


def _in_full(book: "RuleBook", grammar: "Grammar", name: str, terminal: Terminal) -> Iterator[str]:
    from readback.judging.reference import elements_needed
    from readback.phraseology.readable import elements_in

    yield from terminal.lines(_brief(book, name), "  ", "      ")
    rule = book.rule(name)
    if rule is not None:
        for need, title in (("required", "must come back"), ("optional", "may be left out")):
            elements = elements_needed(rule, need, elements_in(grammar, name))
            if elements:
                text = f"{title}: {', '.join(elements)}"
                yield from terminal.lines([Piece(text)], "    ", "      ")
        if rule.standard:
            answer = f"; answer: {rule.standard_answer}" if rule.standard_answer else ""
            yield from terminal.lines([Piece(f"words: {rule.standard}{answer}")], "    ", "      ")
    yield from terminal.lines([Piece(f"source: {book.source(name)}")], "    ", "      ")


def _ways_of_saying(grammar: "Grammar", name: str, terminal: Terminal) -> Iterator[str]:
    from readback.phraseology.readable import readable_call

    yield from terminal.lines([Piece("Said", "strong")])
    for way in readable_call(grammar, name):
        yield from terminal.lines([Piece(way)], "  ", "      ")


def _as_json(
    book: "RuleBook", grammar: "Grammar", calls: list[str], *, whole: bool
) -> dict[str, Any]:
    content: dict[str, Any] = {
        "authority": book.authority,
        "title": book.title,
        "calls": [_call_as_json(book, grammar, name) for name in calls],
    }
    if whole:
        content["wording"] = [item.model_dump(mode="json") for item in book.wording]
    return content


def _call_as_json(book: "RuleBook", grammar: "Grammar", name: str) -> dict[str, Any]:
    from readback.phraseology.readable import elements_in, readable_call

    rule, silence = book.rule(name), book.silent.get(name)
    content: dict[str, Any] = {"call": name, "family": grammar.calls[name].family}
    if rule is not None:
        unused = {"source"} if rule.answer == "acknowledge" else {"source", "acknowledged_by"}
        content |= rule.model_dump(mode="json", exclude=unused)
    else:
        content |= {"answer": "none", "says": silence.says if silence else None}
    content["can_carry"] = elements_in(grammar, name)
    content["said"] = readable_call(grammar, name)
    content["source"] = book.source(name)
    content["seen"] = book.how_seen(name)
    return content
