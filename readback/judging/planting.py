"""Ways to plant one error into a readback; each gives None where the instruction has no room."""

from collections.abc import Callable, Sequence

from readback.judging.drafts import Draft, Fault, Planted
from readback.judging.model import Status
from readback.judging.rules import CallRule
from readback.judging.scenarios import Part, draw_other
from readback.phraseology.generator import element_sets

Plant = Callable[[Draft], Planted | None]
Alter = Callable[[Draft, str, str], str | None]
"""Element and value -> another value; None where there is none."""
_CLEARANCES = (
    ("cross", "runway"),
    ("line_up", "runway"),
    ("take_off", "runway"),
    ("land", "runway"),
    ("backtrack", "runway"),
    ("enter_runway", "runway"),
    ("hold_short", "runway"),
)
_RAMP_CLEARANCES = (
    ("push_clearance", "facing"),
    ("start_clearance", "engine"),
    ("starting_engine", "engine"),
    ("bypass_pin", "pin_state"),
    ("brakes", "brake_state"),
)


def alter_value(names: frozenset[str], alter: Alter) -> Plant:
    """Make the mistake of saying another value for one of some elements."""

    def planted(draft: Draft) -> Planted | None:
        for index, part, call, _ in draft.judged():
            for name in sorted(names & part.values.keys()):
                reply = draft.reply(keep=(index, name))
                at = _place(reply, index, name)
                value = None if at is None else alter(draft, name, part.values[name])
                if at is None or value is None or _is_of_other(draft, index, name, value):
                    continue
                said = reply[at]
                reply[at] = Part(said.call, {**said.values, name: value}, index)
                return draft.planted(reply, Fault(call, name, Status.WRONG))
        return None

    return planted


def _place(reply: Sequence[Part], index: int, name: str) -> int | None:
    places = [at for at, part in enumerate(reply) if part.answers == index and name in part.values]
    return places[0] if places else None


def _is_of_other(draft: Draft, index: int, name: str, value: str) -> bool:
    """Tell whether the same call has that value in another part: the error would be another."""
    return any(
        other.call == draft.issued[index].call and other.values.get(name) == value
        for number, other in enumerate(draft.issued)
        if number != index
    )


def drop_call(calls: frozenset[str], *, others: bool = False) -> Plant:
    """Make the mistake of leaving out an instruction, one of ``calls`` or any other."""

    def planted(draft: Draft) -> Planted | None:
        for index, part, call, rule in draft.judged():
            if (part.call in calls) is others:
                continue
            fault = _absence(draft, part, call, rule)
            reply = [said for said in draft.reply() if said.answers != index]
            if fault is not None and not _still_answered(part, rule, reply):
                return draft.planted(reply, fault)
        return None

    return planted


def _absence(draft: Draft, part: Part, call: str, rule: CallRule) -> Fault | None:
    """Say how the absence of an instruction shows; None where it may be absent."""
    if rule.answer not in ("readback", "reply"):
        return None
    required = [name for name in part.values if rule.elements.get(name) == "required"]
    joined = any(other.call == part.call for other in draft.issued if other is not part)
    if not required and joined:
        return None
    return Fault(call, required[0] if required else None, Status.MISSING)


def _still_answered(part: Part, rule: CallRule, reply: Sequence[Part]) -> bool:
    # No other call of the instruction has the runway of a bare runway.
    if part.call == "runway":
        return False
    return any(
        said.call in (*rule.answered_by, "negative")
        or (said.call == part.call and said.values == part.values)
        for said in reply
    )


def drop_element(draft: Draft) -> Planted | None:
    """Say the call without one of the elements that it must have."""
    for index, part, call, rule in draft.judged():
        for name in part.values:
            if rule.elements.get(name) != "required":
                continue
            reply = draft.reply(keep=(index, name))
            at = _place(reply, index, name)
            # A bare value beside the verb would be taken for its own.
            if at is None or any(said.call == name for said in reply):
                continue
            values = {key: value for key, value in reply[at].values.items() if key != name}
            if tuple(sorted(values)) in element_sets(draft.grammar, reply[at].call):
                reply[at] = Part(reply[at].call, values, index)
                return draft.planted(reply, Fault(call, name, Status.MISSING))
    return None


def acknowledge(draft: Draft) -> Planted | None:
    """Say ROGER or WILCO where something has to be read back."""
    for _, part, call, rule in draft.judged():
        fault = _absence(draft, part, call, rule)
        if rule.answer == "readback" and fault is not None:
            return draft.planted([Part(draft.rng.choice(("roger", "wilco")))], fault)
    return None


def say_instead(call: str, instead: str) -> Plant:
    """Make the mistake of reading back one runway instruction as another."""

    def planted(draft: Draft) -> Planted | None:
        for index, part, _, _ in draft.judged():
            if part.call != call or "runway" not in part.values:
                continue
            reply = draft.reply(keep=(index, "runway"))
            at = _place(reply, index, "runway")
            if at is not None:
                reply[at] = Part(instead, {"runway": part.values["runway"]}, index)
                return draft.planted(reply, Fault(instead, None, Status.NOT_ISSUED))
        return None

    return planted


def add_clearance(draft: Draft) -> Planted | None:
    """Read back a clearance beside what was instructed."""
    said = {part.call for part in draft.issued}
    for _, part, call, rule in draft.judged():
        said |= {call, *(() if part.call == "runway" else rule.answered_by)}
    free = []
    for call, name in _CLEARANCES if draft.callsign else _RAMP_CLEARANCES:
        rule_of_it = draft.rules.rule(call)
        if call not in said and rule_of_it is not None and rule_of_it.unissued is not None:
            free.append((call, name))
    if not free:
        return None
    call, name = draft.rng.choice(free)
    value = draw_other(draft.grammar, name, draft.issued, draft.rng)
    reply = draft.reply()
    reply.insert(draft.rng.randint(0, len(reply)), Part(call, {name: value}))
    return draft.planted(reply, Fault(call, None, Status.NOT_ISSUED))


def other_callsign(alter: Callable[[Draft, str], str]) -> Plant:
    """Make the mistake of answering with another callsign."""

    def planted(draft: Draft) -> Planted | None:
        if draft.callsign is None:
            return None
        fault = Fault("callsign", "callsign", Status.WRONG)
        return Planted(tuple(draft.reply()), alter(draft, draft.callsign), fault)

    return planted


def no_callsign(draft: Draft) -> Planted | None:
    """Answer without a callsign."""
    if draft.callsign is None:
        return None
    reply = tuple(draft.reply()) or (Part("roger"),)
    return Planted(reply, None, Fault("callsign", "callsign", Status.MISSING))
