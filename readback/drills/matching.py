"""What is wrong with what was said, compared with what was due."""

from collections.abc import Iterable, Sequence

from readback.drills.dues import Due, Expected
from readback.drills.fitting import FITS, SLIGHT, Fitting, Heard, says_word, words_of
from readback.judging.compare import same_element
from readback.judging.findings import make_finding
from readback.judging.items import Item
from readback.judging.model import Finding, Severity, Status
from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.model import Element

__all__ = ["FITS", "Heard", "Matcher", "words_of"]


class Matcher(Fitting):
    """Compares with the rules of one authority.

    Args:
        grammar: Tells the kinds of elements.
        rules: Tell which calls stand for others, and how much a finding weighs.
    """

    def findings(self, due: Due, heard: Heard, least_certainty: float = 0.0) -> tuple[Finding, ...]:
        """Find what is wrong with what was said for a call; answers are judged as readbacks.

        Args:
            due: The call.
            heard: What was said.
            least_certainty: Values heard with less are not judged.
        """
        if due.signal is not None:
            return () if heard.signal == due.signal else (self._signal_finding(due, heard),)
        found: list[Finding] = []
        used: set[int] = set()
        calls = {call.name for call in heard.reading.calls}
        for expected in self._parts(due.say):
            if expected.call in SLIGHT:
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
            found += self._value_findings(expected, item, due, heard, least_certainty)
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
        self, expected: Expected, item: Item, due: Due, heard: Heard, least_certainty: float
    ) -> Iterable[Finding]:
        for name, value in expected.values.items():
            said = item.elements.get(name) or self._elsewhere(name, item, heard)
            if said is not None and _is_faint(said, least_certainty):
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


def _is_faint(said: Element, least_certainty: float) -> bool:
    return said.doubtful or (said.certainty is not None and said.certainty < least_certainty)


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
