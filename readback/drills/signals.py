"""Hand signals that replace the headset (``grammars/hand_signals.yaml``)."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from readback.data import data_directory
from readback.field_errors import what_is_allowed, what_is_wrong
from readback.judging.rule_model import Source
from readback.judging.yaml_text import load_yaml
from readback.phraseology.words import canonical_words


class HandSignal(BaseModel):
    """One signal: what it says, how it is given, how it is drawn."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1)
    """In words, as a trainee types it: ``set brakes``."""
    other_names: tuple[str, ...] = ()
    meaning: str = Field(min_length=1)
    who: Literal["headset", "flight_deck", "wing_walker", "either"]
    """Who gives it."""
    says: str = Field(min_length=1)
    """How it is given, in words."""
    drawing: tuple[str, ...] = Field(min_length=1)
    """How it looks, in lines of characters; our own drawing."""
    call: str | None = None
    """The call that it stands for; None where no call does."""
    values: Mapping[str, str] = Field(default_factory=dict)
    """Of that call."""
    source: str
    """Key of the file's ``sources``."""


class _SignalFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    sources: Mapping[str, Source]
    signals: Mapping[str, HandSignal]


@lru_cache(maxsize=1)
def load_signals() -> Mapping[str, HandSignal]:
    """Load the hand signals that are shipped; see `read_signals`."""
    return read_signals(data_directory("grammars") / "hand_signals.yaml")


def read_signals(path: Path) -> Mapping[str, HandSignal]:
    """Read one file of hand signals by key, each ``source`` written out.

    Raises:
        GrammarError: The file is wrong.
    """
    text = load_yaml(path)
    try:
        file = _SignalFile.model_validate(text.content)
    except ValidationError as error:
        first = error.errors()[0]
        raise text.fail(first["loc"], what_is_wrong(first), what_is_allowed(first)) from error
    for key, signal in file.signals.items():
        if signal.source not in file.sources:
            known = f"Known here: {', '.join(file.sources)}."
            raise text.fail(("signals", key, "source"), "is no source of the file", known)
    return {
        key: signal.model_copy(update={"source": str(file.sources[signal.source])})
        for key, signal in file.signals.items()
    }


def read_signal(text: str) -> str | None:
    """Find the signal that is named by text, by its key; None where it names none."""
    return _keys_by_name().get(_canonical(text))


@lru_cache(maxsize=1)
def _keys_by_name() -> Mapping[tuple[str, ...], str]:
    return {
        _canonical(name): key
        for key, signal in load_signals().items()
        for name in (key.replace("_", " "), signal.name, *signal.other_names)
    }


def _canonical(text: str) -> tuple[str, ...]:
    return tuple(word for part in text.split() for word in canonical_words(part))
