"""The engine of an exchange: transmissions in, what is due and what went wrong out.

It has no clock and no screen: whoever drives it gives the times, and shows what comes back.
"""

from collections.abc import Sequence
from typing import Final

from readback.drills.ear import Ear
from readback.drills.events import DrillEvent, Kind
from readback.drills.faults import (
    end_findings,
    extra_findings,
    missing_finding,
    own_findings,
    uncited,
)
from readback.drills.matching import Heard, Matcher
from readback.drills.placing import Placer, State
from readback.drills.plan import Due, Plan
from readback.drills.ramp import RampState
from readback.drills.ramp_rules import RampRules, load_ramp_rules
from readback.drills.voice import Voice
from readback.drills.watch import Broken, RampWatch
from readback.drills.weighed import LeastCertainty, Scales
from readback.judging.model import Finding, Outcome, Severity, Verdict
from readback.judging.rules import RuleBook, load_rules
from readback.phraseology.grammar import Grammar, load_grammar
from readback.phraseology.model import Reading
from readback.transmission import Transmission

__all__ = ["FIND", "DrillRun", "State"]

FIND: Final = -1
"""Let the engine find what a transmission was said for."""


class DrillRun:
    """One run through a plan.

    Args:
        plan: What is due.
        grammar: The calls; None takes the shipped ones.
        rules: Of readbacks; None takes those of the plan's authority.
        ramp_rules: Interlocks; None takes the shipped ones.
        least_certainty: With how much it must be certain what was heard to be judged, as `check`
            takes it; or what tells it of the transmissions that are judged together.
    """

    def __init__(
        self,
        plan: Plan,
        *,
        grammar: Grammar | None = None,
        rules: RuleBook | None = None,
        ramp_rules: RampRules | None = None,
        least_certainty: float | LeastCertainty = 0.0,
    ) -> None:
        self.plan = plan
        self.grammar = grammar or load_grammar()
        self.rules = rules or load_rules(plan.setting.authority)
        self.matcher = Matcher(self.grammar, self.rules)
        self.voice = Voice(plan, self.grammar, self.matcher)
        self.events: list[DrillEvent] = []
        self.ended = False
        self._scales = Scales(self.matcher, least_certainty)
        self._watch = RampWatch(
            plan.start,
            plan.setting,
            ramp_rules or load_ramp_rules(),
            self.matcher,
            self._scales,
        )
        self._ear = Ear(plan, self.grammar, self.matcher)
        self._placer = Placer(plan, self.matcher, self._ear)
        self._states: list[State] = ["open"] * len(plan.dues)
        self._at_fault: set[int] = set()
        self._came_late: set[int] = set()
        self._said: dict[int, Heard] = {}
        self._next = 0
        self._last_at: float | None = None
        self._happened: set[int] = set()

    # ---- what is due ---------------------------------------------------------------------------

    @property
    def ramp(self) -> RampState:
        """The aircraft, as what was said until now makes it known."""
        return self._watch.state

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
        return None if due.answers is None else self._asked(due.answers).reading

    def _asked(self, number: int) -> Heard:
        """Give a call as it was said, or else as it is due."""
        said = self._said.get(number)
        if said is not None:
            return said
        due = self.plan.dues[number]
        return self._ear.spoken(due.station, Transmission.typed(self.voice.say(due)))

    def fits(self, station: str | None, transmission: Transmission) -> list[float]:
        """Score a transmission with everything that is due in the plan; see `Matcher.score`."""
        return self._placer.fits(station, transmission)

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
        if isinstance(transmission, str):
            transmission = Transmission.typed(transmission)
        before = len(self.events)
        known = self.due if due == FIND or due is None else self.plan.dues[due]
        heard = self._ear.hear(station, transmission, known)
        number = self._find(heard) if due == FIND else due
        if due == FIND and number is not None and self._skips_in_doubt(number, heard):
            message = "It was not heard with certainty what this is for."
            self._tell("say again", message, None, heard, at_s)
        elif number is None:
            self._take_extra(heard, at_s)
            self._judge_ramp(heard, None, at_s)
        elif self._states[number] == "said":
            self._take_again(self.plan.dues[number], heard, at_s)
        else:
            self._take(self.plan.dues[number], heard, at_s)
        if at_s is not None:
            end = transmission.end if transmission.end is not None else transmission.start
            self._last_at = at_s + max((end or 0.0) - (transmission.start or 0.0), 0.0)
        return tuple(self.events[before:])

    def _find(self, heard: Heard) -> int | None:
        return self._placer.find(heard, self.due, self._states, self._at_fault)

    def _skips_in_doubt(self, number: int, heard: Heard) -> bool:
        """Tell whether something would be reported missing for what may have been said for it."""
        due = self.due
        if due is None or number <= due.number:
            return False
        return not self._scales.agree(heard, lambda one: self._find(one) == number)

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
        wrong = end_findings(self.plan, self.ramp) if complete and not broken_off else ()
        if wrong:
            self._tell(
                "wrong", "The aircraft does not stand as it must at the end.", findings=wrong
            )
        self._tell("ended", "The drill was broken off." if broken_off else self.plan.end_says)
        return tuple(self.events[before:])

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
        self._said[due.number] = heard
        if due.is_answer and due.signal is None:
            self._judge_answer(due, heard, at_s)
        else:
            self._judge_call(due, heard, at_s)
        self._judge_ramp(heard, due, at_s)
        self._watch.change(due.ramp)
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
            fault = self.plan.dues[due.number - 1].fault
            message = f"The wrong readback was not caught: {fault}."
        finding = missing_finding(due, self.plan, self.rules)
        self._tell("missing", message, due, None, at_s, (finding,))

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
        judged = self._scales.weigh(
            heard,
            lambda one, least: self.matcher.findings(due, one, least),
            critical=any(self._is_critical(said.call) for said in due.say),
        )
        findings, kind = uncited(judged.findings), _kind_of(judged)
        told = {"wrong": "not as it is due", "not certain": "not heard with certainty"}
        message = f"{_title(due)}: {told.get(kind, 'as it is due')}."
        self._tell(kind, message, due, heard, at_s, findings)

    def _is_critical(self, call: str) -> bool:
        rule = self.rules.rule(call)
        return rule is not None and rule.severity is Severity.CRITICAL

    def _judge_answer(self, due: Due, heard: Heard, at_s: float | None) -> None:
        assert due.answers is not None
        asked = self._asked(due.answers)
        verdict = self._scales.answer(asked, heard, due.callsign)
        if due.faulty:
            self._take_planted(due, heard, verdict, at_s)
            return
        if verdict.verdict is Outcome.SAY_AGAIN and not _is_judged(verdict):
            self._states[due.number] = "open"
            self._tell("say again", f"{_title(due)}: still due.", due, heard, at_s, (), verdict)
            return
        own = self._scales.weigh(
            heard,
            lambda one, least: own_findings(due, one, asked.reading, self.matcher, least),
        )
        findings, kind = verdict.mistakes + own.mistakes, _kind_of(verdict, own)
        if kind == "wrong":
            self._at_fault.add(due.number)
        self._tell(kind, f"{_title(due)}: {verdict.verdict}.", due, heard, at_s, findings, verdict)

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
            self._said[due.number] = heard
        self._tell("repeated", f"{_title(due)} was said again.", due, heard, at_s)

    def _take_extra(self, heard: Heard, at_s: float | None) -> None:
        if heard.signal is None and not heard.names:
            self._tell("say again", "Nothing was understood.", None, heard, at_s)
            return
        judged = self._scales.weigh(heard, lambda one, _: extra_findings(one, self.rules))
        if judged.verdict is Outcome.SAY_AGAIN:
            message = "It was not heard with certainty what was said."
            self._tell("say again", message, None, heard, at_s, judged.findings)
            return
        message = f"Not due here: “{heard.text}”."
        self._tell("not due", message, None, heard, at_s, judged.findings)

    # ---- the ramp ------------------------------------------------------------------------------

    def _judge_ramp(self, heard: Heard, due: Due | None, at_s: float | None) -> None:
        for told in self._watch.hear(heard):
            if isinstance(told, Broken):
                self._tell("interlock", told.message, due, heard, at_s, told.findings)
            elif due is None or not due.is_answer:
                self._tell("caution", told, due, heard, at_s)

    def _happen(self, number: int, at_s: float | None) -> None:
        for place, happening in enumerate(self.plan.happenings):
            if happening.after == number and place not in self._happened:
                self._happened.add(place)
                self._watch.change(happening.ramp)
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


def _kind_of(*judged: Verdict) -> Kind:
    """Tell what came from what came right; what was not heard with certainty accuses nobody."""
    outcomes = {one.verdict for one in judged} - {Outcome.CORRECT}
    if not outcomes:
        return "came"
    return "not certain" if outcomes == {Outcome.SAY_AGAIN} else "wrong"


def _is_judged(verdict: Verdict) -> bool:
    """Tell whether more than a deferral was heard."""
    return any(finding.severity is not Severity.ADVISORY for finding in verdict.findings)
