"""How certain an element must be to be judged: thresholds by engine, from measured runs."""

import tomllib
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from readback.data import data_directory
from readback.errors import InputError
from readback.transmission import Transmission

FILE = "certainty.toml"
ANY = "any"
"""Where nobody says over which channel a recording came."""
NOISY = "noisy"
"""Where speech hardly stands above the noise, over whatever channel."""

LeastCertainty = Callable[[Transmission], float]
"""Tells how certain what was heard must be to be judged."""

_HEAD = """\
# The least certainty with which an element of a heard readback is judged, by engine and channel;
# below it the verdict is "say again". Written by readback measure --tune, and chosen on the run
# named under each engine: on the tuning split alone, never on what figures are reported on.
"""


class EngineThresholds(BaseModel):
    """The thresholds of one engine, and where they come from."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    least_certainty: dict[str, float] = Field(min_length=1)
    """``any`` (always there), ``clean``, ``radio``, ``interphone``, ``noisy`` -> from 0 to 1."""
    run: dict[str, str | int | list[str]]
    """The run: date, command, machine, recordings, split, voices, pairs, engine and its version."""


class Thresholds(BaseModel):
    """The content of ``grammars/certainty.toml``."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    engines: dict[str, EngineThresholds]

    def least_certainty(self, engine: str, channel: str = ANY) -> float:
        """Give the certainty below which an element is not judged.

        Args:
            engine: The recogniser's name.
            channel: ``clean``, ``radio`` or ``interphone``; ``any`` where it is not known.

        Returns:
            In [0, 1]. An engine that was not measured has the strictest threshold of those that
            were.
        """
        if engine not in self.engines:
            return max((own.least_certainty[ANY] for own in self.engines.values()), default=0.0)
        channels = self.engines[engine].least_certainty
        return channels.get(channel, channels[ANY])

    def judging(self, engine: str) -> LeastCertainty:
        """Tell by the channel that was found, as the commands do."""
        return lambda heard: self.least_certainty(engine, heard.channel or ANY)

    def with_engines(self, others: Mapping[str, EngineThresholds]) -> "Thresholds":
        """Replace the thresholds of these engines, and keep those of all others."""
        return Thresholds(engines={**self.engines, **others})


@lru_cache(maxsize=4)
def load_thresholds(path: Path | None = None) -> Thresholds:
    """Read the thresholds.

    Args:
        path: The file; None takes the one that is shipped.

    Raises:
        InputError: It is not there or not as it must be.
    """
    path = path or data_directory("grammars") / FILE
    try:
        with path.open("rb") as file:
            thresholds = Thresholds.model_validate(tomllib.load(file))
    except (OSError, tomllib.TOMLDecodeError, ValidationError) as error:
        why = str(error).splitlines()[0]
        raise InputError(f"{path}: cannot be read ({why}).", "Mend or restore it.") from error
    for engine, own in thresholds.engines.items():
        numbers = own.least_certainty
        if ANY not in numbers or not all(0 <= least <= 1 for least in numbers.values()):
            what = f"{path}: {engine} must have {ANY}, and numbers from 0 to 1."
            raise InputError(what, "Mend or restore it.")
    return thresholds


def save_thresholds(path: Path, thresholds: Thresholds) -> None:
    """Write thresholds as `load_thresholds` reads them.

    Raises:
        InputError: The file cannot be written.
    """
    lines = [_HEAD.rstrip()]
    for engine, own in thresholds.engines.items():
        lines += ["", f"[engines.{engine}.least_certainty]"]
        lines += [f"{channel} = {least}" for channel, least in own.least_certainty.items()]
        lines += ["", f"[engines.{engine}.run]"]
        lines += [f"{name} = {_toml(value)}" for name, value in own.run.items()]
    try:
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    except OSError as error:
        why = f"{path}: cannot be written ({error.strerror})."
        raise InputError(why, "Name another.") from error
    load_thresholds.cache_clear()


def _toml(value: str | int | list[str]) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return str(value)
