"""How well what was said fits what was due."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from readback.drills.dues import Due, Expected
from readback.judging.compare import same_element
from readback.judging.hearing import TALK
from readback.judging.items import Item, join_items
from readback.judging.rules import RuleBook
from readback.judging.weighing import Meaning
from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.generator import element_rules
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Call, Element, Reading
from readback.phraseology.words import canonical_tokens
from readback.transmission import Transmission

SLIGHT = TALK | {"callsign", "confirm", "i_say_again", "acknowledge"}
"""Calls that tell no transmission from another."""
_ACKNOWLEDGING = frozenset({"roger", "wilco", "affirm", "okay"})
_DEFERRING = frozenset({"say_again", "stand_by"})
_ANSWERING = _ACKNOWLEDGING | _DEFERRING | {"negative", "unable"}
_BARE = frozenset({"callsign"})
_OTHER_STATION = 0.5
FITS = 0.45
"""The least score with which a transmission is taken for what is due; our choice, as are the
weights of `Fitting.score`."""


@dataclass
class Heard:
    """One transmission, parsed."""

    station: str | None
    reading: Reading
    signal: str | None = None
    items: list[Item] = field(default_factory=list)
    transmission: Transmission = field(default_factory=Transmission)
    """As it was heard; tells the channel."""
    meanings: tuple[Meaning, ...] = ()
    """Of all its readings, ``reading`` the best; empty where the sound has but one."""

    @property
    def text(self) -> str:
        """What was said."""
        return self.reading.text

    @property
    def callsign(self) -> str | None:
        """The first callsign; None without one."""
        for call in self.reading.calls:
            if call.name == "callsign":
                return call.elements[0].value
        return None

    @property
    def only_acknowledges(self) -> bool:
        """Tell ROGER and its like, with the callsign or without, from all else."""
        return bool(self.names) and self.names <= _ACKNOWLEDGING | {"callsign"}

    @cached_property
    def names(self) -> frozenset[str]:
        """What was said, apart from talk."""
        return frozenset(call.name for call in self.reading.calls) - TALK

    @cached_property
    def item_names(self) -> frozenset[str]:
        """The names of the items."""
        return frozenset(item.name for item in self.items)

    @cached_property
    def may_answer(self) -> bool:
        """Whether it may answer anything, in whatever words: ROGER, NEGATIVE, the callsign."""
        return self.names <= _BARE or not self.names.isdisjoint(_ANSWERING)


class Fitting:
    """Scores with the rules of one authority.

    Args:
        grammar: Tells the kinds of elements.
        rules: Tell which calls stand for others, and how much a finding weighs.
    """

    def __init__(self, grammar: Grammar, rules: RuleBook) -> None:
        self._grammar = grammar
        self.rules = rules
        self._fitting: dict[int, tuple[Due, frozenset[str]]] = {}
        self._taken_apart: dict[int, tuple[Sequence[Expected], Sequence[Expected]]] = {}

    def hear(self, station: str | None, reading: Reading, signal: str | None) -> Heard:
        """Join the calls of a transmission for comparing."""
        calls = [call for call in reading.calls if call.name not in SLIGHT]
        return Heard(station, reading, signal, join_items(calls, self.rules))

    # ---- how well it fits ----------------------------------------------------------------------

    def score(self, due: Due, heard: Heard, *, asked: Due | None = None) -> float:
        """Tell how well a transmission fits what is due.

        Args:
            due: What is due.
            heard: What was said.
            asked: What it is to answer; None for a call.

        Returns:
            1.5 where every call and value is there and nothing else, less for what is missing,
            different or added, and where another station said it; 0 or less where nothing fits.
        """
        if due.signal is not None or heard.signal is not None:
            base = 1.5 if due.signal == heard.signal else 0.0
        elif not self._may_fit(due, heard, asked):
            return 0.0
        else:
            base = self._agreement(due.say, heard)
            if asked is not None and base < FITS:
                base = max(base, self._as_answer(asked, heard))
        if base <= 0:
            return base
        if heard.station is not None and heard.station != due.station:
            base -= _OTHER_STATION
        if due.callsign is not None and heard.callsign is not None:
            base += 0.1 if compare_callsigns(due.callsign, heard.callsign) != "other" else -0.6
        return base

    def _may_fit(self, due: Due, heard: Heard, asked: Due | None) -> bool:
        """Tell quickly that nothing of what was said belongs here, as is mostly so."""
        if asked is not None and heard.may_answer:
            return True
        known = self._fitting.get(id(due))
        if known is None or known[0] is not due:
            names = {name for one in due.say for name in self._names(one)}
            if asked is not None:
                names |= self._answers_to(asked)
            known = self._fitting[id(due)] = (due, frozenset(names))
        return not known[1].isdisjoint(heard.item_names)

    def _agreement(self, say: Sequence[Expected], heard: Heard) -> float:
        wanted = [one for one in self._parts(say) if not one.optional and one.call not in SLIGHT]
        if not wanted:
            return 0.0
        used: set[int] = set()
        total = 0.0
        for expected in wanted:
            place, item = self._find(expected, heard.items, used)
            if item is None:
                continue
            used.add(place)
            agree = self._values_agree(expected, item)
            total += 1 + 0.5 * (agree if says_word(expected, item, heard) else -1)
        optional = {one.call for one in say if one.optional}
        extra = [
            item
            for place, item in enumerate(heard.items)
            if place not in used and item.name not in optional | _ACKNOWLEDGING
        ]
        return total / len(wanted) - 0.25 * len(extra) / max(len(heard.items), 1)

    def _find(
        self, expected: Expected, items: Sequence[Item], used: Iterable[int] = ()
    ) -> tuple[int, Item | None]:
        """Find what was said for a call, the one whose values agree most."""
        names = self._names(expected)
        options = [
            (self._values_agree(expected, item), -names.index(item.name), -place)
            for place, item in enumerate(items)
            if item.name in names and place not in set(used)
        ]
        if not options:
            return -1, None
        place = -max(options)[2]
        return place, items[place]

    def _parts(self, say: Sequence[Expected]) -> Sequence[Expected]:
        """Take apart what stands for several calls, and join calls of one name as items are."""
        known = self._taken_apart.get(id(say))
        if known is not None and known[0] is say:
            return known[1]
        parts: list[Expected] = []
        for expected in say:
            rule = self.rules.rule(expected.call)
            if rule is None or not rule.stands_for:
                parts.append(expected)
            else:
                parts += [expected.model_copy(update={"call": name}) for name in rule.stands_for]
        parts = _joined(parts)
        self._taken_apart[id(say)] = (say, parts)
        return parts

    def _names(self, expected: Expected) -> list[str]:
        names: list[str] = []
        for name in (expected.call, *expected.instead):
            rule = self.rules.rule(name)
            names += rule.stands_for if rule and rule.stands_for else (name,)
        return names

    def _values_agree(self, expected: Expected, item: Item) -> float:
        """Give 1 where all values agree, -1 where none does."""
        compared = {n: v for n, v in expected.values.items() if n not in expected.free}
        if not compared:
            return 1.0
        marks = []
        for name, value in compared.items():
            said = item.elements.get(name)
            marks.append(0 if said is None else 1 if self._same(name, value, said) else -1)
        return sum(marks) / len(marks)

    def _same(self, name: str, value: str, said: Element) -> bool:
        return same_element(self.element(name, value), said)

    def element(self, name: str, value: str) -> Element:
        """Make an element that nobody has said yet."""
        kind = "callsign" if name == "callsign" else None
        kind = kind or self._grammar.kind_of(element_rules(self._grammar, name)[0])
        return Element(name=name, kind=kind, value=value, span=(0, 0))

    def _as_answer(self, asked: Due, heard: Heard) -> float:
        """Tell how well it may answer in other words: ROGER, NEGATIVE, a call that answers."""
        if self._answers_to(asked) & heard.names:
            return 0.9
        if heard.names & _ANSWERING:
            return 0.6 if heard.names <= _ACKNOWLEDGING | _DEFERRING | SLIGHT else 0.5
        return 0.5 if heard.names == _BARE else 0.0

    def _answers_to(self, asked: Due) -> set[str]:
        answers: set[str] = set()
        for expected in asked.say:
            rule = self.rules.rule(expected.call)
            if rule is not None:
                answers |= {*rule.answered_by, *((expected.call,) if rule.echo else ())}
        return answers

    def covers(self, due: Due, heard: Heard) -> bool:
        """Tell whether every call that is due was said, to this callsign, with whatever values."""
        if due.signal is not None:
            return due.signal == heard.signal
        to, said = due.callsign, heard.callsign
        if to is not None and said is not None and compare_callsigns(to, said) == "other":
            return False
        wanted = [
            one for one in self._parts(due.say) if not one.optional and one.call not in SLIGHT
        ]
        used: set[int] = set()
        for expected in wanted:
            place, item = self._find(expected, heard.items, used)
            if item is None:
                return False
            used.add(place)
        return bool(wanted)


def _joined(parts: Sequence[Expected]) -> list[Expected]:
    """Join calls of one name whose values do not collide: taxi to a hangar, and by a route."""
    joined: list[Expected] = []
    for part in parts:
        for place, other in enumerate(joined):
            alike = (part.call, part.instead, part.saying, part.optional) == (
                other.call,
                other.instead,
                other.saying,
                other.optional,
            )
            if alike and part.values.keys().isdisjoint(other.values):
                values = {**other.values, **part.values}
                free = (*other.free, *part.free)
                joined[place] = other.model_copy(update={"values": values, "free": free})
                break
        else:
            joined.append(part)
    return joined


def says_word(expected: Expected, item: Item, heard: Heard) -> bool:
    """Tell whether a call has the word that it must have."""
    return expected.is_said_by(words_of(item.calls[0], heard.reading))


def words_of(call: Call, reading: Reading) -> frozenset[str]:
    """Give the grammar's words of a call."""
    return frozenset(canonical_tokens(reading.words[slice(*call.span)]))
