"""Remarks on wording: how it could be said better, apart from the verdict and never part of it.

Every remark is a `Finding` of severity ``advisory`` whose ``call`` is ``"wording"`` and whose
``element`` names the kind of remark. Its status is ``wrong`` for words that are not to be said,
``not issued`` for superfluous ones, ``correct`` for what is understood but not the standard, ``not
certain`` for what is not understood.
Words to say and to avoid are data (``wording`` in ``grammars/rules``); what has to be counted or
compared is here.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from readback.judging.advice import (
    CALLSIGN_PLACE,
    COURTESY,
    GROUPED_DIGITS,
    HESITATION,
    LEFT_OVER,
    LONGEST_INSTRUCTION,
    NEAR_MISS,
    REPETITION,
    ROGER,
    SINGLE_DIGITS,
    SLIP,
    TAKE_OFF,
    TO_AND_FOR,
    Advice,
    length_advice,
)
from readback.judging.framing import frame_of
from readback.judging.model import Finding, Severity, Status
from readback.judging.rules import RuleBook, Wording
from readback.phraseology.model import Call, Element, Reading, Span
from readback.phraseology.spelling import DIGITS, LETTERS, TEENS, TENS
from readback.phraseology.values import KINDS, speak_value
from readback.phraseology.words import canonical_tokens, canonical_words

_GROUPS = frozenset(TEENS) | frozenset(TENS)
_SPELLED = frozenset(DIGITS) | frozenset(LETTERS) | _GROUPS
_SAID_TWICE = frozenset({"stop", "bye", "break", "mayday", "pan"})
"""Doc 4444 12.3.4.11 has STOP twice; Annex 10 5.3 has MAYDAY and PAN PAN."""
_REPEATED_CALLS = frozenset(
    {"callsign", "station", "condition", "stop", "stop_push", "cancel_take_off", "engine_hazard"}
)
_CONNECTING = frozenset({"and", "then", "now"})
_TALK = frozenset({"courtesy", "filler", "station", "okay"})
_FAA_SINGLE = frozenset({"runway", "frequency", "squawk", "altimeter", "qnh", "heading", "time"})
"""Kinds that JO 7110.65 2-4-17 says digit by digit; an altitude may be restated in group form."""
_GROUPING_IS_FREE = frozenset({"traffic", "number", "readability"})
"""Types of aircraft and plain counts."""
_PARTS_OF_OTHERS = frozenset({"runway", "callsign"})
_FAMILIES = frozenset({"ground_control", "interphone"})
_LEAST_LEFT_OVER = 2
"""Words; one alone is mostly a stammer or a name."""
_TAKE_OFF_CALLS = frozenset({"take_off", "cancel_take_off"})


def remarks(
    reading: Reading, rules: RuleBook, side: str, *, instruction: Reading | None = None
) -> tuple[Finding, ...]:
    """Remark on the wording of one transmission.

    Args:
        reading: The transmission, parsed.
        rules: Whose standard counts.
        side: ``"instruction"`` or ``"readback"``: what it is, and where the spans belong.
        instruction: What a readback answers; without it ROGER and WILCO beside a readback are taken
            to answer something.

    Returns:
        Advisory findings in the order of their words; none of them is for the verdict.
    """
    remarker = _Remarker(reading, rules, side)
    remarker.table()
    remarker.words()
    remarker.numbers()
    remarker.calls()
    remarker.mended()
    if side == "instruction":
        remarker.length()
        remarker.left_over()
    else:
        remarker.callsign_place()
        if instruction is not None:
            remarker.acknowledgement(instruction)
    found = remarker.findings
    if len(found) > 1:
        found.sort(key=lambda finding: finding.instruction_span or finding.readback_span or (0, 0))
    return tuple(found)


class _Remarker:
    """Collects the remarks on one transmission."""

    def __init__(self, reading: Reading, rules: RuleBook, side: str) -> None:
        self.reading = reading
        self.rules = rules
        self.side = side
        self.findings: list[Finding] = []
        self.tokens: list[str] = []
        self.origin: list[int] = []
        taken_back = {index for slip in reading.slips for index in range(*slip.span)}
        for index, word in enumerate(reading.words):
            if index not in taken_back:
                for token in canonical_words(word.word):
                    self.tokens.append(token)
                    self.origin.append(index)
        self.call_at: list[Call | None] = [None] * len(reading.words)
        for call in reading.calls:
            start, end = call.span
            self.call_at[start:end] = [call] * (end - start)
        self.remarked: set[int] = set()
        """Words that the table has an opinion on."""

    def add(
        self,
        element: str,
        status: Status,
        span: Span,
        message: str,
        advice: Advice,
        offer: str | None = None,
    ) -> None:
        on_instruction = self.side == "instruction"
        self.findings.append(
            Finding(
                call="wording",
                element=element,
                status=status,
                severity=Severity.ADVISORY,
                expected=offer,
                heard=self.said(span),
                instruction_span=span if on_instruction else None,
                readback_span=None if on_instruction else span,
                rule=advice.rule,
                source=advice.source,
                message=message,
            )
        )

    def said(self, span: Span) -> str:
        text = " ".join(word.word for word in self.reading.words[span[0] : span[1]])
        return text.strip(" .,;:!?")

    # ---- the table of the rules files ----------------------------------------------------------

    def table(self) -> None:
        table = _table(self.rules, self.side)
        if table.keys().isdisjoint(self.tokens):
            return
        at = 0
        while at < len(self.tokens):
            item, size = self._longest(table.get(self.tokens[at], ()), at)
            if item is not None:
                span = (self.origin[at], self.origin[at + size - 1] + 1)
                self.remarked.update(range(*span))
                self._tabled(item, span)
            at += size

    def _longest(
        self, candidates: Sequence[tuple[tuple[str, ...], Wording]], at: int
    ) -> tuple[Wording | None, int]:
        call = self.call_at[self.origin[at]]
        if call is not None and call.name == "callsign":
            return None, 1
        for words, item in candidates:
            if tuple(self.tokens[at : at + len(words)]) == words and self._in_family(item, call):
                return item, len(words)
        return None, 1

    def _in_family(self, item: Wording, call: Call | None) -> bool:
        if item.family is None or (call is not None and call.family == item.family):
            return True
        if call is not None and call.family in _FAMILIES:
            return False
        # Where nothing tells which of them it is, it may be either.
        families = {other.family for other in self.reading.calls} & _FAMILIES
        return not families or item.family in families

    def _tabled(self, item: Wording, span: Span) -> None:
        if item.status == "accepted":
            return
        said = self.said(span)
        advice = Advice(item.says, item.source)
        if item.status == "wrong":
            message = f"do not say {said!r}" + (f": say {item.offer}" if item.offer else "")
            self.add("standard words", Status.WRONG, span, message, advice, item.offer)
        elif item.offer:
            message = f"{said!r} is understood; the standard is {item.offer}"
            self.add("standard words", Status.CORRECT, span, message, advice, item.offer)
        else:
            message = f"{said!r} adds nothing"
            self.add("standard words", Status.NOT_ISSUED, span, message, advice)

    # ---- words -----------------------------------------------------------------------------------

    def words(self) -> None:
        tokens = self.tokens
        for at, (word, following) in enumerate(pairwise(tokens)):
            if word == following:
                self._twice(at)
            elif word == "take" and following == "off":
                self._take_off(at)
            elif word in ("to", "for") and following in DIGITS:
                self._to_or_for(at)

    def _twice(self, at: int) -> None:
        word = self.tokens[at]
        together = self.origin[at + 1] - self.origin[at] == 1
        if word in _SPELLED or word in _SAID_TWICE or not together:
            return
        span = (self.origin[at], self.origin[at + 1] + 1)
        self.add("repetition", Status.NOT_ISSUED, span, f"{word!r} is said twice", REPETITION)

    def _take_off(self, at: int) -> None:
        call = self.call_at[self.origin[at]]
        if call is not None and call.name in _TAKE_OFF_CALLS:
            return
        span = (self.origin[at], self.origin[at + 1] + 1)
        if self.remarked.isdisjoint(range(*span)):
            message = "TAKE-OFF is for clearing or cancelling one: say DEPARTURE"
            self.add("take-off", Status.WRONG, span, message, TAKE_OFF, "DEPARTURE")

    def _to_or_for(self, at: int) -> None:
        # "Hangar three to gate two five" is published (Doc 9432 5.4): after a number it may stand.
        span = (self.origin[at], self.origin[at + 1] + 1)
        if any(repair.span[0] == span[0] for repair in self.reading.repairs):
            return
        word, digit = self.tokens[at], {"to": "TWO", "for": "FOUR"}[self.tokens[at]]
        message = f"{word!r} before a number sounds like {digit}: leave it out"
        self.add("to and for", Status.WRONG, span, message, TO_AND_FOR)

    # ---- numbers ---------------------------------------------------------------------------------

    def numbers(self) -> None:
        american = self.rules.authority == "faa"
        grouped = not _GROUPS.isdisjoint(self.tokens)
        if not grouped and not american:
            return
        for call in self.reading.calls:
            for element in call.elements:
                if element.kind == "callsign" and american:
                    self._flight_number(element)
                elif grouped and self._said_one_by_one(element, american):
                    self._grouped(element)

    def _said_one_by_one(self, element: Element, american: bool) -> bool:
        if american:
            return element.kind in _FAA_SINGLE
        return element.kind not in _GROUPING_IS_FREE

    def _grouped(self, element: Element) -> None:
        if _GROUPS.isdisjoint(self._spoken(element.span)):
            return
        what = element.name.replace("_", " ")
        message = f"{what} {self.said(element.span)!r}: say each digit by itself"
        self.add("grouped digits", Status.WRONG, element.span, message, GROUPED_DIGITS)

    def _flight_number(self, element: Element) -> None:
        name, _, number = element.value.rpartition(" ")
        digits = number.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        written = any(sign.isdigit() for sign in self.said(element.span))
        # Three digits and more: vehicles have one or two.
        if not name or len(digits) < 3 or written:
            return
        group = speak_value("callsign_number", digits, "faa")[0].split()
        spoken = self._spoken(element.span)
        if not any(spoken[at : at + len(group)] == group for at in range(len(spoken))):
            offer = f"{name} {' '.join(group).upper()}"
            message = f"flight number {digits} digit by digit: the standard is {offer}"
            self.add("single digits", Status.CORRECT, element.span, message, SINGLE_DIGITS, offer)

    def _spoken(self, span: Span) -> list[str]:
        return list(canonical_tokens(self.reading.words[slice(*span)]))

    # ---- calls -----------------------------------------------------------------------------------

    def calls(self) -> None:
        seen: set[tuple[str, tuple[str, ...]]] = set()
        again = False
        for call in self.reading.calls:
            if call.name in ("courtesy", "filler"):
                self._superfluous(call)
            elif call.name in ("i_say_again", "negative"):
                again = True
            elif call.elements and call.name not in _REPEATED_CALLS and not again:
                key = (call.name, self._gist(call))
                if key in seen:
                    message = f"{self.said(call.span)!r} is said twice"
                    self.add("repetition", Status.NOT_ISSUED, call.span, message, REPETITION)
                seen.add(key)

    def _gist(self, call: Call) -> tuple[str, ...]:
        """What a repetition repeats: values; words where they may name different doors."""
        if any(element.kind in KINDS for element in call.elements):
            return tuple(element.value for element in call.elements)
        return tuple(self._spoken(call.span))

    def _superfluous(self, call: Call) -> None:
        said = self.said(call.span)
        start, end = call.span
        if said.lower() in _CONNECTING or not self.remarked.isdisjoint(range(start, end)):
            return
        if self._spoken(call.span) == self._spoken((end, 2 * end - start)):
            # The parser lays a stumble aside as a filler; it is remarked as a repetition.
            return
        if call.name == "courtesy":
            kind, advice = "courtesy", COURTESY
        else:
            kind, advice = "hesitation", HESITATION
        self.add(kind, Status.NOT_ISSUED, call.span, f"{said!r} adds nothing", advice)

    def callsign_place(self) -> None:
        if self.rules.authority == "faa":
            return
        names = [call.name for call in self.reading.calls if call.name not in _TALK]
        if "callsign" not in names or names[-1] == "callsign" or {"affirm", "negative"} & {*names}:
            return
        call = next(call for call in self.reading.calls if call.name == "callsign")
        message = f"{self.said(call.span)!r} is not last: an answer ends with the callsign"
        self.add("callsign place", Status.CORRECT, call.span, message, CALLSIGN_PLACE)

    def acknowledgement(self, instruction: Reading) -> None:
        answered = {call.name for call in self.reading.calls}
        read_back = [name for name in answered if self._answer(name) == "readback"]
        if not answered & {"roger", "wilco"} or not set(read_back) - {"callsign"}:
            return
        for call in instruction.calls:
            rule = self.rules.rule(call.name)
            if rule is None or rule.answer == "none" or call.name == "callsign":
                continue
            if answered.isdisjoint((call.name, *rule.answered_by)):
                return
        for call in self.reading.calls:
            if call.name in ("roger", "wilco") and self.remarked.isdisjoint(range(*call.span)):
                message = f"{call.name.upper()} adds nothing to a readback"
                self.add("acknowledgement", Status.NOT_ISSUED, call.span, message, ROGER)

    def length(self) -> None:
        names = {call.name for call in self.reading.calls} - _PARTS_OF_OTHERS
        count = sum(1 for name in names if self._answer(name) not in (None, "none"))
        if count > LONGEST_INSTRUCTION:
            self.add(
                "length",
                Status.WRONG,
                (0, len(self.reading.words)),
                f"{count} instructions in one transmission: at most {LONGEST_INSTRUCTION}",
                length_advice(self.rules.authority),
            )

    def _answer(self, name: str) -> str | None:
        rule = self.rules.rule(name)
        return None if rule is None else rule.answer

    # ---- what the parser mended ------------------------------------------------------------------

    def mended(self) -> None:
        for slip in self.reading.slips:
            message = f"corrected in the same transmission: {slip.said!r}"
            self.add("correction", Status.CORRECT, slip.span, message, SLIP)
        for repair in self.reading.repairs:
            message = f"{self.said(repair.span)!r} was taken for {repair.taken_as!r}"
            self.add("near miss", Status.WRONG, repair.span, message, NEAR_MISS, repair.taken_as)

    def left_over(self) -> None:
        """Tell what of an instruction was not understood: nobody will judge it."""
        told = {
            index
            for finding in self.findings
            for index in range(*(finding.instruction_span or (0, 0)))
        }
        for span in self.reading.unparsed:
            long = span[1] - span[0] >= _LEAST_LEFT_OVER
            if long and told.isdisjoint(range(*span)) and not self._denies(span):
                message = f"{self.said(span)!r} was not understood and is not judged"
                self.add("left over", Status.NOT_CERTAIN, span, message, LEFT_OVER)

    def _denies(self, span: Span) -> bool:
        """Tell whether words deny the call after them, "do not": they are judged with it."""
        return any(
            call.span[0] == span[1] and frame_of(self.reading, index) == "denied"
            for index, call in enumerate(self.reading.calls)
        )


@lru_cache(maxsize=64)
def _table(rules: RuleBook, side: str) -> dict[str, tuple[tuple[tuple[str, ...], Wording], ...]]:
    """The wordings that count on a side, by their first word, the longest first."""
    found: dict[str, list[tuple[tuple[str, ...], Wording]]] = {}
    for item in rules.wording:
        if item.where in ("any", side):
            words = tuple(item.words.split())
            found.setdefault(words[0], []).append((words, item))
    return {
        first: tuple(sorted(entries, key=lambda entry: -len(entry[0])))
        for first, entries in found.items()
    }
