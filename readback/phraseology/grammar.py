"""The grammar: every call and element, compiled once for its four uses."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

from readback.data import data_directory
from readback.errors import GrammarError
from readback.phraseology import jsgf
from readback.phraseology.jsgf import (
    Alternatives,
    Expansion,
    GrammarFile,
    Reference,
    Repeat,
    Rule,
    Tagged,
    Token,
)
from readback.phraseology.values import KINDS, read_value
from readback.phraseology.words import ordinary_words
from readback.search import SearchGrammar

UNKNOWN = "unknown"
"""The rule that stands for any one word that no grammar file knows."""
_ELEMENT_GRAMMARS = ("elements",)
_TOP_GRAMMAR = "transmission"
_FIRST_SIGN = 0x4E00
UNKNOWN_SIGN = chr(_FIRST_SIGN)
_ORDINARY_SIGN = chr(_FIRST_SIGN - 1)
"""Stands for an ordinary English word: no rule takes it, not even `UNKNOWN`."""
_LONGEST_CALL = 48
"""Words of one call; a longer route is two, so that the cost of a parse stays linear."""
_MOST_STEPS = 400
"""Words walked from one start over all ways to take them; more are not tried."""


def element_name(rule_name: str) -> str:
    """Name the element of a rule: a variant's name is cut at the double underscore."""
    return rule_name.split("__", 1)[0]


@dataclass(frozen=True)
class CallRule:
    """A public rule of a grammar file other than the elements': one call."""

    name: str
    family: str
    expansion: Expansion


@dataclass
class _Automaton:
    """All calls as one automaton over word signs, made deterministic as it is walked."""

    steps: list[dict[str, list[int]]] = field(default_factory=list)
    silent: list[list[int]] = field(default_factory=list)
    accepts: dict[int, int] = field(default_factory=dict)
    rows: list[dict[str, int]] = field(default_factory=list)
    accepted: list[tuple[int, ...]] = field(default_factory=list)
    _sets: list[frozenset[int]] = field(default_factory=list)
    _numbers: dict[frozenset[int], int] = field(default_factory=dict)

    def state(self) -> int:
        self.steps.append({})
        self.silent.append([])
        return len(self.steps) - 1

    def start(self, entries: Sequence[int]) -> None:
        """Make row 0: the closure of the entries of all calls."""
        self._row(self._closure(entries))

    def _closure(self, states: Sequence[int]) -> frozenset[int]:
        reached = set(states)
        waiting = list(states)
        while waiting:
            for target in self.silent[waiting.pop()]:
                if target not in reached:
                    reached.add(target)
                    waiting.append(target)
        return frozenset(reached)

    def _row(self, states: frozenset[int]) -> int:
        number = self._numbers.get(states)
        if number is None:
            number = len(self.rows)
            self._numbers[states] = number
            self._sets.append(states)
            self.rows.append({})
            self.accepted.append(
                tuple(sorted({self.accepts[state] for state in states if state in self.accepts}))
            )
        return number

    def step(self, row: int, sign: str) -> int:
        """Walk one word; -1 where no call goes on with it."""
        found = self.rows[row].get(sign)
        if found is None:
            targets = [
                target for state in self._sets[row] for target in self.steps[state].get(sign, ())
            ]
            found = self._row(self._closure(targets)) if targets else -1
            self.rows[row][sign] = found
        return found


class Grammar:
    """The calls and elements of a set of grammar files.

    Args:
        files: Read in this order; a public rule of a later file replaces that of an earlier one.

    Raises:
        GrammarError: A rule that is used is nowhere written, refers to itself, or is an element
            and a call at once.
    """

    def __init__(self, files: Sequence[GrammarFile]) -> None:
        self._rules: dict[str, Rule] = {}
        self._home: dict[str, GrammarFile] = {}
        self.calls: dict[str, CallRule] = {}
        self.elements: dict[str, Expansion] = {}
        for file in files:
            self._add(file)
        self.vocabulary: dict[str, str] = {}
        self._check_references()
        self._signs = dict.fromkeys(ordinary_words(), _ORDINARY_SIGN) | self.vocabulary
        self._automaton = self._compile()
        self._call_names = tuple(self.calls)
        self._patterns: dict[str, tuple[re.Pattern[str], tuple[str, ...]]] = {}
        self._element_values: dict[tuple[str, tuple[str, ...]], tuple[str, str]] = {}

    # ---- loading -----------------------------------------------------------------------------

    def _add(self, file: GrammarFile) -> None:
        for rule in file.rules:
            qualified = f"{file.name}.{rule.name}"
            self._rules[qualified] = rule
            self._home[qualified] = file
            if not rule.public or file.name == _TOP_GRAMMAR:
                continue
            expansion = self._qualify(rule, file)
            if file.name in _ELEMENT_GRAMMARS:
                self.elements[rule.name] = expansion
            else:
                replaced = self.calls.pop(rule.name, None)
                # Other words for a call leave it where it is said: on the radio, on the headset.
                family = replaced.family if replaced else file.name
                self.calls[rule.name] = CallRule(rule.name, family, expansion)

    def _qualify(self, rule: Rule, file: GrammarFile) -> Expansion:
        """Give every reference its grammar's name: own rules first, then the imports."""
        # A call may bear the name of the element it carries (runway): the element is meant then.
        own = {rule.name: rule.public for rule in file.rules}

        def qualified(name: str) -> str:
            if "." in name or name in (UNKNOWN, "VOID") or name.startswith("every_"):
                return name
            if own.get(name) is False:
                return f"{file.name}.{name}"
            for imported in file.imports:
                grammar, _, rule_name = imported.rpartition(".")
                if rule_name in ("*", name) and f"{grammar}.{name}" in self._rules:
                    return f"{grammar}.{name}"
            if name in own:
                return f"{file.name}.{name}"
            raise _nowhere_written(name, rule, file)

        return _map_references(rule.expansion, qualified)

    @cache  # noqa: B019 - a grammar lives as long as the program
    def rule(self, qualified: str) -> Expansion:
        """The expansion of a rule, its references qualified."""
        rule = self._rules.get(qualified)
        if rule is None:
            raise GrammarError(f"rule <{qualified}> is used but nowhere written.", "Write it.")
        return self._qualify(rule, self._home[qualified])

    def _check_references(self) -> None:
        for qualified, rule in self._rules.items():
            for leaf in _leaves(rule.expansion):
                # A rule named in full may stand in a later file, so it is looked for only now.
                name = leaf.name if isinstance(leaf, Reference) else ""
                if "." in name and name not in self._rules:
                    raise _nowhere_written(name, rule, self._home[qualified])
        done: set[str] = set()

        def visit(expansion: Expansion, path: tuple[str, ...]) -> None:
            for leaf in _leaves(expansion):
                if isinstance(leaf, Token):
                    if leaf.word not in self.vocabulary:
                        sign = chr(_FIRST_SIGN + 1 + len(self.vocabulary))
                        self.vocabulary[leaf.word] = sign
                elif leaf.name not in (UNKNOWN, "VOID") and leaf.name not in done:
                    if leaf.name in path:
                        where = f"{self._home[leaf.name].path}, line {self._rules[leaf.name].line}"
                        raise GrammarError(
                            f"{where}: rule <{leaf.name}> refers to itself.",
                            "Write a repetition with * or + instead.",
                        )
                    visit(self.rule(leaf.name), (*path, leaf.name))
                    done.add(leaf.name)

        for element in self.elements.values():
            visit(element, ())
        for call in self.calls.values():
            visit(call.expansion, ())

    # ---- for recognisers -----------------------------------------------------------------------

    def search(
        self,
        lexicons: tuple[Path, ...] = (),
        *,
        grouped_numbers: bool = True,
        names: Mapping[str, tuple[str, ...]] | None = None,
    ) -> SearchGrammar:
        """Make what a recogniser is given: every transmission that may be heard.

        Args:
            grouped_numbers: Whether numbers in group form (twenty-seven) are listened for; an
                engine of weak acoustics takes them for digits said one by one.
            lexicons: An operator's own lexicon files.
            names: Names with their pronunciations, listened for where the grammar takes any word,
                beside `readback.search.OTHER_NAME`; None for an engine that cannot hear that.

        Raises:
            GrammarError: A word has no pronunciation; names it and says how to add it.
        """
        from readback.phraseology.lexicon import load_lexicons
        from readback.phraseology.search_graph import search_grammar

        top = self.rule(f"{_TOP_GRAMMAR}.{_TOP_GRAMMAR}")
        return search_grammar(self, top, load_lexicons(lexicons), grouped_numbers, names)

    # ---- recognising words as calls ------------------------------------------------------------

    def _compile(self) -> _Automaton:
        automaton = _Automaton()
        entries = []
        for number, call in enumerate(self.calls.values()):
            entry, leave = automaton.state(), automaton.state()
            self._wire(automaton, call.expansion, entry, leave)
            automaton.accepts[leave] = number
            entries.append(entry)
        automaton.start(entries)
        return automaton

    def _wire(self, automaton: _Automaton, part: Expansion, entry: int, leave: int) -> None:
        if isinstance(part, Token):
            automaton.steps[entry].setdefault(self.vocabulary[part.word], []).append(leave)
        elif isinstance(part, Reference):
            if part.name == UNKNOWN:
                automaton.steps[entry].setdefault(UNKNOWN_SIGN, []).append(leave)
            elif part.name != "VOID":
                self._wire(automaton, self.rule(part.name), entry, leave)
        elif isinstance(part, jsgf.Sequence):
            here = entry
            for child in part.parts:
                there = automaton.state()
                self._wire(automaton, child, here, there)
                here = there
            automaton.silent[here].append(leave)
        elif isinstance(part, Alternatives):
            for child in part.parts:
                self._wire(automaton, child, entry, leave)
        elif isinstance(part, Repeat):
            first, last = automaton.state(), automaton.state()
            self._wire(automaton, part.part, first, last)
            automaton.silent[entry].append(first)
            automaton.silent[last].append(leave)
            if part.least == 0:
                automaton.silent[entry].append(leave)
            if not part.once:
                automaton.silent[last].append(first)
        else:
            self._wire(automaton, part.part, entry, leave)

    def signs(self, words: Sequence[str]) -> str:
        """Encode words as one sign each, for `matches` and `elements_of`."""
        known = self._signs
        return "".join([known.get(word, UNKNOWN_SIGN) for word in words])

    def matches(self, signs: str, start: int) -> list[tuple[int, tuple[str, ...]]]:
        """Find the calls that begin at a word.

        Args:
            signs: The transmission from `signs`.
            start: Index of the first word.

        Returns:
            (end, names of the calls that are said by exactly ``signs[start:end]``), shortest first.
        """
        automaton = self._automaton
        rows, accepted, names = automaton.rows, automaton.accepted, self._call_names
        found = []
        row = 0
        for at in range(start, min(len(signs), start + _LONGEST_CALL)):
            following = rows[row].get(signs[at])
            if following is None:
                following = automaton.step(row, signs[at])
            if following < 0:
                break
            row = following
            if accepted[row]:
                found.append((at + 1, tuple([names[number] for number in accepted[row]])))
        return found

    def matches_taking(
        self, signs: str, start: int, options: Mapping[int, Mapping[str, object]]
    ) -> list[tuple[int, tuple[str, ...], str, tuple[int, ...]]]:
        """Find the calls that begin at a word, where some words may be taken for others.

        Args:
            signs: The transmission from `signs`.
            start: Index of the first word.
            options: Word -> the signs that it may be taken for beside its own.

        Returns:
            (end, names of the calls, signs as taken, words that were taken for another).
        """
        automaton = self._automaton
        found = []
        waiting: list[tuple[int, int, str, tuple[int, ...]]] = [(start, 0, "", ())]
        steps = 0
        stop = min(len(signs), start + _LONGEST_CALL)
        while waiting and steps < _MOST_STEPS:
            at, row, said, taken = waiting.pop()
            while at < stop:
                steps += 1
                for sign in options.get(at, ()):
                    other = automaton.step(row, sign)
                    if other >= 0:
                        said_so, taken_so = said + sign, (*taken, at)
                        waiting.append((at + 1, other, said_so, taken_so))
                        if names := self._accepted_names(other):
                            found.append((at + 1, names, said_so, taken_so))
                row = automaton.step(row, signs[at])
                if row < 0:
                    break
                said += signs[at]
                at += 1
                if names := self._accepted_names(row):
                    found.append((at, names, said, taken))
        return found

    def _accepted_names(self, row: int) -> tuple[str, ...]:
        return tuple([self._call_names[number] for number in self._automaton.accepted[row]])

    # ---- reading the elements of a call --------------------------------------------------------

    def elements_of(self, call_name: str, signs: str) -> list[tuple[str, int, int]]:
        """Find the elements in the words of one call.

        Args:
            call_name: A call that `matches` found for exactly these words.
            signs: The words of the call.

        Returns:
            (rule name of the element, start, end) in words of the call.
        """
        pattern, names = self._pattern(call_name)
        match = pattern.fullmatch(signs)
        if match is None:
            return []
        found = []
        for group, name in enumerate(names, start=1):
            start, end = match.span(group)
            if end > start:
                found.append((name, start, end))
        return sorted(found, key=lambda item: item[1])

    def _pattern(self, call_name: str) -> tuple[re.Pattern[str], tuple[str, ...]]:
        compiled = self._patterns.get(call_name)
        if compiled is None:
            names: list[str] = []
            source = self._regex(self.calls[call_name].expansion, names)
            compiled = (re.compile(source), tuple(names))
            self._patterns[call_name] = compiled
        return compiled

    def _regex(
        self, part: Expansion, elements: list[str] | None, tags: list[str] | None = None
    ) -> str:
        """Write an expansion as a regular expression over signs.

        Elements become groups, named in ``elements``; or tagged parts do, named in ``tags``.
        """
        if isinstance(part, Token):
            return self.vocabulary[part.word]
        if isinstance(part, Reference):
            if part.name == UNKNOWN:
                return UNKNOWN_SIGN
            if part.name == "VOID":
                return "(?!)"
            grammar, _, name = part.name.rpartition(".")
            if elements is not None and grammar in _ELEMENT_GRAMMARS and name in self.elements:
                elements.append(name)
                return f"({self._regex(self.elements[name], None)})"
            return self._regex(self.rule(part.name), elements, tags)
        if isinstance(part, jsgf.Sequence):
            return "".join(self._regex(child, elements, tags) for child in part.parts)
        if isinstance(part, Alternatives):
            if all(isinstance(child, Token) for child in part.parts):
                return (
                    "[" + "".join(self._regex(child, elements, tags) for child in part.parts) + "]"
                )
            return (
                "(?:" + "|".join(self._regex(child, elements, tags) for child in part.parts) + ")"
            )
        if isinstance(part, Repeat):
            inner = self._regex(part.part, elements, tags)
            mark = "?" if part.once else "*" if part.least == 0 else "+"
            return f"(?:{inner}){mark}"
        if tags is None:
            return self._regex(part.part, elements)
        tags.append(part.tag)
        return f"({self._regex(part.part, elements, tags)})"

    def element_value(self, rule_name: str, words: tuple[str, ...]) -> tuple[str, str]:
        """Read the value of an element.

        Args:
            rule_name: The element's rule.
            words: The words it is said with.

        Returns:
            (kind, value): the tag of the alternative said where it has one; else read as the kind
            that a ``{:kind}`` tag or the rule's own name says; else the words themselves.
        """
        key = (rule_name, words)
        found = self._element_values.get(key)
        if found is None:
            found = self._read_element(rule_name, words)
            if len(self._element_values) > 100_000:
                self._element_values.clear()
            self._element_values[key] = found
        return found

    def is_element(self, rule_name: str, words: Sequence[str]) -> bool:
        """Tell whether an element can be said by exactly these words."""
        return self._tagged(rule_name)[0].fullmatch(self.signs(words)) is not None

    def _read_element(self, rule_name: str, words: tuple[str, ...]) -> tuple[str, str]:
        kind = self.kind_of(rule_name)
        pattern, tags = self._tagged(rule_name)
        match = pattern.fullmatch(self.signs(words))
        if match is not None:
            for group, tag in enumerate(tags, start=1):
                if match.start(group) >= 0 and not tag.startswith(":"):
                    return kind, tag
        value = read_value(kind, words) if kind in KINDS else None
        return kind, value or " ".join(words)

    @cache  # noqa: B019 - a grammar lives as long as the program
    def kind_of(self, rule_name: str) -> str:
        """How an element's value is read: the ``{:kind}`` tag, or its name."""
        for tag in self._tagged(rule_name)[1]:
            if tag.startswith(":"):
                return tag[1:]
        return element_name(rule_name)

    @cache  # noqa: B019 - a grammar lives as long as the program
    def _tagged(self, rule_name: str) -> tuple[re.Pattern[str], tuple[str, ...]]:
        tags: list[str] = []
        source = self._regex(self.elements[rule_name], None, tags)
        return re.compile(source), tuple(tags)

    def tags_of(self, rule_name: str) -> tuple[str, ...]:
        """The values that an element's tags allow, in the order written; empty without tags."""
        tags = self._tagged(rule_name)[1]
        return tuple(dict.fromkeys(tag for tag in tags if not tag.startswith(":")))


def _nowhere_written(name: str, rule: Rule, file: GrammarFile) -> GrammarError:
    return GrammarError(
        f"{file.path}, line {rule.line}: rule <{name}> is used but nowhere written.",
        "Write it, or import the grammar that has it.",
    )


def _map_references(part: Expansion, rename: Callable[[str], str]) -> Expansion:
    if isinstance(part, Reference):
        return Reference(rename(part.name))
    if isinstance(part, jsgf.Sequence):
        return jsgf.Sequence(tuple(_map_references(child, rename) for child in part.parts))
    if isinstance(part, Alternatives):
        return Alternatives(tuple(_map_references(child, rename) for child in part.parts))
    if isinstance(part, Repeat):
        return Repeat(_map_references(part.part, rename), part.least, part.once)
    if isinstance(part, Tagged):
        return Tagged(_map_references(part.part, rename), part.tag)
    return part


def _leaves(part: Expansion) -> Iterator[Token | Reference]:
    if isinstance(part, Token | Reference):
        yield part
    elif isinstance(part, jsgf.Sequence | Alternatives):
        for child in part.parts:
            yield from _leaves(child)
    else:
        yield from _leaves(part.part)


GRAMMAR_FILES = (
    "elements",
    "callsigns",
    "standard_words",
    "ground_control",
    "interphone",
    "transmission",
)
"""The shipped grammar files, in the order read."""


@lru_cache(maxsize=8)
def load_grammar(local: tuple[Path, ...] = ()) -> Grammar:
    """Load the shipped grammar and an operator's own files.

    Args:
        local: JSGF files of local wording, read after the shipped ones.

    Raises:
        GrammarError: A file is wrong; the message names file, line and rule.
    """
    directory = data_directory("grammars")
    paths = [directory / f"{name}.jsgf" for name in GRAMMAR_FILES]
    return Grammar([jsgf.load_jsgf(path) for path in [*paths, *local]])
