"""What was said compared with what was due: how well it fits, and what is wrong with it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from readback.drills.plan import Due, Expected
from readback.judging.compare import same_element
from readback.judging.findings import make_finding
from readback.judging.hearing import TALK
from readback.judging.items import Item, join_items
from readback.judging.model import Finding, Severity, Status
from readback.judging.rules import RuleBook
from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.generator import element_rules
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Call, Element, Reading
from readback.phraseology.words import canonical_words

_SLIGHT = TALK | {"callsign", "confirm", "i_say_again", "acknowledge"}
"""Calls that tell no transmission from another."""
_ACKNOWLEDGING = frozenset({"roger", "wilco", "affirm", "okay"})
_DEFERRING = frozenset({"say_again", "stand_by"})
_ANSWERING = _ACKNOWLEDGING | _DEFERRING | {"negative", "unable"}
_BARE = frozenset({"callsign"})
_OTHER_STATION = 0.5
FITS = 0.45
"""The least score with which a transmission is taken for what is due (our choice; the tests on
damaged exchanges hold with anything from 0.3 to 0.6)."""


@dataclass
class Heard:
    """One transmission, parsed."""

    station: str | None
    reading: Reading
    signal: str | None = None
    items: list[Item] = field(default_factory=list)

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

    @property
    def names(self) -> frozenset[str]:
        """What was said, apart from talk."""
        return frozenset(call.name for call in self.reading.calls) - TALK


class Matcher:
    """Compares with the rules of one authority.

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
        calls = [call for call in reading.calls if call.name not in _SLIGHT]
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
        if asked is not None and (heard.names <= _BARE or heard.names & _ANSWERING):
            return True
        known = self._fitting.get(id(due))
        if known is None or known[0] is not due:
            names = {name for one in due.say for name in self._names(one)}
            if asked is not None:
                names |= self._answers_to(asked)
            known = self._fitting[id(due)] = (due, frozenset(names))
        return not known[1].isdisjoint(item.name for item in heard.items)

    def _agreement(self, say: Sequence[Expected], heard: Heard) -> float:
        wanted = [one for one in self._parts(say) if not one.optional and one.call not in _SLIGHT]
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
            return 0.6 if heard.names <= _ACKNOWLEDGING | _DEFERRING | _SLIGHT else 0.5
        return 0.5 if heard.names == _BARE else 0.0

    def _answers_to(self, asked: Due) -> set[str]:
        answers: set[str] = set()
        for expected in asked.say:
            rule = self.rules.rule(expected.call)
            if rule is not None:
                answers |= {*rule.answered_by, *((expected.call,) if rule.echo else ())}
        return answers

    # ---- what is wrong -------------------------------------------------------------------------

    def findings(self, due: Due, heard: Heard) -> tuple[Finding, ...]:
        """Find what is wrong with what was said for a call; answers are judged as readbacks."""
        if due.signal is not None:
            return () if heard.signal == due.signal else (self._signal_finding(due, heard),)
        found: list[Finding] = []
        used: set[int] = set()
        calls = {call.name for call in heard.reading.calls}
        for expected in self._parts(due.say):
            if expected.call in _SLIGHT:
                if not expected.optional and expected.call not in calls:
                    found.append(self._absent(expected, due))
                continue
            place, item = self._find(expected, heard.items, used)
            wrong = due.put_right
            if item is None and wrong is not None and wrong in expected.values:
                bare = self._find_bare(wrong, expected, heard.items, used)
                if bare is not None:
                    used.add(bare)
                    continue
            if item is None:
                if not expected.optional:
                    found.append(self._absent(expected, due))
                continue
            used.add(place)
            found += self._value_findings(expected, item, due, heard)
            if not says_word(expected, item, heard):
                found.append(_other_word(expected, item, heard))
        for place, item in enumerate(heard.items):
            if place not in used:
                found += self._not_due(item)
        if due.callsign is not None:
            found += self._callsign_findings(due.callsign, heard)
        return tuple(found)

    def _find_bare(
        self, name: str, expected: Expected, items: Sequence[Item], used: Iterable[int]
    ) -> int | None:
        """Find the right value said by itself: NEGATIVE, RUNWAY 27 LEFT."""
        right = self.element(name, expected.values[name])
        for place, item in enumerate(items):
            alike = [one for one in item.elements.values() if one.kind == right.kind]
            if place not in set(used) and any(same_element(right, one) for one in alike):
                return place
        return None

    def _value_findings(
        self, expected: Expected, item: Item, due: Due, heard: Heard
    ) -> Iterable[Finding]:
        for name, value in expected.values.items():
            said = item.elements.get(name) or self._elsewhere(name, item, heard)
            if said is not None and said.doubtful:
                yield self._finding(item.name, name, Status.NOT_CERTAIN, value, said)
            elif said is None:
                if due.put_right in expected.values and due.put_right != name:
                    continue
                if item.name == expected.call or not expected.instead:
                    yield self._finding(item.name, name, Status.MISSING, value, None)
            elif name not in expected.free and not self._same(name, value, said):
                yield self._finding(item.name, name, Status.WRONG, value, said)
        for name, said in item.elements.items():
            added = name not in expected.values and self._weighs(item.name, name)
            if added and not self._is_due(said, due):
                yield self._finding(item.name, name, Status.NOT_ISSUED, None, said)

    def _elsewhere(self, name: str, item: Item, heard: Heard) -> Element | None:
        """Find a value that was said apart from its verb: a bare runway."""
        rule = self.rules.rule(item.name)
        for other in heard.items:
            if rule is not None and other.name in rule.carried_by and name in other.elements:
                return other.elements[name]
        return None

    def _weighs(self, call: str, element: str) -> bool:
        rule = self.rules.rule(call)
        return rule is not None and rule.elements.get(element, "free") != "free"

    def _is_due(self, said: Element, due: Due) -> bool:
        return any(
            self.element(name, value).kind == said.kind and self._same(name, value, said)
            for expected in due.say
            for name, value in expected.values.items()
        )

    def _not_due(self, item: Item) -> Iterable[Finding]:
        rule = self.rules.rule(item.name)
        if rule is None or rule.unissued is None:
            return
        if item.elements:
            for name, said in item.elements.items():
                yield self._finding(item.name, name, Status.NOT_ISSUED, None, said)
        else:
            yield self._finding(item.name, None, Status.NOT_ISSUED, None, None)

    def _callsign_findings(self, callsign: str, heard: Heard) -> Iterable[Finding]:
        said = next((call for call in heard.reading.calls if call.name == "callsign"), None)
        if said is None:
            yield self._finding("callsign", "callsign", Status.MISSING, callsign, None)
        elif compare_callsigns(callsign, said.elements[0].value) not in ("same", "short"):
            yield self._finding("callsign", "callsign", Status.WRONG, callsign, said.elements[0])

    def _absent(self, expected: Expected, due: Due) -> Finding:
        if not expected.values:
            return self._finding(expected.call, None, Status.MISSING, None, None)
        name, value = next(iter(expected.values.items()))
        return self._finding(expected.call, name, Status.MISSING, value, None)

    def _finding(
        self, call: str, name: str | None, status: Status, value: str | None, said: Element | None
    ) -> Finding:
        expected = None if value is None or name is None else self.element(name, value)
        if call in self.rules.calls:
            return make_finding(self.rules, call, name, status, expected=expected, heard=said)
        what = call.replace("_", " ") + (f": {name.replace('_', ' ')}" if name else "")
        wanted = f" {value}" if value else ""
        got = f", heard {said.value}" if said else " was not said"
        return Finding(
            call=call,
            element=name,
            status=status,
            severity=Severity.REQUIRED,
            expected=value,
            heard=said.value if said else None,
            readback_span=said.span if said else None,
            message=f"{what}{wanted}{got}",
        )

    def covers(self, due: Due, heard: Heard) -> bool:
        """Tell whether every call that is due was said, to this callsign, with whatever values."""
        if due.signal is not None:
            return due.signal == heard.signal
        to, said = due.callsign, heard.callsign
        if to is not None and said is not None and compare_callsigns(to, said) == "other":
            return False
        wanted = [
            one for one in self._parts(due.say) if not one.optional and one.call not in _SLIGHT
        ]
        used: set[int] = set()
        for expected in wanted:
            place, item = self._find(expected, heard.items, used)
            if item is None:
                return False
            used.add(place)
        return bool(wanted)

    def _signal_finding(self, due: Due, heard: Heard) -> Finding:
        wanted = (due.signal or "").replace("_", " ")
        got = (heard.signal or "").replace("_", " ") or heard.text
        return Finding(
            call=due.signal or "",
            status=Status.WRONG,
            severity=Severity.CRITICAL,
            expected=wanted,
            heard=got,
            message=f"signal {wanted}, shown {got}",
        )


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
    words = reading.words[slice(*call.span)]
    return frozenset(part for word in words for part in canonical_words(word.word))


def _other_word(expected: Expected, item: Item, heard: Heard) -> Finding:
    call = item.calls[0]
    said = " ".join(word.word for word in heard.reading.words[slice(*call.span)])
    wanted = (expected.saying or "").replace(" ", " or ")
    return Finding(
        call=call.name,
        status=Status.WRONG,
        severity=Severity.REQUIRED,
        expected=wanted,
        heard=said,
        readback_span=call.span,
        message=f"{call.name.replace('_', ' ')}: {wanted} was due, heard “{said}”",
    )
