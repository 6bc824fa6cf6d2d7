"""What a call changes on the ramp, and what must hold before it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from readback.drills.model import Setting
from readback.drills.ramp import RampState
from readback.drills.ramp_rules import CheckName, Conditions, RampRules, Trigger
from readback.judging.model import Finding, Severity, Status
from readback.phraseology.model import Call

ENGINES = {"twin_narrow": 2, "twin_wide": 2, "four_engine": 4}
"""How many engines the aircraft of a class has."""


@dataclass(frozen=True)
class SaidOnRamp:
    """One call, or one hand signal, with who said it."""

    station: str | None
    call: Call | None
    """None for a signal that stands for no call."""
    signal: str | None = None
    text: str = ""
    """The whole sentence."""
    words: frozenset[str] = frozenset()
    """The words of the call."""
    first: bool = True
    """Whether it begins the transmission: what follows in it was heard if it was."""

    def value(self, element: str) -> str | None:
        """Give the value of an element; None where it carries none."""
        found = self.call.element(element) if self.call else None
        return found.value if found else None


def judge_ramp(
    said: SaidOnRamp, state: RampState, setting: Setting, rules: RampRules
) -> tuple[Finding, ...]:
    """Find the interlocks that a call breaks.

    Args:
        said: What was said.
        state: Of the aircraft before it was said.
        setting: Of the drill.
        rules: The interlocks.

    Returns:
        A critical finding for each interlock that is broken, with the sentence that broke it.
    """
    findings = []
    for name, interlock in rules.interlocks.items():
        if not any(_triggered(trigger, said) for trigger in interlock.before):
            continue
        if not _holds(interlock.where, setting) or not _holds(interlock.when, state):
            continue
        wrong = _not_held(interlock.needs, state)
        if interlock.check is not None:
            wrong = _CHECKS[interlock.check](said, state, setting)
        if wrong:
            findings.append(
                Finding(
                    call=said.call.name if said.call else said.signal or name,
                    status=Status.WRONG,
                    severity=Severity.CRITICAL,
                    readback_span=said.call.span if said.call else None,
                    rule=interlock.says,
                    source=rules.source(interlock.source),
                    message=f"interlock {name.replace('_', ' ')}: {wrong}: “{said.text}”",
                )
            )
    return tuple(findings)


def cautions_at(said: SaidOnRamp, setting: Setting, rules: RampRules) -> Iterator[str]:
    """Tell the cautions that belong to a call, each with its source."""
    for caution in rules.cautions:
        if _triggered(caution.on, said) and _holds(caution.where, setting):
            yield f"{caution.says} {rules.source(caution.source)}"


def change_ramp(
    said: SaidOnRamp, state: RampState, setting: Setting, rules: RampRules
) -> RampState:
    """Give the state after a call."""
    for change in rules.changes:
        if not _triggered(change.on, said):
            continue
        if not _holds(change.where, setting) or not _holds(change.when, state):
            continue
        new = {name: _new_value(value, said, state) for name, value in change.set.items()}
        fields = {name: value for name, value in new.items() if value is not None}
        if change.engine is not None:
            fields |= _engines(change.engine, said.value("engine"), state, setting)
        if "hazard" in fields:
            fields["hazard_engine"] = said.value("engine") if fields["hazard"] else None
        state = RampState.model_validate({**state.model_dump(), **fields})
    return state


def _new_value(value: str, said: SaidOnRamp, state: RampState) -> Any:
    """Give what a field is set to; None where the call does not carry the element it takes."""
    if not value.startswith("$"):
        return value
    name = value[1:]
    return said.value(name) or getattr(state, name, None)


def _engines(what: str, number: str | None, state: RampState, setting: Setting) -> dict[str, Any]:
    engine = int(number) if number else state.engine_starting
    running = tuple(one for one in state.engines_running if one != engine)
    if what == "all_running":
        every = range(1, ENGINES[setting.aircraft] + 1)
        rest = tuple(one for one in every if one not in state.engines_running)
        return {"engine_starting": None, "engines_running": state.engines_running + rest}
    if what == "starting":
        return {"engine_starting": engine}
    if what == "running":
        more = () if engine is None else (engine,)
        return {"engine_starting": None, "engines_running": running + more}
    return {"engine_starting": None, "engines_running": running}


# ---- conditions --------------------------------------------------------------------------------


def _triggered(trigger: Trigger, said: SaidOnRamp) -> bool:
    if trigger.by and said.station is not None and said.station not in trigger.by:
        return False
    if said.signal is not None and said.signal in trigger.signals:
        return True
    if said.call is None:
        return False
    if trigger.any_call_but:
        # A hand signal is not spoken, whatever call it stands for.
        named = said.first and said.signal is None and said.call.name not in trigger.any_call_but
    else:
        named = said.call.name in trigger.calls
    if not named or (trigger.families and said.call.family not in trigger.families):
        return False
    if trigger.not_said is not None and trigger.not_said in said.words:
        return False
    if trigger.said and said.words.isdisjoint(trigger.said):
        return False
    return all(_has(said, name, values) for name, values in trigger.values.items())


def _has(said: SaidOnRamp, element: str, values: Sequence[str]) -> bool:
    value = said.value(element)
    return value is not None and (not values or value in values)


def _holds(conditions: Conditions, of: RampState | Setting) -> bool:
    return not _not_held(conditions, of)


def _not_held(conditions: Conditions, of: RampState | Setting) -> str:
    """Tell the first field that has none of the values, in words; empty where all hold."""
    for name, values in conditions.items():
        value = getattr(of, name)
        has = value if isinstance(value, tuple) else (value,)
        if not any(as_text(one) in values for one in has):
            return f"{name.replace('_', ' ')} is {as_text(value) or 'not told'}"
    return ""


def as_text(value: object) -> str:
    """Write a field of a state as the rules write it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return " ".join(map(str, value)) or "none"
    return "none" if value is None else str(value)


# ---- checks ------------------------------------------------------------------------------------


def _engine_of_class(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    engine = said.value("engine")
    if engine is None or int(engine) <= ENGINES[setting.aircraft]:
        return ""
    return f"the aircraft has no engine {engine}"


def _engine_order(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    engine = said.value("engine")
    if engine is None or setting.start_order is None:
        return ""
    waiting = [one for one in setting.start_order.split() if int(one) not in state.engines_running]
    if not waiting:
        return f"engine {engine} runs already"
    return "" if engine == waiting[0] else f"engine {waiting[0]} is next, not {engine}"


def _one_start(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    engine = said.value("engine")
    if state.engine_starting is None or engine in (None, str(state.engine_starting)):
        return ""
    return f"engine {state.engine_starting} is not yet stable"


def _none_running(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    others = [str(one) for one in state.engines_running if str(one) != said.value("engine")]
    return f"engine {' '.join(others)} runs already" if others else ""


def _names_engine(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    return "" if said.value("engine") else "no engine is named"


def _no_start_running(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    return f"engine {state.engine_starting} is being started" if state.engine_starting else ""


def _side_of_turn(said: SaidOnRamp, state: RampState, setting: Setting) -> str:
    if setting.turn is None or state.signal_side in ("", setting.turn):
        return ""
    return f"the turn is to the {setting.turn}, the signal was announced on the {state.signal_side}"


_CHECKS: Mapping[CheckName, Callable[[SaidOnRamp, RampState, Setting], str]] = {
    "engine_of_class": _engine_of_class,
    "engine_order": _engine_order,
    "one_start": _one_start,
    "none_running": _none_running,
    "names_engine": _names_engine,
    "no_start_running": _no_start_running,
    "side_of_turn": _side_of_turn,
}
