"""A readback compared with its instruction, element by element."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from readback.judging.compare import same_element
from readback.judging.messages import describe
from readback.judging.model import Finding, Outcome, Said, Severity, Status, Verdict
from readback.judging.rules import CallRule, RuleBook
from readback.phraseology.callsigns import compare_callsigns
from readback.phraseology.model import Call, Element, Reading, Span

_ACKNOWLEDGEMENTS = frozenset({"roger", "wilco", "affirm", "okay", "callsign"})
_REFUSALS = frozenset({"unable"})
_DEFERRALS = frozenset({"say_again", "stand_by"})
_TALK = frozenset({"courtesy", "filler", "station", "okay"})


@dataclass
class _Item:
    """Calls of one name on one side, their elements joined."""

    name: str
    span: Span
    elements: dict[str, Element]
    used: bool = False

    def agreement(self, other: "_Item") -> int:
        """Count the elements that agree, less those that differ."""
        return sum(
            1 if same_element(element, other.elements[name]) else -1
            for name, element in self.elements.items()
            if name in other.elements
        )


def judge(
    instruction: Reading,
    readback: Reading,
    rules: RuleBook,
    *,
    callsign: str | None = None,
    least_certainty: float = 0.0,
) -> Verdict:
    """Judge a parsed readback against its parsed instruction.

    Args:
        instruction: What was instructed.
        readback: What came back.
        rules: Whose rules count.
        callsign: The callsign addressed, as `read_callsign` writes it, where the instruction does
            not carry it.
        least_certainty: Elements heard with less are not certain; 0 takes every word as heard.

    Returns:
        The verdict; its findings in the order of the instruction.
    """
    return _Judgement(instruction, readback, rules, least_certainty).verdict(callsign)


@dataclass
class _Judgement:
    instruction: Reading
    readback: Reading
    rules: RuleBook
    least_certainty: float
    findings: list[Finding] = field(default_factory=list)

    def verdict(self, callsign: str | None) -> Verdict:
        issued = _items(self.instruction.calls, self.rules)
        answered = _items(self.readback.calls, self.rules)
        said = {call.name for call in self.readback.calls}
        asked = [item for item in issued if self.rules.rule(item.name) is not None]
        if not asked or not said - _TALK:
            outcome = self._nothing_to_judge(asked, issued, said)
        elif said & _DEFERRALS and not any(
            self.rules.rule(item.name) for item in answered if item.name != "callsign"
        ):
            self._remark(sorted(said & _DEFERRALS)[0], "nothing was read back yet")
            outcome = Outcome.SAY_AGAIN
        else:
            if said & _REFUSALS:
                self._remark("unable", "a refusal, not a readback: another instruction is due")
            else:
                self._pair(issued, answered)
                for item in issued:
                    self._judge_item(item, answered, said)
            self._unissued(issued, answered)
            self._judge_callsign(callsign)
            outcome = self._outcome()
        return Verdict(
            verdict=outcome,
            findings=tuple(self.findings),
            authority=self.rules.authority,
            instruction=Said.of(self.instruction),
            readback=Said.of(self.readback),
        )

    # ---- the whole ---------------------------------------------------------------------------

    def _nothing_to_judge(self, asked: list[_Item], issued: list[_Item], said: set[str]) -> Outcome:
        if not said - _TALK:
            what = "no words were heard" if not self.readback.text else "no call was understood"
            self._remark(None, what)
            return Outcome.SAY_AGAIN
        if not issued:
            self._remark(None, "no instruction was understood", side="instruction")
            return Outcome.SAY_AGAIN
        self._judge_callsign(None)
        return self._outcome()

    def _remark(self, call: str | None, what: str, side: str = "readback") -> None:
        self.findings.append(
            Finding(
                call=call or side,
                status=Status.NOT_CERTAIN,
                severity=Severity.ADVISORY,
                message=what,
            )
        )

    def _outcome(self) -> Outcome:
        counted = [
            finding.status for finding in self.findings if finding.severity is not Severity.ADVISORY
        ]
        if Status.WRONG in counted or Status.NOT_ISSUED in counted:
            return Outcome.INCORRECT
        if Status.NOT_CERTAIN in counted:
            return Outcome.SAY_AGAIN
        if Status.MISSING in counted:
            return Outcome.INCOMPLETE
        return Outcome.CORRECT

    # ---- pairing -----------------------------------------------------------------------------

    def _pair(self, issued: list[_Item], answered: list[_Item]) -> None:
        """Give each instructed call the answering call that agrees with it most."""
        self.partner: dict[int, _Item] = {}
        options = []
        for number, item in enumerate(issued):
            rule = self.rules.rule(item.name)
            if rule is None:
                continue
            names = (*((item.name,) if rule.echo else ()), *rule.answered_by)
            for place, answer in enumerate(answered):
                if answer.name in names:
                    rank = names.index(answer.name)
                    options.append((rank, -item.agreement(answer), number, place))
        taken: set[int] = set()
        for rank, _, number, place in sorted(options):
            item, answer = issued[number], answered[place]
            # The same call answers once; another call (a runway in a hold short) answers several.
            if number in self.partner or (rank == 0 and place in taken):
                continue
            if answer.name != item.name and not _answers(item, answer, self.rules):
                continue
            self.partner[number] = answer
            if answer.name == item.name or item.name != "runway":
                answer.used = True
            if answer.name == item.name:
                taken.add(place)
        self.number = {id(item): number for number, item in enumerate(issued)}

    def _judge_item(self, item: _Item, answered: list[_Item], said: set[str]) -> None:
        rule = self.rules.rule(item.name)
        if rule is None or item.name == "callsign":
            return
        partner = self.partner.get(self.number[id(item)])
        if partner is None and "negative" in said and rule.answer == "reply":
            return
        if partner is None:
            carried = self._carried(item, rule, answered)
            if rule.answer == "none":
                return
            if rule.answer == "acknowledge" and not carried and self._acknowledged(rule, said):
                return
            self._missing(item, rule, carried, said)
            return
        self._compare(item, partner, rule, answered)

    def _acknowledged(self, rule: CallRule, said: set[str]) -> bool:
        """A word such as ROGER acknowledges; so does an answer to the rest, where a callsign does."""
        if said.intersection(rule.acknowledged_by):
            return True
        slight = rule.severity is not Severity.CRITICAL and "callsign" in rule.acknowledged_by
        return slight and bool(self.partner)

    def _carried(self, item: _Item, rule: CallRule, answered: list[_Item]) -> dict[str, Element]:
        """Elements of the item that single-element calls brought apart from its verb."""
        carried = {}
        for answer in answered:
            if answer.name not in rule.carried_by or answer.used:
                continue
            for name, element in answer.elements.items():
                if name in item.elements and same_element(item.elements[name], element):
                    carried[name] = element
                    answer.used = True
        return carried

    # ---- findings ----------------------------------------------------------------------------

    def _compare(self, item: _Item, partner: _Item, rule: CallRule, answered: list[_Item]) -> None:
        missing = [name for name in item.elements if name not in partner.elements]
        carried = self._carried(item, rule, answered) if missing else {}
        for name, expected in item.elements.items():
            heard = partner.elements.get(name) or carried.get(name)
            if heard is not None:
                self._compared(item, name, expected, heard, rule)
            elif self._need(rule, name) == "required" and (
                partner.name == item.name or not rule.answered_by
            ):
                self._add(item, name, Status.MISSING, rule, expected=expected)
            elif partner.name != item.name and self._need(rule, name) == "required":
                self._add(item, name, Status.MISSING, rule, expected=expected)
        replies = [answer for answer in answered if answer.name in rule.answered_by]
        said = [name for answer in (partner, *replies) for name in answer.elements]
        for name in rule.reply_elements:
            if name not in item.elements and not any(element.startswith(name) for element in said):
                self._add(item, name, Status.MISSING, rule, readback_span=partner.span)
        if partner.name == item.name:
            for name, extra in partner.elements.items():
                if name not in item.elements and name in rule.elements:
                    self._extra(item, name, extra, rule)
        if not item.elements and not rule.reply_elements:
            self._add(item, None, Status.CORRECT, rule, readback_span=partner.span)

    def _extra(self, item: _Item, name: str, extra: Element, rule: CallRule) -> None:
        if self._need(rule, name) == "free":
            return
        said_elsewhere = any(
            same_element(element, extra)
            for call in self.instruction.calls
            for element in call.elements
            if element.kind == extra.kind
        )
        if said_elsewhere:
            return
        if name == "runway" and not any(
            element.kind == "runway" for call in self.instruction.calls for element in call.elements
        ):
            # Naming the runway where none was named is good practice, not an error.
            return
        status = Status.NOT_ISSUED
        if self._uncertain(extra):
            status = Status.NOT_CERTAIN
        self._add(item, name, status, rule, heard=extra)

    def _compared(
        self, item: _Item, name: str, expected: Element, heard: Element, rule: CallRule
    ) -> None:
        if same_element(expected, heard):
            status = Status.CORRECT
        else:
            status = Status.WRONG
        if self._uncertain(heard) or expected.doubtful:
            status = Status.NOT_CERTAIN
        self._add(item, name, status, rule, expected=expected, heard=heard)

    def _uncertain(self, element: Element) -> bool:
        if element.doubtful:
            return True
        return element.certainty is not None and element.certainty < self.least_certainty

    def _missing(
        self, item: _Item, rule: CallRule, carried: dict[str, Element], said: set[str]
    ) -> None:
        required = [
            name
            for name in item.elements
            if name not in carried and self._need(rule, name) == "required"
        ]
        if carried and not required:
            for name, element in carried.items():
                self._compared(item, name, item.elements[name], element, rule)
        instead = sorted(said & (_ACKNOWLEDGEMENTS - {"callsign"}))
        replaced = instead[0] if instead else None
        if not required:
            self._add(item, None, Status.MISSING, rule, instead=replaced)
        for name in required:
            self._add(
                item, name, Status.MISSING, rule, expected=item.elements[name], instead=replaced
            )

    def _unissued(self, issued: list[_Item], answered: list[_Item]) -> None:
        """Find what was read back but never instructed: a crossing is the worst of them."""
        for answer in answered:
            rule = self.rules.rule(answer.name)
            if answer.used or answer.name == "callsign" or rule is None:
                continue
            if any(item.name == answer.name for item in issued) and not answer.elements:
                continue
            if answer.name == "runway":
                self._stray_runway(answer, rule)
            elif rule.unissued is not None:
                uncertain = any(self._uncertain(element) for element in answer.elements.values())
                self._add(
                    answer,
                    None,
                    Status.NOT_CERTAIN if uncertain else Status.NOT_ISSUED,
                    rule,
                    severity=rule.unissued,
                    heard=next(iter(answer.elements.values()), None),
                    readback_span=answer.span,
                )

    def _stray_runway(self, answer: _Item, rule: CallRule) -> None:
        heard = answer.elements["runway"]
        named = [
            element
            for call in self.instruction.calls
            for element in call.elements
            if element.kind == "runway"
        ]
        if not named or any(same_element(element, heard) for element in named):
            return
        status = Status.NOT_CERTAIN if self._uncertain(heard) else Status.NOT_ISSUED
        self._add(answer, "runway", status, rule, heard=heard)

    def _judge_callsign(self, given: str | None) -> None:
        rule = self.rules.rule("callsign")
        if rule is None:
            return
        addressed = [call for call in self.instruction.calls if call.name == "callsign"]
        answered = [call for call in self.readback.calls if call.name == "callsign"]
        expected = addressed[0].elements[0] if addressed else None
        value = expected.value if expected else given
        if value is None:
            return
        item = _Item("callsign", addressed[0].span if addressed else (0, 0), {})
        if not answered:
            self._add(item, "callsign", Status.MISSING, rule, expected_value=value)
            return
        # A callsign may stand at both ends; the one that fits counts, a wrong one always counts.
        ranked = {"other": 0, "number only": 1, "short": 2, "same": 3}
        compared = [
            (ranked[compare_callsigns(value, call.elements[0].value)], call) for call in answered
        ]
        rank, call = min(compared, key=lambda pair: pair[0])
        heard = call.elements[0]
        status, severity = {
            0: (Status.WRONG, Severity.CRITICAL),
            1: (Status.MISSING, rule.severity),
            2: (Status.CORRECT, rule.severity),
            3: (Status.CORRECT, rule.severity),
        }[rank]
        if self._uncertain(heard):
            status = Status.NOT_CERTAIN
        self._add(
            item,
            "callsign",
            status,
            rule,
            expected_value=value,
            heard=heard,
            severity=severity,
        )
        if rank == 2:
            self.findings.append(
                Finding(
                    call="callsign",
                    element="callsign",
                    status=Status.NOT_ISSUED,
                    severity=Severity.ADVISORY,
                    expected=value,
                    heard=heard.value,
                    readback_span=call.span,
                    message=f"callsign {heard.value} is short for {value}: the controller uses the"
                    " short form first",
                )
            )

    @staticmethod
    def _need(rule: CallRule, name: str) -> str:
        return rule.elements.get(name, "free")

    def _add(
        self,
        item: _Item,
        element: str | None,
        status: Status,
        rule: CallRule,
        *,
        expected: Element | None = None,
        heard: Element | None = None,
        expected_value: str | None = None,
        readback_span: Span | None = None,
        severity: Severity | None = None,
        instead: str | None = None,
    ) -> None:
        issued = status is not Status.NOT_ISSUED and not item.used
        wanted = expected.value if expected else expected_value
        got = heard.value if heard else None
        self.findings.append(
            Finding(
                call=item.name,
                element=element,
                status=status,
                severity=severity or rule.severity,
                expected=wanted,
                heard=got,
                instruction_span=(expected.span if expected else item.span) if issued else None,
                readback_span=heard.span if heard else readback_span,
                certainty=heard.certainty if heard else None,
                rule=rule.says,
                source=self.rules.source(item.name),
                message=describe(item.name, element, status, wanted, got, instead),
            )
        )


def _answers(item: _Item, answer: _Item, rules: RuleBook) -> bool:
    """Tell whether a call of another name answers: a runway only where it is the same one."""
    if item.name == "runway":
        return any(
            same_element(item.elements["runway"], element)
            for element in answer.elements.values()
            if element.kind == "runway"
        )
    return True


def _items(calls: Iterable[Call], rules: RuleBook) -> list[_Item]:
    """Join calls of one name whose elements do not collide; drop repetitions."""
    items: list[_Item] = []
    for call in calls:
        rule = rules.rule(call.name)
        for name in rule.stands_for if rule and rule.stands_for else (call.name,):
            elements = {element.name: element for element in call.elements}
            for item in items:
                if item.name == name and all(
                    key not in item.elements or same_element(item.elements[key], element)
                    for key, element in elements.items()
                ):
                    item.elements = {**elements, **item.elements}
                    break
            else:
                items.append(_Item(name, call.span, elements))
    return items
