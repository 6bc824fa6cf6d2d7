"""Faithful readbacks: what may come back for an instruction under the rules of an authority."""

import random
from collections.abc import Mapping, Sequence

from readback.judging.rules import CallRule, RuleBook
from readback.judging.scenarios import Part
from readback.phraseology.generator import element_sets
from readback.phraseology.grammar import Grammar
from readback.phraseology.samples import random_value

Kept = tuple[int, str] | None
"""Index of an instructed part and its element that must come back."""

_Template = tuple[tuple[str, tuple[str, ...]], ...]
ECHO = "="
"""Stands in a template for the call itself."""
# Answers in other words; the values are those of the instruction, or any where it has none.
REPLIES: Mapping[str, tuple[_Template, ...]] = {
    "radio_check": ((("readability", ("readability",)),),),
    "headset_check": ((("readability", ("readability",)),), (("affirm", ()),)),
    "ready_question": ((("affirm", ()),), (("negative", ()),), (("ready", ()),)),
    "vacated_question": ((("affirm", ()),), (("negative", ()),), (("vacated", ()),)),
    "stop": (((ECHO, ()),), (("hold_position", ()),)),
    "cancel_take_off": ((("hold_position", ()),), (("stop", ()),)),
    "ready_for_push": (
        (("ready_for_push_statement", ()),),
        ((ECHO, ()),),
        (("negative", ()),),
        (("stand_by", ()),),
    ),
    "which_direction": ((("push_direction", ("facing",)),), (("push_clearance", ("tail",)),)),
    "push_clearance": (((ECHO, ()),), (("push_back", ()), ("push_direction", ("facing",)))),
    "brakes_order": ((("brakes", ("brake_state",)),),),
    "slow_push": (((ECHO, ()),), (("slow", ()),)),
    "stop_push": (((ECHO, ()),), (("push_stopped", ()),)),
    "ready_to_start": ((("starting_engine", ("engine",)),),),
    "start_clearance": (((ECHO, ()),), (("starting_engine", ("engine",)),)),
    "starting_engine": (((ECHO, ()),), (("start_clearance", ("engine",)),)),
    "engine_hazard": (((ECHO, ()),), (("start_abandoned", ("engine",)),)),
    "disconnect": ((("disconnecting", ()), ("visual", ("side",))),),
    "show_pin": (((ECHO, ()),), (("pin_shown", ()),)),
}
_ACKNOWLEDGING = ("roger", "wilco", "affirm")
LEADING = frozenset({"condition", "give_way", "follow"})
"""What follows these may belong to the other aircraft: "behind the helicopter pushing back"."""
_ECHO_CHANCE = 0.7
_UNASKED_CHANCE = 0.3


def judged_as(part: Part, rules: RuleBook) -> tuple[str, CallRule | None]:
    """Name the call that a part is judged as, with its rule; None where it wants nothing."""
    rule = rules.rule(part.call)
    if rule is not None and rule.stands_for:
        return rule.stands_for[0], rules.rule(rule.stands_for[0])
    return part.call, rule


def can_be_answered(call: str, rules: RuleBook) -> bool:
    """Tell whether a faithful answer to a call is known here."""
    rule = rules.rule(call)
    return rule is not None and (call in REPLIES or (rule.echo and rule.answer != "reply"))


def faithful_reply(
    issued: Sequence[Part],
    grammar: Grammar,
    rules: RuleBook,
    rng: random.Random,
    keep: Kept = None,
) -> tuple[Part, ...]:
    """Draw one of the replies that say what they must.

    Args:
        issued: The instruction.
        grammar: Which elements can be said together.
        rules: What must come back, what may be left out or acknowledged.
        rng: The only source of chance.
        keep: What comes back even if it need not.

    Returns:
        The parts of the readback, without the callsign.
    """
    reply: list[Part] = []
    for index, part in enumerate(issued):
        kept = keep[1] if keep and keep[0] == index else None
        for answer in _answer(index, part, kept, grammar, rules, rng):
            if answer.answers is not None or answer not in reply:
                reply.append(answer)
    if rng.random() < 0.4 and not any(part.call in LEADING for part in reply):
        rng.shuffle(reply)
    return tuple(reply)


def _answer(
    index: int,
    part: Part,
    kept: str | None,
    grammar: Grammar,
    rules: RuleBook,
    rng: random.Random,
) -> list[Part]:
    _, rule = judged_as(part, rules)
    if rule is None:
        return []
    if kept is None:
        if rule.answer == "none" and rng.random() > _UNASKED_CHANCE:
            return []
        words = [word for word in _ACKNOWLEDGING if word in rule.acknowledged_by]
        if rule.answer == "acknowledge" and words and rng.random() > _ECHO_CHANCE:
            return [Part(rng.choice(words))]
    template = rng.choice(REPLIES.get(part.call, (((ECHO, ()),),)))
    if kept is not None and not _carries(template, part, kept):
        template = ((ECHO, ()),) if rule.echo and rule.answer != "reply" else template
    if any(not _sayable(part, names) for _, names in template):
        template = ((ECHO, ()),)
    answers = []
    for call, names in template:
        if call == ECHO:
            values = _kept_values(part, rule, kept, grammar, rng)
            answers.append(Part(part.call, values, index))
        else:
            values = {n: part.values.get(n) or random_value(grammar, n, rng) for n in names}
            answers.append(Part(call, values, index))
    return answers


def _carries(template: _Template, part: Part, kept: str) -> bool:
    return any(kept in names or (call == ECHO) for call, names in template)


def _sayable(part: Part, names: tuple[str, ...]) -> bool:
    """Tell whether a template suits: one with a direction is no answer to one without."""
    if part.call in ("ready_to_start", "which_direction", "radio_check", "headset_check"):
        return True
    return part.call == "disconnect" or all(name in part.values for name in names)


def _kept_values(
    part: Part, rule: CallRule, kept: str | None, grammar: Grammar, rng: random.Random
) -> dict[str, str]:
    """Leave out what may be left out, where the call can be said without it."""
    required = {name for name in part.values if rule.elements.get(name) == "required"}
    if kept is not None:
        required.add(kept)
    options = [
        names
        for names in element_sets(grammar, part.call)
        if required <= set(names) <= part.values.keys()
    ]
    full = tuple(part.values)
    names = full if rng.random() < 0.5 or not options else rng.choice(options)
    return {name: part.values[name] for name in names}
