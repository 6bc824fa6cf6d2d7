"""What the model of a drill file cannot tell: names must be known, calls sayable."""

import re
from collections.abc import Iterable, Iterator

from readback.drills.model import Answer, Drill, DrillValue, SaidCall, Step
from readback.drills.signals import load_signals
from readback.errors import GrammarError, ReadbackError
from readback.judging.rules import load_rules
from readback.judging.yaml_text import YamlText
from readback.phraseology.forms import value_forms
from readback.phraseology.generator import element_rules, element_sets
from readback.phraseology.grammar import Grammar
from readback.phraseology.values import KINDS

REFERENCE = re.compile(r"\$([a-z][a-z0-9_]*)")
"""``$name``: the value of that name."""
Place = tuple[str | int, ...]
"""The path of keys and numbers to a part of a file."""
_SETTING_ELEMENTS = {"stand": "stand", "turn": "side", "start_order": "engine_sequence"}
_SEE_CALLS = "Use one of the calls of docs/phraseology.md."


def check_names(drill: Drill, text: YamlText, grammar: Grammar) -> None:
    """Check a drill against the grammar, the rules and itself.

    Args:
        drill: Whose fields are right.
        text: Its file, for the lines of errors.
        grammar: The calls and elements.

    Raises:
        GrammarError: Names file, line, field, what is wrong and what is allowed.
    """
    _Check(drill, text, grammar).run()


def steps_of(drill: Drill) -> Iterator[tuple[Place, Step]]:
    """Give each step of a drill and of its branches with its place in the file."""
    for number, step in enumerate(drill.steps):
        yield ("steps", number), step
    for name, branch in drill.branches.items():
        for number, step in enumerate(branch.steps):
            yield ("branches", name, "steps", number), step


def step_place(drill: Drill, step: str) -> Place:
    """Find where in its file a step stands; the whole file where there is none of that name."""
    for place, one in steps_of(drill):
        if one.id == step:
            return place
    return ()


class _Check:
    """One drill checked, part by part."""

    def __init__(self, drill: Drill, text: YamlText, grammar: Grammar) -> None:
        self._drill = drill
        self._text = text
        self._grammar = grammar
        self._steps = {step.id for _, step in steps_of(drill)}

    def run(self) -> None:
        for name, value in self._drill.values.items():
            self._value(("values", name), value)
        for name, element in _SETTING_ELEMENTS.items():
            given = getattr(self._drill.setting, name)
            if given is not None:
                self._sayable(("setting", name), element, given)
                self._agrees(("setting", name), element, given)
        self._known(("callsign",), self._drill.callsign)
        for number, callsign in enumerate(self._drill.roster):
            self._known(("roster", number), callsign)
        if self._drill.callsign not in self._drill.roster:
            known = ", ".join(self._drill.roster)
            raise self._fail(("callsign",), "is not in the roster", f"The roster has {known}.")
        self._seats()
        self._step_names()
        for place, step in steps_of(self._drill):
            self._step(place, step)
        self._branches()

    def _fail(self, place: Place, what: str, remedy: str) -> GrammarError:
        return self._text.fail(place, what, remedy)

    def _value(self, place: Place, value: DrillValue) -> None:
        elements = sorted({rule.split("__")[0] for rule in self._grammar.elements} | {"callsign"})
        if value.element not in elements:
            raise self._fail(
                (*place, "element"),
                f"{value.element!r} is no element",
                f"Use one of {', '.join(elements)}.",
            )
        for name in value.unlike:
            if name not in self._drill.values:
                raise self._fail((*place, "unlike"), f"no value is named {name!r}", self._names())
        if value.value is not None:
            self._sayable((*place, "value"), value.element, value.value)
        for number, choice in enumerate(value.one_of):
            self._sayable((*place, "one_of", number), value.element, choice)
        for end in value.between or ():
            self._sayable((*place, "between"), value.element, str(end))

    def _sayable(self, place: Place, element: str, value: str) -> None:
        """Refuse a value that no rule of the element says."""
        if value.startswith("$") or element == "callsign":
            self._known(place, value)
            return
        rules = element_rules(self._grammar, element)
        try:
            said = any(value_forms(self._grammar, rule, value, "icao") for rule in rules)
        except ReadbackError as error:
            raise self._fail(place, f"{value!r} is no {element}", error.remedy) from error
        if not said:
            raise self._fail(place, f"{value!r} is no {element}", self._allowed(rules))

    def _allowed(self, rules: Iterable[str]) -> str:
        tags = sorted({tag for rule in rules for tag in self._grammar.tags_of(rule)} - set(KINDS))
        return f"Use one of {', '.join(tags)}." if tags else "Write it as a chart does."

    def _known(self, place: Place, text: str) -> None:
        for name in REFERENCE.findall(text):
            if name not in self._drill.values:
                raise self._fail(place, f"no value is named {name!r}", self._names())

    def _names(self) -> str:
        return f"Known here: {', '.join(self._drill.values) or 'none'}."

    def _seats(self) -> None:
        for number, seat in enumerate(self._drill.seats):
            self._station(("seats", number), seat)

    def _station(self, place: Place, station: str) -> None:
        if station not in self._drill.stations:
            known = ", ".join(self._drill.stations)
            raise self._fail(place, f"{station} takes no part in it", f"Stations here: {known}.")

    def _step_names(self) -> None:
        seen: set[str] = set()
        for place, step in steps_of(self._drill):
            if step.id in seen:
                raise self._fail((*place, "id"), f"{step.id!r} is used twice", "Rename one.")
            seen.add(step.id)

    def _step(self, place: Place, step: Step) -> None:
        self._station((*place, "from"), step.station)
        self._station((*place, "to"), step.to)
        self._said(place, step)
        for name in ("words", "prompt", "why", "callsign"):
            if getattr(step, name) is not None:
                self._known((*place, name), getattr(step, name))
        if step.answer is None:
            return
        within = (*place, "answer")
        self._station((*within, "from"), step.answer.station)
        if step.answer.station == step.station:
            raise self._fail((*within, "from"), "a station answers itself", "Name another.")
        self._said(within, step.answer)
        self._answerable(within, step, step.answer)
        if step.answer.prompt is not None:
            self._known((*within, "prompt"), step.answer.prompt)
        self._fault(within, step)

    def _answerable(self, place: Place, step: Step, answer: Answer) -> None:
        """Refuse an answer that says nothing where the same words again are no answer."""
        if answer.say or answer.signal:
            return
        rules = load_rules(self._drill.setting.authority)
        for said in step.say:
            rule = rules.rule(said.call)
            if rule is not None and (rule.answer == "reply" or not rule.echo):
                what = f"needs say: {said.call} is not answered by the same words"
                raise self._fail(
                    (*place, "say"), what, f"Say one of {', '.join(rule.answered_by)}."
                )

    def _said(self, place: Place, part: Step | Answer) -> None:
        for number, said in enumerate(part.say):
            self._call((*place, "say", number), said)
        signals = load_signals()
        if part.signal is not None and part.signal not in signals:
            known = f"Use one of {', '.join(signals)}."
            raise self._fail((*place, "signal"), f"no signal {part.signal!r} is known", known)

    def _call(self, place: Place, said: SaidCall) -> None:
        for name in (said.call, *said.instead):
            if name not in self._grammar.calls:
                where = "call" if name == said.call else "or"
                raise self._fail((*place, where), f"{name!r} is no call", _SEE_CALLS)
        for name, value in said.values.items():
            where_value = (*place, "with", name)
            if name not in {element for ways in self._ways(said.call) for element in ways}:
                raise self._fail(where_value, f"{said.call} carries no {name}", self._carried(said))
            self._sayable(where_value, name, value)
            self._agrees(where_value, name, value)
        for number, name in enumerate(said.free):
            if name not in said.values:
                known = f"It has {', '.join(said.values) or 'none'}."
                raise self._fail((*place, "free", number), f"{name} is not among with", known)
        if tuple(sorted(said.values)) not in self._ways(said.call):
            raise self._fail((*place, "call"), "cannot be said with these", self._carried(said))

    def _agrees(self, place: Place, element: str, value: str) -> None:
        """Refuse a named value of another kind: a runway where a taxiway is said."""
        match = REFERENCE.fullmatch(value)
        if match is None or element == "callsign":
            return
        other = self._drill.values[match[1]].element
        if other == "callsign" or self._kind(other) != self._kind(element):
            raise self._fail(
                place, f"{value} is a {other}", f"Name one that is a value of {element}."
            )

    def _kind(self, element: str) -> str:
        return self._grammar.kind_of(element_rules(self._grammar, element)[0])

    def _ways(self, call: str) -> tuple[tuple[str, ...], ...]:
        return element_sets(self._grammar, call)

    def _carried(self, said: SaidCall) -> str:
        ways = ["nothing" if not names else " + ".join(names) for names in self._ways(said.call)]
        return f"It carries {'; or '.join(ways)}."

    def _fault(self, place: Place, step: Step) -> None:
        fault = step.answer.fault if step.answer else None
        if fault is None:
            return
        where = (*place, "fault")
        said = {call.call: call for call in (*step.say, *(step.answer.say if step.answer else ()))}
        if fault.call not in said:
            known = ", ".join(said)
            raise self._fail((*where, "call"), f"{fault.call} is not said here", f"Use {known}.")
        if fault.element is not None and fault.element not in said[fault.call].values:
            known = ", ".join(said[fault.call].values) or "none"
            what = f"{fault.call} has no {fault.element} here"
            raise self._fail((*where, "element"), what, f"It has {known}.")
        if fault.value is not None:
            if fault.element is None:
                raise self._fail((*where, "value"), "needs an element", "Name the element.")
            self._sayable((*where, "value"), fault.element, fault.value)
        if fault.catch_by is not None:
            self._station((*where, "catch_by"), fault.catch_by)
        for number, call in enumerate(fault.catch):
            self._call((*where, "catch", number), call)

    def _branches(self) -> None:
        main = [step.id for step in self._drill.steps]
        for name, branch in self._drill.branches.items():
            for number, at in enumerate(branch.at):
                if at not in main:
                    raise self._no_step(("branches", name, "at", number), at, main)
            if branch.then not in ("resume", "end", *main):
                raise self._no_step(("branches", name, "then"), branch.then, main)
            self._known(("branches", name, "announce"), branch.announce)

    def _no_step(self, place: Place, step: str, known: Iterable[str]) -> GrammarError:
        return self._fail(place, f"{step!r} is no step", f"Use one of {', '.join(known)}.")
