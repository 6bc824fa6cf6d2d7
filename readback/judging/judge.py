"""A readback compared with its instruction, element by element."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from readback.judging.apart import find_astray, find_carried
from readback.judging.callsign_findings import judge_callsign
from readback.judging.compare import same_element
from readback.judging.destinations import align_destination
from readback.judging.engines import with_engines
from readback.judging.findings import make_finding, make_remark, outcome_of
from readback.judging.framing import DENYING, framed, framing_findings, with_push_back
from readback.judging.hearing import SLIGHT_WORDS, STAND_BY, TALK, Hearing
from readback.judging.items import Item, join_items
from readback.judging.model import Finding, Outcome, Said, Severity, Status, Verdict
from readback.judging.movement import with_movement
from readback.judging.pairing import pair_items
from readback.judging.questions import answers_no, asked_about, say_no
from readback.judging.rules import CallRule, RuleBook
from readback.judging.unissued import judge_unissued, was_issued
from readback.phraseology.model import Element, Reading
from readback.phraseology.words import canonical_tokens
from readback.transmission import Word

_ACKNOWLEDGEMENTS = frozenset({"roger", "wilco", "affirm", "okay"})
_DEFERRALS = frozenset({"say_again", "stand_by", "go_ahead"})
"""Nothing comes back with these yet; who says GO AHEAD has heard the callsign alone."""
_REFUSALS = frozenset({"unable"})
_NOT_UNDERSTOOD = "no instruction was understood"
_SCRAPS = TALK | {"callsign", "number_in_line"}
"""Who is called, and what a few words of something else may be taken for."""
_BARE_REPLIES = frozenset({"negative", "stand_by", "unable"})
"""Replies to a question that carry nothing of their own."""


def judge(
    instruction: Reading,
    readback: Reading,
    rules: RuleBook,
    *,
    callsign: str | None = None,
    least_certainty: float = 0.0,
    unheard: bool = False,
) -> Verdict:
    """Judge a parsed readback against its parsed instruction.

    Args:
        instruction: What was instructed.
        readback: What came back.
        rules: Whose rules count.
        callsign: The callsign addressed, as `read_callsign` writes it, where the instruction does
            not carry it.
        least_certainty: What was heard with less is not certain; 0 takes every word as heard.
        unheard: Whether the readback has speech that is in none of its words.

    Returns:
        The verdict; its findings in the order of the instruction, then what was not issued, then
        the callsign; advisory ones last.
    """
    instruction, readback = with_engines(instruction), with_engines(readback)
    judgement = _Judgement(
        instruction, readback, rules, Hearing(readback, least_certainty), unheard
    )
    outcome = judgement.outcome(callsign)
    findings = sorted(judgement.findings, key=lambda item: item.severity is Severity.ADVISORY)
    return Verdict(
        verdict=outcome,
        findings=tuple(findings),
        authority=rules.authority,
        instruction=Said.of(instruction),
        readback=Said.of(readback),
    )


@dataclass
class _Judgement:
    instruction: Reading
    readback: Reading
    rules: RuleBook
    hearing: Hearing
    unheard: bool
    findings: list[Finding] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.ordered = framed(self.instruction, answer=False)
        self.answer = framed(self.readback, answer=True)
        self.issued = join_items(self.ordered.calls, self.rules)
        pushed = any(item.name == "push_back" for item in self.issued)
        calls = with_push_back(self.readback, self.answer.calls) if pushed else self.answer.calls
        self.answered = join_items(calls, self.rules)
        self.partners = pair_items(self.issued, self.answered, self.rules)
        self.said = self.hearing.certain_names(self.answered)
        self.refused = bool(self.said & _REFUSALS)

    def outcome(self, callsign: str | None) -> Outcome:
        """Make the findings, then the verdict of them."""
        remark = self._nothing_to_judge()
        if remark is not None:
            self.findings.append(remark)
            return Outcome.SAY_AGAIN
        for item, partner in zip(self.issued, self.partners, strict=True):
            self._judge_item(item, partner)
        self.findings += judge_unissued(
            self.instruction, self.issued, self.answered, self.rules, self.hearing
        )
        self.findings += judge_callsign(
            self.instruction,
            self.readback,
            self.rules,
            self.hearing,
            addressed=callsign,
            excused=self.hearing.doubts_rest(self.answered),
        )
        self.findings += framing_findings(self.ordered, self.answer, self.rules)
        if self.refused:
            what = "a refusal, not a readback: another instruction is due"
            self.findings.append(make_remark("unable", what))
        outcome = outcome_of(self.findings)
        left = self._left_beside_acknowledgement() if outcome is Outcome.CORRECT else None
        if left is not None:
            self.findings.append(make_remark("readback", f"{left} was not understood"))
            return Outcome.SAY_AGAIN
        if outcome is not Outcome.INCORRECT and self._only_scraps_understood():
            self.findings.append(make_remark("instruction", _NOT_UNDERSTOOD))
            return Outcome.SAY_AGAIN
        return outcome

    def _nothing_to_judge(self) -> Finding | None:
        names = {item.name for item in self.answered}
        if not names - TALK:
            what = "no call was understood" if self.readback.text else "no words were heard"
            return make_remark("readback", what)
        if not self.issued:
            return make_remark("instruction", _NOT_UNDERSTOOD)
        told = any(item.name in STAND_BY for item in self.issued)
        deferred = sorted(names & (_DEFERRALS - STAND_BY if told else _DEFERRALS))
        substance = any(
            self.rules.rule(item.name) is not None and item.name != "callsign"
            for item in self.answered
        )
        # A callsign answers the callsign; it is no readback of the rest.
        paired = any(item is not None and item.name != "callsign" for item in self.partners)
        if not deferred or substance or paired:
            return None
        return make_remark(deferred[0], "nothing was read back yet")

    def _only_scraps_understood(self) -> bool:
        """Whether what was understood of the instruction asks nothing, and more was said.

        START THE NUMBER TWO ENGINE would be a place in line, which anything answers.
        """
        if any(item.name not in _SCRAPS for item in self.issued):
            return False
        return bool(_words_left(self.instruction))

    def _left_beside_acknowledgement(self) -> str | None:
        """What else was said where an acknowledgement is all that was understood.

        Beside a callsign alone anything may be CANNOT; beside ROGER what denies takes it back.
        """
        acknowledged = {item.name for item in self.answered} - TALK
        if not acknowledged <= _ACKNOWLEDGEMENTS | {"callsign"}:
            return None
        left = _words_left(self.readback)
        denied = any(not DENYING.isdisjoint(canonical_tokens(words)) for words in left)
        if acknowledged != {"callsign"} and not denied:
            return None
        if left:
            said = (" ".join(word.word for word in words).strip(" ,.;:?!") for words in left)
            return repr(" ... ".join(said))
        return "what was said beside the callsign" if self.unheard else None

    def _judge_item(self, item: Item, partner: Item | None) -> None:
        rule = self.rules.rule(item.name)
        if rule is None or item.name == "callsign":
            return
        if partner is not None:
            self._compare(item, partner, rule)
        elif not self._excused(rule) and not self._was_answered(item):
            carried = find_carried(item, rule, self.answered)
            if rule.answer != "acknowledge" or carried or not self._acknowledged(rule):
                self._missing(item, rule, carried)

    def _excused(self, rule: CallRule) -> bool:
        """Nothing is due, or the answer is a rightful NEGATIVE or UNABLE."""
        if rule.answer == "reply" and "negative" in self.said:
            return True
        return rule.answer == "none" or self.refused

    def _was_answered(self, item: Item) -> bool:
        """Tell whether CONFIRM was answered with what it asked about: "pin installed"."""
        about = asked_about(self.instruction, item.calls[0]) if item.name == "confirm" else None
        return about is not None and any(
            about in asked.calls and partner is not None
            for asked, partner in zip(self.issued, self.partners, strict=True)
        )

    def _compare(self, item: Item, partner: Item, rule: CallRule) -> None:
        said = align_destination(item.elements, partner.elements)
        missing = item.elements.keys() - said.keys()
        carried = find_carried(item, rule, self.answered, verb=True) if missing else {}
        for name, expected in item.elements.items():
            heard = said.get(name) or carried.get(name)
            heard = heard or find_astray(name, rule, self.answered)
            if heard is not None and name == "traffic":
                self._compare_traffic(item, partner, expected, heard)
            elif heard is not None:
                self._compare_element(item, name, expected, heard)
            elif rule.elements.get(name) == "required" and not self.refused:
                self._add(item, name, self._absent(), expected=expected)
        self._compare_reply(item, partner, rule)
        if partner.name == item.name:
            for name, extra in said.items():
                if name not in item.elements and rule.elements.get(name, "free") != "free":
                    self._judge_extra(item, name, extra)
        self._compare_verb(item, partner, rule)

    def _compare_element(self, item: Item, name: str, expected: Element, heard: Element) -> None:
        status = Status.CORRECT if same_element(expected, heard) else Status.WRONG
        severity = None
        if self.hearing.doubts_element(heard) or expected.doubtful:
            status = Status.NOT_CERTAIN
            # What need not have come back is no reason to ask again.
            rule = self.rules.calls[item.name]
            free = rule.elements.get(name) == "free" and rule.severity is not Severity.CRITICAL
            severity = Severity.ADVISORY if free else None
        elif status is Status.WRONG and answers_no(item, self.instruction, self.readback, heard):
            self.findings.append(
                make_remark(item.name, say_no(item, name, expected, heard), heard.span)
            )
            return
        self._add(item, name, status, expected=expected, heard=heard, severity=severity)

    def _compare_traffic(
        self, item: Item, partner: Item, expected: Element, heard: Element
    ) -> None:
        """Compare which traffic is meant, and what it does where both say so."""
        moving = with_movement(self.instruction, item, self.readback, partner)
        doubted = self.hearing.doubts_element(heard) or expected.doubtful
        if moving is None or doubted or not same_element(expected, heard):
            self._compare_element(item, "traffic", expected, heard)
        else:
            self._add(item, "traffic", Status.WRONG, expected=moving[0], heard=moving[1])

    def _compare_reply(self, item: Item, partner: Item, rule: CallRule) -> None:
        """Look for what the answer to a question must bring of its own: "starting NUMBER ONE"."""
        if partner.name in _BARE_REPLIES:
            return
        replies = [answer for answer in self.answered if answer.name in rule.answered_by]
        said = [name for answer in (partner, *replies) for name in answer.elements]
        for name in rule.reply_elements:
            if not any(element.startswith(name) for element in said):
                expected = item.elements.get(name)
                self._add(item, name, self._absent(), expected=expected, answer=partner)

    def _compare_verb(self, item: Item, partner: Item, rule: CallRule) -> None:
        """Say that a call without elements came back, or that a critical one may not have."""
        doubtful = self.hearing.doubts_verb(partner)
        bare = not item.elements and not rule.reply_elements
        if doubtful and (bare or rule.severity is Severity.CRITICAL):
            self._add(item, None, Status.NOT_CERTAIN, answer=partner)
        elif bare:
            self._add(item, None, Status.CORRECT, answer=partner)

    def _judge_extra(self, item: Item, name: str, extra: Element) -> None:
        """Judge an element that the same call did not have in the instruction."""
        if not was_issued(extra, self.instruction):
            doubtful = self.hearing.doubts_element(extra)
            status = Status.NOT_CERTAIN if doubtful else Status.NOT_ISSUED
            self.findings.append(make_finding(self.rules, item.name, name, status, heard=extra))

    def _acknowledged(self, rule: CallRule) -> bool:
        """ROGER and the like acknowledge; so does an answer to the rest where a callsign does."""
        if self._says_no():
            return False
        if self.said.intersection(rule.acknowledged_by):
            return True
        slight = rule.severity is not Severity.CRITICAL and "callsign" in rule.acknowledged_by
        return slight and any(self.partners)

    def _says_no(self) -> bool:
        """Whether NEGATIVE was said to what was no question."""
        return any(item.name == "negative" and not item.used for item in self.answered)

    def _missing(self, item: Item, rule: CallRule, carried: dict[str, Element]) -> None:
        required = [
            name
            for name in item.elements
            if name not in carried and rule.elements.get(name) == "required"
        ]
        instead = next(iter(sorted(self.said & _ACKNOWLEDGEMENTS)), None)
        if not required:
            for name, element in carried.items():
                self._compare_element(item, name, item.elements[name], element)
            self._add(item, None, self._absent(), instead=instead)
        for name in required:
            expected = item.elements[name]
            self._add(item, name, self._absent(), expected=expected, instead=instead)

    def _absent(self) -> Status:
        """Missing, unless something faint was left over that may have been it."""
        return Status.NOT_CERTAIN if self.hearing.doubts_rest(self.answered) else Status.MISSING

    def _add(
        self,
        item: Item,
        name: str | None,
        status: Status,
        *,
        expected: Element | None = None,
        heard: Element | None = None,
        answer: Item | None = None,
        severity: Severity | None = None,
        instead: str | None = None,
    ) -> None:
        """Add the finding of an instructed call; ``answer`` has its span where no value has."""
        self.findings.append(
            make_finding(
                self.rules,
                item.name,
                name,
                status,
                expected=expected,
                heard=heard,
                issued_span=item.span,
                answered_span=answer.span if answer else None,
                severity=severity,
                instead=instead,
            )
        )


def _words_left(reading: Reading) -> list[Sequence[Word]]:
    """The words that belong to no call, where they are not slight ones alone."""
    spans = (reading.words[slice(*span)] for span in reading.unparsed)
    return [words for words in spans if not SLIGHT_WORDS.issuperset(canonical_tokens(words))]
