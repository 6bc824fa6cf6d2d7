"""Local wording: an operator's own grammar, rules and lexicon files in one directory.

Everything is checked when loaded, so that a mistake is told with its file and line instead of a
call that is never found or never judged.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from readback.errors import GrammarError, InputError
from readback.judging.rules import AUTHORITIES, RuleBook, RuleFile, load_rule_file, load_rules
from readback.judging.yaml_text import YamlText, load_yaml
from readback.phraseology import jsgf
from readback.phraseology.generator import element_sets
from readback.phraseology.grammar import Grammar, element_name, load_grammar
from readback.phraseology.jsgf import GrammarFile, Rule, words_of
from readback.phraseology.lexicon import load_lexicon, load_lexicons
from readback.phraseology.names import load_names
from readback.phraseology.words import canonical_words

_ELEMENTS = "elements"
_COMPARED = ("readback", "acknowledge")
_KINDS = {
    ".jsgf": "grammars",
    ".yaml": "rules",
    ".yml": "rules",
    ".dict": "lexicons",
    ".names": "names",
}
_WHAT_TO_PUT_THERE = "Put *.jsgf, *.yaml, *.dict, *.names files there; see docs/local_wording.md."


@dataclass(frozen=True)
class LocalWording:
    """The files of a directory, checked, in the order in which they are to be read."""

    grammars: tuple[Path, ...] = ()
    """JSGF files, those with elements first."""
    rules: tuple[Path, ...] = ()
    lexicons: tuple[Path, ...] = ()
    names: tuple[Path, ...] = ()
    """Lists of names that are listened for where the grammar takes any word."""

    def require_pronunciations(self) -> None:
        """Check that every word can be listened for; typed checks need none of it.

        Raises:
            GrammarError: A word has no pronunciation; names file, line and word.
        """
        lexicon = load_lexicons(self.lexicons)
        for _, file in _grammar_files(self.grammars):
            for rule in file.rules:
                missing = sorted({*words_of(rule.expansion)} - lexicon.keys())
                if missing and not rule.name.startswith("written_"):
                    raise GrammarError(
                        f"{_place(file, rule)}: <{rule.name}>: no pronunciation for"
                        f" {', '.join(missing)}.",
                        "Add a line 'word PH PH ...' (ARPABET) for each to a .dict file beside it.",
                    )


def load_local(directory: Path) -> LocalWording:
    """Find an operator's files in a directory and check them.

    Args:
        directory: Holds any of ``*.jsgf`` (calls and elements), ``*.yaml`` (rules and wording),
            ``*.dict`` (pronunciations) and ``*.names`` (a name a line, to be listened for). Other
            files and hidden ones do not count.

    Raises:
        InputError: There is no such directory, or none of these files in it.
        GrammarError: A file is wrong; the message names file, line and what is wrong.
    """
    found = _find(directory)
    grammar_files = sorted(
        _grammar_files(found["grammars"]), key=lambda item: item[1].name != _ELEMENTS
    )
    for path in found["lexicons"]:
        load_lexicon(path)
    for path in found["names"]:
        load_names(path)
    local = LocalWording(
        grammars=tuple(path for path, _ in grammar_files),
        rules=found["rules"],
        lexicons=found["lexicons"],
        names=found["names"],
    )
    files = [file for _, file in grammar_files]
    _check_words(files)
    _check_written_once(files)
    grammar = load_grammar(local.grammars)
    books = {name: load_rules(name, local.rules) for name in AUTHORITIES}
    for path in local.rules:
        _check_rules(load_rule_file(path), load_yaml(path), grammar)
    _check_ruled(files, books)
    return local


def _find(directory: Path) -> dict[str, tuple[Path, ...]]:
    try:
        paths = sorted(directory.iterdir())
    except FileNotFoundError as error:
        raise InputError(f"{directory}: no such directory.", _WHAT_TO_PUT_THERE) from error
    except NotADirectoryError as error:
        raise InputError(
            f"{directory}: is no directory.", "Give the directory that holds the files."
        ) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise InputError(f"{directory}: cannot be read ({why}).", "Give another one.") from error
    found: dict[str, list[Path]] = {kind: [] for kind in _KINDS.values()}
    for path in paths:
        kind = _KINDS.get(path.suffix.lower())
        if kind is not None and not path.name.startswith("."):
            found[kind].append(path)
    if not any(found.values()):
        raise InputError(f"{directory}: holds no local wording.", _WHAT_TO_PUT_THERE)
    return {kind: tuple(files) for kind, files in found.items()}


def _grammar_files(paths: Iterable[Path]) -> Iterator[tuple[Path, GrammarFile]]:
    return ((path, jsgf.load_jsgf(path)) for path in paths)


def _place(file: GrammarFile, rule: Rule) -> str:
    return f"{file.path}, line {rule.line}"


def _check_words(files: Iterable[GrammarFile]) -> None:
    """Find words that no transmission ever holds, since the grammar spells them another way."""
    for file in files:
        for rule in file.rules:
            for word in words_of(rule.expansion):
                canonical = canonical_words(word)
                if canonical != (word,):
                    instead = " ".join(canonical)
                    raise GrammarError(
                        f"{_place(file, rule)}: <{rule.name}>: {word!r} is never found.",
                        f"Write {instead!r}." if instead else "Leave it out.",
                    )


def _check_written_once(files: Iterable[GrammarFile]) -> None:
    public: dict[tuple[bool, str], str] = {}
    for file in files:
        for rule in file.rules:
            key = (file.name == _ELEMENTS, rule.name)
            if rule.public and key in public:
                raise GrammarError(
                    f"{_place(file, rule)}: <{rule.name}> is written in {public[key]} too.",
                    "Remove or rename one.",
                )
            if rule.public:
                public[key] = _place(file, rule)


def _check_ruled(files: Iterable[GrammarFile], books: dict[str, RuleBook]) -> None:
    """Find calls without rules: they would pass unjudged."""
    for file in files:
        for rule in file.rules if file.name != _ELEMENTS else ():
            for authority, book in books.items():
                if rule.public and rule.name not in book.calls and rule.name not in book.silent:
                    raise GrammarError(
                        f"{_place(file, rule)}: call <{rule.name}> has no rule under {authority}.",
                        "Add it to a .yaml file beside it, under calls or silent.",
                    )


def _check_rules(rules: RuleFile, text: YamlText, grammar: Grammar) -> None:
    if rules.base is not None:
        raise text.fail(("base",), "is not used in local rules", "Leave it out.")
    for place, name in _named_calls(rules):
        if name not in grammar.calls:
            raise text.fail(
                place, f"no grammar has a call {name!r}", "Mend the name, or write the call."
            )
    for call, rule in rules.calls.items():
        carried = {name for names in element_sets(grammar, call) for name in names} - {"callsign"}
        for name in rule.elements:
            if name not in carried:
                known = ", ".join(sorted(carried)) or "no element"
                raise text.fail(
                    ("calls", call, "elements", name),
                    f"the call does not carry it, but {known}",
                    "Mend the name.",
                )
        unsaid = sorted(carried - set(rule.elements)) if rule.answer in _COMPARED else []
        if unsaid:
            raise text.fail(
                ("calls", call, "elements"),
                f"says nothing of {', '.join(unsaid)}",
                "Say required, optional or free for each.",
            )
        known_elements = {element_name(name) for name in grammar.elements}
        for name in rule.reply_elements:
            if name not in known_elements:
                raise text.fail(
                    ("calls", call, "reply_elements"),
                    f"no grammar has an element {name!r}",
                    "Mend the name.",
                )


def _named_calls(rules: RuleFile) -> Iterator[tuple[tuple[str | int, ...], str]]:
    for call, rule in rules.calls.items():
        yield ("calls", call), call
        for field in ("answered_by", "acknowledged_by", "carried_by", "stands_for"):
            for at, name in enumerate(getattr(rule, field, None) or ()):
                yield ("calls", call, field, at), name
    for number, silence in enumerate(rules.silent):
        for at, name in enumerate(silence.calls):
            yield ("silent", number, "calls", at), name
