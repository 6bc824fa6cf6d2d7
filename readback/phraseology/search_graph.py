"""The grammar as recognisers want it: one JSGF text, a word graph, a phrase list."""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from readback.phraseology import jsgf
from readback.phraseology.grammar import GRAMMAR_FILES, UNKNOWN, Grammar
from readback.phraseology.jsgf import (
    Alternatives,
    Expansion,
    Reference,
    Repeat,
    Tagged,
    Token,
)
from readback.phraseology.lexicon import require_pronunciations
from readback.phraseology.phrases import phrase_list
from readback.search import OTHER_NAME, Arc, SearchGrammar

_NEVER = Alternatives(())
_EVERY = "every_"
_WRITTEN = "written_"
_GROUPED = "grouped_"


def search_grammar(
    grammar: Grammar,
    top: Expansion,
    pronunciations: Mapping[str, tuple[str, ...]],
    grouped_numbers: bool = True,
    names: Mapping[str, tuple[str, ...]] | None = None,
) -> SearchGrammar:
    """Make what a recogniser is given.

    Args:
        grammar: The calls.
        top: The expansion of ``<transmission>``, references qualified.
        pronunciations: Of every word that can be said.
        grouped_numbers: Whether rules named ``grouped_...`` are kept.
        names: Names that are listened for where the grammar takes any word, each with its
            pronunciations, beside `OTHER_NAME`; None listens for no name, not even for that.

    Raises:
        GrammarError: A word has no pronunciation; names each.
    """
    whole = _spoken(top, grammar, grouped_numbers, _NEVER)
    heard = whole if names is None else _spoken(top, grammar, grouped_numbers, Token(OTHER_NAME))
    arcs, final = _Builder().build(heard)
    words = sorted({arc.word for arc in arcs if arc.word is not None} - {OTHER_NAME})
    require_pronunciations(words, pronunciations)
    own = {name: said for name, said in (names or {}).items() if name not in grammar.vocabulary}
    slots = [arc for arc in arcs if arc.word == OTHER_NAME]
    arcs += [Arc(arc.source, arc.target, name) for arc in slots for name in sorted(own)]
    return SearchGrammar(
        jsgf=_jsgf_text(whole),
        pronunciations={word: pronunciations[word] for word in words} | own,
        phrases=phrase_list(grammar, words),
        arcs=tuple(arcs),
        final_states=frozenset({final}),
    )


def _spoken(part: Expansion, grammar: Grammar, grouped: bool, name: Expansion) -> Expansion:
    """Write all rules out; drop tags and what is only ever typed; put a name for any one word."""
    if isinstance(part, Token):
        return part
    if isinstance(part, Reference):
        return _spoken_rule(part, grammar, grouped, name)
    if isinstance(part, Tagged):
        return _spoken(part.part, grammar, grouped, name)
    if isinstance(part, Repeat):
        inner = _spoken(part.part, grammar, grouped, name)
        if inner == _NEVER:
            return jsgf.Sequence(()) if part.least == 0 else _NEVER
        return Repeat(inner, part.least, part.once)
    children = [_spoken(child, grammar, grouped, name) for child in part.parts]
    if isinstance(part, Alternatives):
        return _alternatives(children)
    if _NEVER in children:
        return _NEVER
    return jsgf.Sequence(tuple(children))


def _spoken_rule(part: Reference, grammar: Grammar, grouped: bool, name: Expansion) -> Expansion:
    rule = part.name.rpartition(".")[2]
    if rule == UNKNOWN:
        return name
    if rule == "VOID" or rule.startswith(_WRITTEN):
        return _NEVER
    if rule.startswith(_GROUPED) and not grouped:
        return _NEVER
    if rule.startswith(_EVERY):
        family = rule.removeprefix(_EVERY)
        # New calls of an operator's own file are listened for everywhere.
        calls = [
            call.expansion
            for call in grammar.calls.values()
            if call.family == family or call.family not in GRAMMAR_FILES
        ]
        return _alternatives(_spoken(call, grammar, grouped, name) for call in calls)
    return _spoken(grammar.rule(part.name), grammar, grouped, name)


def _alternatives(parts: Iterable[Expansion]) -> Expansion:
    kept = tuple(dict.fromkeys(part for part in parts if part != _NEVER))
    return kept[0] if len(kept) == 1 else Alternatives(kept)


def _jsgf_text(whole: Expansion) -> str:
    return f"#JSGF V1.0;\n\ngrammar readback;\n\npublic <transmission> = {_text(whole)};\n"


def _text(part: Expansion) -> str:
    if isinstance(part, Token):
        return part.word
    if isinstance(part, jsgf.Sequence):
        return " ".join(_text(child) for child in part.parts) or "<NULL>"
    if isinstance(part, Alternatives):
        return "(" + " | ".join(_text(child) for child in part.parts) + ")"
    if isinstance(part, Repeat):
        if part.once:
            return f"[{_text(part.part)}]"
        return f"({_text(part.part)}){'*' if part.least == 0 else '+'}"
    raise TypeError(part)


class _Builder:
    """Builds the word graph: choices of calls are made deterministic and minimal, then joined."""

    def __init__(self) -> None:
        self._arcs: list[Arc] = []
        self._states = 0

    def build(self, whole: Expansion) -> tuple[list[Arc], int]:
        start, final = self._state(), self._state()
        self._wire(whole, start, final)
        return self._arcs, final

    def _state(self) -> int:
        self._states += 1
        return self._states - 1

    def _wire(self, part: Expansion, entry: int, leave: int) -> None:
        if not _loops_over_choices(part):
            self._unit(part, entry, leave)
        elif isinstance(part, jsgf.Sequence):
            here = entry
            for child in part.parts[:-1]:
                there = self._state()
                self._wire(child, here, there)
                here = there
            self._wire(part.parts[-1], here, leave)
        elif isinstance(part, Alternatives):
            for child in part.parts:
                self._wire(child, entry, leave)
        elif isinstance(part, Repeat):
            first, last = self._state(), self._state()
            self._wire(part.part, first, last)
            self._arcs.append(Arc(entry, first, None))
            self._arcs.append(Arc(last, leave, None))
            if part.least == 0:
                self._arcs.append(Arc(entry, leave, None))
            if not part.once:
                self._arcs.append(Arc(last, first, None))

    def _unit(self, part: Expansion, entry: int, leave: int) -> None:
        """Add one part as a minimal deterministic automaton between two states."""
        table, accepting = _minimal(part)
        numbers = {0: entry}
        for row in range(1, len(table)):
            numbers[row] = self._state()
        for row, steps in enumerate(table):
            for word, target in steps.items():
                self._arcs.append(Arc(numbers[row], numbers[target], word))
            if row in accepting:
                self._arcs.append(Arc(numbers[row], leave, None))


def _loops_over_choices(part: Expansion) -> bool:
    """Tell whether a part repeats a choice of many calls: that is wired, not written out."""
    if isinstance(part, Repeat):
        large = _size(part.part) > 400
        return (large and not part.once) or _loops_over_choices(part.part)
    if isinstance(part, jsgf.Sequence | Alternatives):
        return any(_loops_over_choices(child) for child in part.parts)
    return False


def _size(part: Expansion) -> int:
    if isinstance(part, Token):
        return 1
    if isinstance(part, jsgf.Sequence | Alternatives):
        return sum(_size(child) for child in part.parts)
    if isinstance(part, Repeat):
        return _size(part.part)
    return 0


def _minimal(part: Expansion) -> tuple[list[dict[str, int]], set[int]]:
    """Compile a part without large loops: row 0 is the start; rows are merged where equal."""
    steps: list[dict[str, list[int]]] = []
    silent: list[list[int]] = []

    def state() -> int:
        steps.append({})
        silent.append([])
        return len(steps) - 1

    def wire(item: Expansion, entry: int, leave: int) -> None:
        if isinstance(item, Token):
            steps[entry].setdefault(item.word, []).append(leave)
        elif isinstance(item, jsgf.Sequence):
            here = entry
            for child in item.parts:
                there = state()
                wire(child, here, there)
                here = there
            silent[here].append(leave)
        elif isinstance(item, Alternatives):
            for child in item.parts:
                wire(child, entry, leave)
        elif isinstance(item, Repeat):
            first, last = state(), state()
            wire(item.part, first, last)
            silent[entry].append(first)
            silent[last].append(leave)
            if item.least == 0:
                silent[entry].append(leave)
            if not item.once:
                silent[last].append(first)

    start, end = state(), state()
    wire(part, start, end)

    def closure(states: Iterable[int]) -> frozenset[int]:
        reached = set(states)
        waiting = list(reached)
        while waiting:
            for target in silent[waiting.pop()]:
                if target not in reached:
                    reached.add(target)
                    waiting.append(target)
        return frozenset(reached)

    sets = [closure([start])]
    numbers = {sets[0]: 0}
    table: list[dict[str, int]] = []
    for states in sets:
        targets: dict[str, set[int]] = defaultdict(set)
        for one in states:
            for word, following in steps[one].items():
                targets[word].update(following)
        row = {}
        for word, following_states in targets.items():
            closed = closure(following_states)
            if closed not in numbers:
                numbers[closed] = len(sets)
                sets.append(closed)
            row[word] = numbers[closed]
        table.append(row)
    accepting = {number for states, number in numbers.items() if end in states}
    return _merged(table, accepting)


def _merged(
    table: list[dict[str, int]], accepting: set[int]
) -> tuple[list[dict[str, int]], set[int]]:
    """Merge rows that go on alike (Moore's partition refinement)."""
    group = [int(row in accepting) for row in range(len(table))]
    count = len(set(group))
    while True:
        keys: dict[tuple[int, frozenset[tuple[str, int]]], int] = {}
        refined = []
        for row, steps in enumerate(table):
            key = (group[row], frozenset((word, group[to]) for word, to in steps.items()))
            refined.append(keys.setdefault(key, len(keys)))
        group = refined
        if len(keys) == count:
            break
        count = len(keys)
    # The start keeps number 0 because keys are numbered in the order of their first row.
    merged: list[dict[str, int]] = [{} for _ in range(count)]
    for row, steps in enumerate(table):
        merged[group[row]] = {word: group[to] for word, to in steps.items()}
    return merged, {group[row] for row in accepting}
