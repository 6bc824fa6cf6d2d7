"""The engine of an exchange: transmissions in, what is due and what went wrong out.

It has no clock and no screen: whoever drives it gives the times, and shows what comes back.
"""

from collections.abc import Iterator, Sequence
from typing import Final, Literal

from readback.drills.events import DrillEvent, Kind
from readback.drills.interlocks import (
    SaidOnRamp,
    as_text,
    cautions_at,
    change_ramp,
    judge_ramp,
)
from readback.drills.matching import FITS, Heard, Matcher, words_of
from readback.drills.plan import Due, Happening, Plan
from readback.drills.ramp import RampState
from readback.drills.ramp_rules import RampRules, load_ramp_rules
from readback.drills.signals import HandSignal, load_signals, read_signal
from readback.drills.voice import Voice
from readback.judging.findings import make_remark
from readback.judging.judge import judge
from readback.judging.model import Finding, Outcome, Severity, Status, Verdict
from readback.judging.rules import RuleBook, load_rules
from readback.phraseology.grammar import Grammar, load_grammar
from readback.phraseology.model import Call, Element, Reading
from readback.phraseology.parser import parse
from readback.transmission import Transmission

State = Literal["open", "said", "missing", "not needed"]
FIND: Final = -1
"""Let the engine find what a transmission was said for."""
_PLACED = 1.0
_PLACED_OTHER = 0.55
_ACKNOWLEDGED = 0.6
_WHOLE_BY_OTHER = 0.95
_UNASKED = 0.8
_SAID_BEFORE = 0.35
_EACH_STEP_AHEAD = 0.04
_EACH_STEP_BACK = 0.02
_DEFERRED = frozenset({"say_again", "stand_by"})


class DrillRun:
    """One run through a plan.

    Args:
        plan: What is due.
        grammar: The calls; None takes the shipped ones.
        rules: Of readbacks; None takes those of the plan's authority.
        ramp_rules: Interlocks; None takes the shipped ones.
        least_certainty: Elements heard with less are not judged.
    """

    def __init__(
        self,
        plan: Plan,
        *,
        grammar: Grammar | None = None,
        rules: RuleBook | None = None,
        ramp_rules: RampRules | None = None,
        least_certainty: float = 0.0,
    ) -> None:
        self.plan = plan
        self.grammar = grammar or load_grammar()
        self.rules = rules or load_rules(plan.setting.authority)
        self.matcher = Matcher(self.grammar, self.rules)
        self.voice = Voice(plan, self.grammar, self.matcher)
        self.ramp: RampState = plan.start
        """The aircraft, as what was said until now makes it known."""
        self.events: list[DrillEvent] = []
        self.ended = False
        self._ramp_rules = ramp_rules or load_ramp_rules()
        self._least_certainty = least_certainty
        self._states: list[State] = ["open"] * len(plan.dues)
        self._at_fault: set[int] = set()
        self._came_late: set[int] = set()
        self._readings: dict[int, Reading] = {}
        self._fits: dict[tuple[str | None, str], list[float]] = {}
        self._next = 0
        self._last_at: float | None = None
        self._happened: set[int] = set()
        self._callsigns = tuple(dict.fromkeys([plan.callsign, *plan.roster]))
        self._signals = any(due.signal for due in plan.dues)

    # ---- what is due ---------------------------------------------------------------------------

    @property
    def due(self) -> Due | None:
        """What is due now; None after the last."""
        for number in range(self._next, len(self.plan.dues)):
            if self._states[number] == "open":
                return self.plan.dues[number]
        return None

    def state_of(self, number: int) -> State:
        """Tell what became of one due."""
        return self._states[number]

    def instruction_for(self, due: Due) -> Reading | None:
        """Give what an answer answers, as it was said; None for a call."""
        if due.answers is None:
            return None
        return self._readings.get(due.answers) or self._as_planned(self.plan.dues[due.answers])

    def _as_planned(self, asked: Due) -> Reading:
        return parse(self.voice.say(asked), self.grammar, self._callsigns)

    # ---- hearing -------------------------------------------------------------------------------

    def hear(
        self,
        station: str | None,
        transmission: Transmission | str,
        at_s: float | None = None,
        *,
        due: int | None = FIND,
    ) -> tuple[DrillEvent, ...]:
        """Take one transmission.

        Args:
            station: Who spoke; None where the recording does not tell.
            transmission: Heard or typed; where the drill has hand signals, the name of one.
            at_s: Seconds from the start of the drill to its first word; None: not measured.
            due: The number of the due that it was said for, None for nothing that is due, where
                somebody knows better (`readback.drills.align`).

        Returns:
            What there is to tell, in the order in which it happened.
        """
        heard = self.listen(station, transmission)
        number = self._find(heard) if due == FIND else due
        before = len(self.events)
        if number is None:
            self._take_extra(heard, at_s)
            self._judge_ramp(heard, None, at_s)
        elif self._states[number] == "said":
            self._take_again(self.plan.dues[number], heard, at_s)
        else:
            self._take(self.plan.dues[number], heard, at_s)
        if at_s is not None:
            length = 0.0
            if isinstance(transmission, Transmission) and transmission.end is not None:
                length = transmission.end - (transmission.start or 0.0)
            self._last_at = at_s + max(length, 0.0)
        return tuple(self.events[before:])

    def retry(self, number: int) -> None:
        """Make a call due again that was not said as it is due; what it changed stays."""
        self._states[number] = "open"
        self._next = min(self._next, number)

    def finish(self, *, broken_off: bool = False) -> tuple[DrillEvent, ...]:
        """End the drill: tell what was never said, and whether the aircraft stands as it must.

        Args:
            broken_off: What is still due was not reached, and is no fault.
        """
        if self.ended:
            return ()
        before = len(self.events)
        self.ended = True
        complete = self.due is None
        for due in self.plan.dues:
            if self._states[due.number] == "open" and not (due.optional or broken_off):
                self._miss(due, "the end of the drill", None)
        wrong = self._end_findings() if complete and not broken_off else ()
        if wrong:
            self._tell(
                "wrong", "The aircraft does not stand as it must at the end.", findings=wrong
            )
        self._tell("ended", "The drill was broken off." if broken_off else self.plan.end_says)
        return tuple(self.events[before:])

    def _end_findings(self) -> tuple[Finding, ...]:
        stands = {name: getattr(self.ramp, name) for name in self.plan.end_ramp}
        return tuple(
            Finding(
                call="end",
                element=name,
                status=Status.WRONG,
                severity=Severity.CRITICAL,
                expected=as_text(wanted),
                heard=as_text(stands[name]),
                message=f"at the end {name.replace('_', ' ')} is {as_text(stands[name])}, not"
                f" {as_text(wanted)}",
            )
            for name, wanted in self.plan.end_ramp.items()
            if stands[name] != wanted
        )

    def listen(self, station: str | None, transmission: Transmission | str) -> Heard:
        """Parse a transmission, or the name of a hand signal, without taking it."""
        if isinstance(transmission, str):
            transmission = Transmission.typed(transmission)
        if self._signals:
            signal = read_signal(transmission.text)
            if signal is not None and self._signal_possible(signal, station, transmission):
                reading = Reading(text=transmission.text, words=transmission.words)
                return self.matcher.hear(station, reading, signal)
        return self._as_spoken(station, transmission)

    def _as_spoken(self, station: str | None, transmission: Transmission) -> Heard:
        reading = parse(transmission, self.grammar, self._callsigns)
        return self.matcher.hear(station, reading, None)

    def _signal_possible(
        self, signal: str, station: str | None, transmission: Transmission
    ) -> bool:
        """Tell a signal from the same words spoken: where none is due, or these words are."""
        if self.plan.setting.headset == "none":
            return True
        due = self.due
        spoken = due is not None and due.signal is None and station in (None, due.station)
        if due and spoken and self.matcher.covers(due, self._as_spoken(station, transmission)):
            return False
        return any(due.signal == signal for due in self.plan.dues)

    # ---- finding what it was said for ----------------------------------------------------------

    def _find(self, heard: Heard) -> int | None:
        due = self.due
        here = due.number if due else len(self.plan.dues)
        best, best_number = FITS, None
        for other in self.plan.dues:
            score = self._placed_score(other, heard, here)
            if score > best:
                best, best_number = score, other.number
        if best_number is not None or due is None:
            return best_number
        # Whoever has to answer has answered, with whatever words.
        spoke = heard.station in (None, due.station)
        return due.number if spoke and due.is_answer and heard.signal is None else None

    def _placed_score(self, due: Due, heard: Heard, here: int) -> float:
        """Score a fit, less the further it is from what is due now."""
        state = self._states[due.number]
        if state == "not needed":
            return 0.0
        score = self.score(due, heard)
        if score <= 0:
            return score
        if due.answers is not None and self._states[due.answers] == "open":
            score -= _UNASKED
        if state == "said":
            return score - (0.0 if due.number in self._at_fault else _SAID_BEFORE)
        if due.number == here:
            return score + self._here_bonus(due, heard, score)
        if due.number > here:
            return score - min(_EACH_STEP_AHEAD * (due.number - here), 0.4)
        return score - min(_EACH_STEP_BACK * (here - due.number), 0.4)

    def _here_bonus(self, due: Due, heard: Heard, score: float) -> float:
        """Prefer what is due now: its calls with whatever values, or all of it by another."""
        spoke = heard.station in (None, due.station)
        if not self.matcher.covers(due, heard):
            return _ACKNOWLEDGED if due.is_answer and spoke and heard.only_acknowledges else 0.0
        if spoke:
            return _PLACED
        return _PLACED_OTHER if score >= _WHOLE_BY_OTHER else 0.0

    def fits(self, station: str | None, transmission: Transmission) -> list[float]:
        """Score a transmission with everything that is due in the plan; see `Matcher.score`."""
        key = (station, transmission.text)
        if key not in self._fits:
            heard = self.listen(station, transmission)
            self._fits[key] = [self.score(due, heard) for due in self.plan.dues]
        return self._fits[key]

    def score(self, due: Due, heard: Heard) -> float:
        """Tell how well a transmission fits; see `Matcher.score`."""
        asked = None if due.answers is None else self.plan.dues[due.answers]
        return self.matcher.score(due, heard, asked=asked)

    # ---- taking what was due -------------------------------------------------------------------

    def _take(self, due: Due, heard: Heard, at_s: float | None) -> None:
        came_late = self._states[due.number] == "missing"
        if came_late and due.answers not in self._came_late:
            message = f"{_title(due)} came after what it has to come before."
            self._tell("out of order", message, due, heard, at_s)
        if came_late:
            self._came_late.add(due.number)
        self._miss_until(due, at_s)
        self._judge_station(due, heard, at_s)
        self._judge_time(due, heard, at_s)
        self._states[due.number] = "said"
        self._readings[due.number] = heard.reading
        if due.is_answer and due.signal is None:
            self._judge_answer(due, heard, at_s)
        else:
            self._judge_call(due, heard, at_s)
        self._judge_ramp(heard, due, at_s)
        if due.ramp:
            self.ramp = self.ramp.model_copy(update=dict(due.ramp))
        if not came_late and self._states[due.number] == "said":
            self._next = due.number + 1
            self._happen(due.number, at_s)

    def _miss_until(self, due: Due, at_s: float | None) -> None:
        for other in self.plan.dues[self._next : due.number]:
            if self._states[other.number] != "open":
                continue
            if other.optional:
                self._states[other.number] = "not needed"
            else:
                self._miss(other, _title(due), at_s)
                self._happen(other.number, at_s)

    def _miss(self, due: Due, before: str, at_s: float | None) -> None:
        self._states[due.number] = "missing"
        if due.answers is not None and self._states[due.answers] == "missing":
            # What was never asked needs no answer; it may still come if the call does.
            return
        message = f"{_title(due)} was not said before {before}."
        if due.part == "catch":
            message = f"The wrong readback was not caught: {self._fault_before(due)}."
        self._tell("missing", message, due, None, at_s, (self._missing_finding(due),))

    def _fault_before(self, due: Due) -> str:
        return self.plan.dues[due.number - 1].fault

    def _missing_finding(self, due: Due) -> Finding:
        first = next(iter(due.say), None)
        if due.part == "catch":
            first = next((one for one in due.say if one.values), first)
        asked = first
        if due.answers is not None:
            asked = next(iter(self.plan.dues[due.answers].say), None)
        name = first.call if first else due.signal or due.step
        rule = self.rules.rule(asked.call) if asked else None
        severity = rule.severity if rule else Severity.REQUIRED
        return Finding(
            call=name,
            status=Status.MISSING,
            severity=Severity.CRITICAL if due.part == "catch" else severity,
            expected=" ".join(first.values.values()) or None if first else None,
            rule=rule.says if rule else None,
            source=self.rules.source(asked.call) if asked and rule else None,
            message=f"{due.station.replace('_', ' ')}: {name.replace('_', ' ')} was not said",
        )

    def _judge_station(self, due: Due, heard: Heard, at_s: float | None) -> None:
        if heard.station is None or heard.station == due.station:
            return
        who, whose = heard.station.replace("_", " "), due.station.replace("_", " ")
        message = f"{_title(due)} is for the {whose} to say, not for the {who}."
        self._tell("wrong station", message, due, heard, at_s)

    def _judge_time(self, due: Due, heard: Heard, at_s: float | None) -> None:
        if at_s is None or self._last_at is None:
            return
        waited = at_s - self._last_at
        if due.within_s is not None and waited > due.within_s:
            message = f"{_title(due)} came after {waited:.0f} s, within {due.within_s:g} s is due."
            self._tell("late", message, due, heard, at_s)
        if due.not_before_s is not None and waited < due.not_before_s:
            least = f"{due.not_before_s:g}"
            message = f"{_title(due)} came after {waited:.0f} s, not before {least} s is due."
            self._tell("early", message, due, heard, at_s)

    def _judge_call(self, due: Due, heard: Heard, at_s: float | None) -> None:
        findings = self.matcher.findings(due, heard)
        mistakes = [one for one in findings if one.severity is not Severity.ADVISORY]
        kind: Kind = "wrong" if mistakes else "came"
        message = f"{_title(due)}: " + ("not as it is due." if mistakes else "as it is due.")
        self._tell(kind, message, due, heard, at_s, findings)

    def _judge_answer(self, due: Due, heard: Heard, at_s: float | None) -> None:
        instruction = self.instruction_for(due)
        assert instruction is not None
        verdict = judge(
            instruction,
            heard.reading,
            self.rules,
            callsign=due.callsign,
            least_certainty=self._least_certainty,
        )
        if due.faulty:
            self._take_planted(due, heard, verdict, at_s)
            return
        if verdict.verdict is Outcome.SAY_AGAIN and not _is_judged(verdict):
            self._states[due.number] = "open"
            self._tell("say again", f"{_title(due)}: still due.", due, heard, at_s, (), verdict)
            return
        findings = verdict.mistakes + self._own_findings(due, heard, instruction)
        if findings:
            self._at_fault.add(due.number)
        kind: Kind = "wrong" if findings else "came"
        self._tell(kind, f"{_title(due)}: {verdict.verdict}.", due, heard, at_s, findings, verdict)

    def _own_findings(self, due: Due, heard: Heard, asked: Reading) -> tuple[Finding, ...]:
        """Find wrong values that the answer brings of its own: the side of the signal."""
        kinds = {element.kind for call in asked.calls for element in call.elements}
        return tuple(
            finding
            for finding in self.matcher.findings(due, heard)
            if finding.status is Status.WRONG
            and finding.element is not None
            and finding.element != "callsign"
            and self.matcher.element(finding.element, "").kind not in kinds
        )

    def _take_planted(self, due: Due, heard: Heard, verdict: Verdict, at_s: float | None) -> None:
        if verdict.verdict in (Outcome.INCORRECT, Outcome.INCOMPLETE):
            message = f"{_title(due)}: {due.fault}."
            self._tell("wrong readback", message, due, heard, at_s, verdict.mistakes, verdict)
            return
        for other in self.plan.dues[due.number + 1 : due.number + 3]:
            self._states[other.number] = "not needed"
        self._tell("came", f"{_title(due)}: {verdict.verdict}.", due, heard, at_s, (), verdict)

    # ---- what was not due ----------------------------------------------------------------------

    def _take_again(self, due: Due, heard: Heard, at_s: float | None) -> None:
        answer = next(
            (one for one in self.plan.dues if one.answers == due.number and not one.faulty), None
        )
        if due.number in self._at_fault:
            self._at_fault.discard(due.number)
            self._judge_answer(due, heard, at_s)
            if due.number not in self._at_fault and self.events[-1].kind == "came":
                self.events[-1] = self.events[-1].model_copy(update={"kind": "put right"})
            self._judge_ramp(heard, due, at_s)
            return
        if answer is not None and answer.number in self._at_fault:
            self._at_fault.discard(answer.number)
            self._states[answer.number] = "open"
            self._next = min(self._next, answer.number)
            self._readings[due.number] = heard.reading
        self._tell("repeated", f"{_title(due)} was said again.", due, heard, at_s)

    def _take_extra(self, heard: Heard, at_s: float | None) -> None:
        if heard.signal is None and not heard.names:
            self._tell("say again", "Nothing was understood.", None, heard, at_s)
            return
        unissued = []
        for item in heard.items:
            rule = self.rules.rule(item.name)
            if rule is not None and rule.unissued is not None:
                name = item.name.replace("_", " ")
                unissued.append(
                    Finding(
                        call=item.name,
                        status=Status.NOT_ISSUED,
                        severity=rule.unissued,
                        readback_span=item.span,
                        rule=rule.says,
                        source=self.rules.source(item.name),
                        message=f"{name} was said but not due",
                    )
                )
        remark = (make_remark("transmission", "nothing of this was due"),)
        message = f"Not due here: “{heard.text}”."
        self._tell("not due", message, None, heard, at_s, tuple(unissued) or remark)

    # ---- the ramp ------------------------------------------------------------------------------

    def _judge_ramp(self, heard: Heard, due: Due | None, at_s: float | None) -> None:
        setting = self.plan.setting
        for said in self._said_on_ramp(heard):
            broken = judge_ramp(said, self.ramp, setting, self._ramp_rules)
            if broken:
                rules = " ".join(dict.fromkeys(finding.rule or "" for finding in broken))
                self._tell("interlock", rules, due, heard, at_s, broken)
            if due is None or not due.is_answer:
                for caution in cautions_at(said, setting, self._ramp_rules):
                    self._tell("caution", caution, due, heard, at_s)
            self.ramp = change_ramp(said, self.ramp, setting, self._ramp_rules)

    def _said_on_ramp(self, heard: Heard) -> Iterator[SaidOnRamp]:
        if heard.signal is not None:
            call = _call_of(load_signals()[heard.signal], self.matcher)
            yield SaidOnRamp(heard.station, call, heard.signal, heard.text)
            return
        for place, call in enumerate(heard.reading.calls):
            words = words_of(call, heard.reading)
            yield SaidOnRamp(heard.station, call, None, heard.text, words, first=place == 0)

    def _happen(self, number: int, at_s: float | None) -> None:
        for place, happening in enumerate(self.plan.happenings):
            if happening.after == number and place not in self._happened:
                self._happened.add(place)
                self.ramp = self.ramp.model_copy(update=dict(happening.ramp))
                self._tell("event", happening.announce, at_s=at_s, step=happening.branch)

    # ---- telling -------------------------------------------------------------------------------

    def _tell(
        self,
        kind: Kind,
        message: str,
        due: Due | None = None,
        heard: Heard | None = None,
        at_s: float | None = None,
        findings: Sequence[Finding] = (),
        verdict: Verdict | None = None,
        step: str | None = None,
    ) -> None:
        self.events.append(
            DrillEvent(
                kind=kind,
                message=message,
                step=due.step if due else step,
                due=due.number if due else None,
                part=due.part if due else None,
                station=heard.station if heard else None,
                text=heard.text if heard else "",
                at_s=at_s,
                findings=tuple(findings),
                verdict=verdict,
                why=due.why if due else None,
            )
        )


def _title(due: Due) -> str:
    return due.name[:1].upper() + due.name[1:]


def _is_judged(verdict: Verdict) -> bool:
    """Tell whether more than a deferral was heard."""
    return any(finding.severity is not Severity.ADVISORY for finding in verdict.findings)


def _call_of(signal: HandSignal, matcher: Matcher) -> Call | None:
    if signal.call is None:
        return None
    elements: list[Element] = [matcher.element(n, v) for n, v in signal.values.items()]
    return Call(name=signal.call, family="interphone", span=(0, 0), elements=tuple(elements))


__all__ = ["FIND", "DrillRun", "Happening", "State"]
