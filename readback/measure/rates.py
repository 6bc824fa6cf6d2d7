"""How often each recogniser was wrong when it was measured: figures that come with the program.

They stand in ``grammars/measured.json``, which `readback.measure.digest` writes.
"""

from functools import cache

from pydantic import BaseModel, ConfigDict, ValidationError

from readback.data import data_directory
from readback.errors import InputError
from readback.measure.statistics import Share

FILE = "measured.json"


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True)


class ConditionRates(_Part):
    """One recogniser under one condition, all voices together."""

    condition: str
    """``clean``, ``radio 10 dB``."""
    passed: Share
    """Wrong readbacks judged correct, of the wrong ones: the dangerous mistake."""
    rejected: Share
    """Right readbacks judged incorrect or incomplete, of the right ones."""
    say_again: Share
    """Of all readbacks."""


class EngineRates(_Part):
    """One recogniser."""

    version: str
    least_certainty: float | None
    conditions: tuple[ConditionRates, ...]


class Measured(_Part):
    """The digest of one run."""

    date: str
    command: str
    recordings: str
    voices: tuple[str, ...]
    pairs: int
    engines: dict[str, EngineRates]


@cache
def load_measured() -> Measured:
    """Read the figures that come with the program.

    Raises:
        InputError: The file is damaged.
    """
    path = data_directory("grammars") / FILE
    try:
        return Measured.model_validate_json(path.read_bytes())
    except (OSError, ValidationError) as error:
        raise InputError(f"{path}: cannot be read.", "Install readback anew.") from error
