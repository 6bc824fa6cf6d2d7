"""The words in which the program says a call (``grammars/drill_wording.yaml``)."""

import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from readback.data import data_directory
from readback.field_errors import what_is_allowed, what_is_wrong
from readback.judging.yaml_text import load_yaml

ELEMENT = re.compile(r"\((\w+)\)")
"""An element in a template: ``(runway)``."""


class _WordingFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    said: Mapping[str, tuple[str, ...]]


@lru_cache(maxsize=1)
def load_wording() -> Mapping[str, tuple[str, ...]]:
    """Load the templates that are shipped; see `read_wording`."""
    return read_wording(data_directory("grammars") / "drill_wording.yaml")


def read_wording(path: Path) -> Mapping[str, tuple[str, ...]]:
    """Read the templates of each call.

    Raises:
        GrammarError: The file is wrong.
    """
    text = load_yaml(path)
    try:
        return _WordingFile.model_validate(text.content).said
    except ValidationError as error:
        first = error.errors()[0]
        raise text.fail(first["loc"], what_is_wrong(first), what_is_allowed(first)) from error


def plain_template(words: str) -> str:
    """Write published words as they are said: small letters, what may be left out kept."""
    return words.replace("[", "").replace("]", "").lower()
