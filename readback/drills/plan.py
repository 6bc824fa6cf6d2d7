"""One run of a drill laid out: values drawn, events placed, everything due in its order."""

import random
from collections.abc import Mapping, Sequence
from typing import Any

from readback.drills.checking import REFERENCE
from readback.drills.drawing import draw_values
from readback.drills.dues import Due, Expected, Happening, Plan
from readback.drills.model import Answer, Drill, Fault, SaidCall, Seat, Setting, Step
from readback.drills.ramp import RampState
from readback.errors import InputError
from readback.judging.rules import AUTHORITIES
from readback.phraseology.grammar import Grammar

__all__ = ["Due", "Expected", "Happening", "Plan", "make_plan"]


def make_plan(
    drill: Drill,
    grammar: Grammar,
    *,
    seed: int = 0,
    seat: Seat | None = None,
    authority: str | None = None,
    values: Mapping[str, str] | None = None,
) -> Plan:
    """Lay out one run.

    Args:
        drill: Checked by `readback.drills.files.load_drill`.
        grammar: Where values are drawn from.
        seed: Equal seeds give equal plans.
        seat: Of the trainee; None takes the drill's first. Wrong readbacks are planted only where
            another answers.
        authority: Whose rules count; None: the drill's.
        values: Those that are known, and therefore not drawn.

    Raises:
        InputError: The drill has not that seat, or there is no such authority.
        GrammarError: The drill's values cannot all differ as they must.
    """
    if seat is not None and seat not in drill.seats:
        raise InputError(
            f"This drill has no seat {seat!r}.", f"Use one of {', '.join(drill.seats)}."
        )
    if authority is not None and authority not in AUTHORITIES:
        known = ", ".join(AUTHORITIES)
        raise InputError(f"{authority!r} is no authority known here.", f"Use one of {known}.")
    return _Planner(drill, grammar, seed, seat or drill.seats[0], values or {}).plan(authority)


class _Planner:
    def __init__(
        self, drill: Drill, grammar: Grammar, seed: int, seat: Seat, known: Mapping[str, str]
    ) -> None:
        self._drill = drill
        self._seat = seat
        self._seed = seed
        self._rng = random.Random(f"drill {seed}")
        self._values = {**draw_values(drill.values, grammar, self._rng), **known}
        self._dues: list[Due] = []
        self._happenings: list[Happening] = []

    def plan(self, authority: str | None) -> Plan:
        self._lay_steps()
        drill = self._drill
        setting: dict[str, Any] = {
            name: self._text(value) if isinstance(value, str) else value
            for name, value in drill.setting.model_dump().items()
        }
        setting["authority"] = authority or drill.setting.authority
        return Plan(
            title=drill.title,
            seed=self._seed,
            seat=self._seat,
            callsign=self._text(drill.callsign),
            roster=tuple(map(self._text, drill.roster)),
            setting=Setting.model_validate(setting),
            values=self._values,
            start=drill.start,
            dues=tuple(self._dues),
            happenings=tuple(self._happenings),
            end_says=drill.end.says,
            end_ramp=_written(drill.end.ramp),
        )

    def _text(self, text: str) -> str:
        return REFERENCE.sub(lambda match: self._values[match[1]], text)

    # ---- steps and branches ----------------------------------------------------------------

    def _lay_steps(self) -> None:
        """Lay the steps in their order, each event after the step that was drawn for it."""
        events: dict[str, list[str]] = {}
        for name, branch in self._drill.branches.items():
            at, happens = self._rng.choice(branch.at), self._rng.random() < branch.chance
            if happens:
                events.setdefault(at, []).append(name)
        steps = self._drill.steps
        places = {step.id: number for number, step in enumerate(steps)}
        number = 0
        while number < len(steps):
            self._step(steps[number])
            here = steps[number].id
            number += 1
            for name in events.pop(here, ()):
                then = self._branch(name)
                if then == "end":
                    return
                if then != "resume":
                    number = places[then]

    def _branch(self, name: str) -> str:
        branch = self._drill.branches[name]
        self._happenings.append(
            Happening(
                branch=name,
                event=branch.event,
                announce=self._text(branch.announce),
                after=len(self._dues) - 1,
                ramp=_written(branch.ramp),
            )
        )
        for step in branch.steps:
            self._step(step)
        return branch.then

    def _step(self, step: Step) -> None:
        radio = "controller" in (step.station, step.to)
        callsign = self._text(step.callsign or self._drill.callsign) if radio else None
        answer = step.answer
        call = self._add(
            Due(
                number=0,
                step=step.id,
                part="call",
                station=step.station,
                to=step.to,
                say=self._said(step.say),
                signal=step.signal,
                words=self._text(step.words) if step.words else None,
                callsign=callsign,
                within_s=step.within_s,
                not_before_s=step.not_before_s,
                optional=step.optional,
                ramp=_written(step.ramp),
                prompt=self._text(step.prompt) if step.prompt else None,
                why=self._text(step.why) if step.why else None,
            )
        )
        if answer is None:
            return
        right = self._answer(step, answer, call)
        fault = answer.fault
        if fault is not None and answer.station != self._seat:
            self._add(self._faulty(right, fault))
            self._add(self._catch(call, right, fault))
            right = right.model_copy(update={"part": "answer again"})
        self._add(right)

    def _add(self, due: Due) -> Due:
        numbered = due.model_copy(update={"number": len(self._dues)})
        self._dues.append(numbered)
        return numbered

    def _answer(self, step: Step, answer: Answer, call: Due) -> Due:
        return Due(
            number=0,
            step=step.id,
            part="answer",
            station=answer.station,
            to=step.station,
            say=self._said(answer.say) or (() if answer.signal else call.say),
            signal=answer.signal,
            callsign=call.callsign,
            within_s=answer.within_s,
            optional=step.optional,
            answers=call.number,
            prompt=self._text(answer.prompt) if answer.prompt else None,
            why=call.why,
        )

    def _faulty(self, right: Due, fault: Fault) -> Due:
        wrong = []
        for said in right.say:
            if said.call != fault.call:
                wrong.append(said)
            elif fault.element is not None:
                values = {k: v for k, v in said.values.items() if k != fault.element}
                if fault.value is not None:
                    values[fault.element] = self._text(fault.value)
                wrong.append(said.model_copy(update={"values": values}))
        expected = next(said for said in right.say if said.call == fault.call)
        return right.model_copy(
            update={
                "say": tuple(wrong),
                "faulty": True,
                "fault": _fault_in_words(expected, fault, self._text(fault.value or "")),
            }
        )

    def _catch(self, call: Due, right: Due, fault: Fault) -> Due:
        # NEGATIVE, I SAY AGAIN and the right version: SERA.14075(d); Doc 9432, 2.8.3.9.
        standard = (
            Expected(call="negative"),
            Expected(call="i_say_again", optional=True),
            *_put_right(call.say, fault.call),
        )
        return call.model_copy(
            update={
                "part": "catch",
                "station": fault.catch_by or call.station,
                "to": right.station,
                # An instructor is no station of the frequency.
                "callsign": None if fault.catch_by == "instructor" else call.callsign,
                "put_right": fault.element,
                "say": self._said(fault.catch) or standard,
                "words": None,
                "within_s": fault.within_s,
                "not_before_s": None,
                "prompt": None,
                "ramp": {},
            }
        )

    def _said(self, calls: Sequence[SaidCall]) -> tuple[Expected, ...]:
        return tuple(
            Expected(
                call=said.call,
                values={name: self._text(value) for name, value in said.values.items()},
                free=said.free,
                instead=said.instead,
                saying=said.saying,
                optional=said.optional,
            )
            for said in calls
        )


def _put_right(say: Sequence[Expected], wrong: str) -> tuple[Expected, ...]:
    """Ask for what was wrong only; the rest may be said again (ICAO Doc 9432, 2.8.3.9)."""
    if wrong not in {one.call for one in say}:
        return tuple(say)
    rest = {"optional": True}
    return tuple(one if one.call == wrong else one.model_copy(update=rest) for one in say)


def _fault_in_words(expected: Expected, fault: Fault, heard: str) -> str:
    call = fault.call.replace("_", " ")
    if fault.element is None:
        return f"{call} was left out"
    element, value = fault.element.replace("_", " "), expected.values[fault.element]
    return f"{call}: {element} {value}, " + (f"said {heard}" if heard else "left out")


def _written(state: RampState) -> Mapping[str, Any]:
    """Keep the fields that a file writes."""
    return {name: getattr(state, name) for name in state.model_fields_set}
