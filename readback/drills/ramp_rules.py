"""The rules of the ramp (``grammars/rules/interlocks.yaml``), read and checked."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from readback.data import data_directory
from readback.drills.model import Setting, Station
from readback.drills.ramp import RampState
from readback.drills.signals import load_signals
from readback.field_errors import what_is_allowed, what_is_wrong
from readback.judging.rule_model import Source
from readback.judging.yaml_text import YamlText, load_yaml
from readback.phraseology.generator import element_sets
from readback.phraseology.grammar import load_grammar

Conditions = Mapping[str, tuple[str, ...]]
"""Field to the values that it may have, written as text: ``{"tow_bar": ("true",)}``."""
CheckName = Literal[
    "engine_of_class",
    "engine_order",
    "one_start",
    "none_running",
    "names_engine",
    "no_start_running",
    "side_of_turn",
]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Trigger(_Part):
    """What is said or shown, by whom."""

    calls: tuple[str, ...] = ()
    any_call_but: tuple[str, ...] = ()
    """Any call other than these, instead of ``calls``."""
    families: tuple[str, ...] = ()
    """Of these grammar files only; empty: of any."""
    signals: tuple[str, ...] = ()
    by: tuple[Station, ...] = ()
    """Empty: by anyone."""
    values: Mapping[str, tuple[str, ...]] = Field(default_factory=dict, alias="with")
    """Elements it must carry, with one of these values; an empty list takes any."""
    said: tuple[str, ...] = ()
    """Words of which one must be said; empty: none."""
    not_said: str | None = None
    """A word that makes it another thing: READY TO START asks, STARTING announces."""


class Change(_Part):
    """What becomes of the state when it is said."""

    on: Trigger
    where: Conditions = Field(default_factory=dict)
    when: Conditions = Field(default_factory=dict)
    set: Mapping[str, str] = Field(default_factory=dict)
    engine: Literal["starting", "running", "all_running", "stopped"] | None = None


class Interlock(_Part):
    """What must hold before something is said."""

    before: tuple[Trigger, ...] = Field(min_length=1)
    where: Conditions = Field(default_factory=dict)
    when: Conditions = Field(default_factory=dict)
    needs: Conditions = Field(default_factory=dict)
    check: CheckName | None = None
    says: str = Field(min_length=1)
    source: str


class Caution(_Part):
    """What is told at a call; nothing is judged."""

    on: Trigger
    where: Conditions = Field(default_factory=dict)
    says: str = Field(min_length=1)
    source: str


class RampRules(_Part):
    """The whole file."""

    sources: Mapping[str, Source]
    changes: tuple[Change, ...]
    interlocks: Mapping[str, Interlock]
    cautions: tuple[Caution, ...] = ()

    def source(self, key: str) -> str:
        """Write out the source of that key."""
        return str(self.sources[key])


@lru_cache(maxsize=1)
def load_ramp_rules() -> RampRules:
    """Load the rules that are shipped.

    Raises:
        GrammarError: See `read_ramp_rules`.
    """
    return read_ramp_rules(data_directory("grammars") / "rules" / "interlocks.yaml")


def read_ramp_rules(path: Path) -> RampRules:
    """Read one file of ramp rules.

    Raises:
        GrammarError: A field is wrong, or names a call, field, signal or source that is not there.
    """
    text = load_yaml(path)
    try:
        rules = RampRules.model_validate(text.content)
    except ValidationError as error:
        first = error.errors()[0]
        raise text.fail(first["loc"], what_is_wrong(first), what_is_allowed(first)) from error
    for name, interlock in rules.interlocks.items():
        place: tuple[str | int, ...] = ("interlocks", name)
        if bool(interlock.needs) == bool(interlock.check):
            raise text.fail(place, "needs either needs or check", "Write one of them.")
        _check_source(text, place, interlock.source, rules)
        _check_names(text, place, interlock.needs, interlock.when, interlock.where)
        for trigger in interlock.before:
            _check_trigger(text, place, trigger)
    for number, change in enumerate(rules.changes):
        place = ("changes", number)
        _check_names(text, place, change.set, change.when, change.where)
        _check_trigger(text, place, change.on)
        _check_set(text, place, change)
    for number, caution in enumerate(rules.cautions):
        place = ("cautions", number)
        _check_source(text, place, caution.source, rules)
        _check_names(text, place, {}, {}, caution.where)
        _check_trigger(text, place, caution.on)
    return rules


def _check_source(text: YamlText, place: tuple[str | int, ...], key: str, rules: RampRules) -> None:
    if key not in rules.sources:
        known = f"Known here: {', '.join(rules.sources)}."
        raise text.fail((*place, "source"), f"no source is named {key!r}", known)


def _check_names(
    text: YamlText,
    place: tuple[str | int, ...],
    state: Mapping[str, object],
    when: Mapping[str, object],
    where: Mapping[str, object],
) -> None:
    for names, model in (([*state, *when], RampState), ([*where], Setting)):
        for name in names:
            if name not in model.model_fields:
                known = f"Use one of {', '.join(model.model_fields)}."
                raise text.fail(place, f"{name!r} is no field of {model.__name__}", known)


def _check_set(text: YamlText, place: tuple[str | int, ...], change: Change) -> None:
    """Refuse a value that its field cannot have, and an element that no call here carries."""
    carried = {*RampState.model_fields}
    for name in change.on.calls:
        carried |= {one for ways in element_sets(load_grammar(), name) for one in ways}
    for field, value in change.set.items():
        where = (*place, "set", field)
        if value.startswith("$"):
            if value[1:] not in carried:
                what = f"{', '.join(change.on.calls)} carries no {value[1:]}"
                raise text.fail(where, what, "Name an element of the call.")
            continue
        try:
            RampState.model_validate({field: value})
        except ValidationError as error:
            first = error.errors()[0]
            allowed = what_is_allowed(first, otherwise="Mend that value.")
            raise text.fail(where, what_is_wrong(first), allowed) from error


def _check_trigger(text: YamlText, place: tuple[str | int, ...], trigger: Trigger) -> None:
    grammar = load_grammar()
    for name in (*trigger.calls, *trigger.any_call_but):
        if name not in grammar.calls:
            raise text.fail(place, f"{name!r} is no call", "Use one of docs/phraseology.md.")
    for element in trigger.values:
        ways = [one for name in trigger.calls for one in element_sets(grammar, name)]
        if not any(element in names for names in ways):
            what = f"{', '.join(trigger.calls)} carries no {element}"
            raise text.fail(place, what, "Name an element of the call.")
    for name in trigger.signals:
        if name not in load_signals():
            known = f"Use one of {', '.join(load_signals())}."
            raise text.fail(place, f"no signal {name!r} is known", known)
