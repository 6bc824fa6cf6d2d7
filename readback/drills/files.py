"""Drill files found, read and checked."""

from pathlib import Path

from pydantic import ValidationError

from readback.data import data_directory
from readback.drills.checking import check_names
from readback.drills.model import Drill
from readback.drills.model_errors import fields_of, wrong_field
from readback.errors import InputError
from readback.judging.yaml_text import load_yaml
from readback.phraseology.grammar import load_grammar


def drills_directory() -> Path:
    """Find the catalogue."""
    return data_directory("grammars") / "drills"


def find_drills() -> dict[str, Path]:
    """List the drills of the catalogue: name to file, by name."""
    return {path.stem: path for path in sorted(drills_directory().glob("*.yaml"))}


def find_drill(name: str) -> Path:
    """Find a drill by its name in the catalogue, or by the path of its file.

    Raises:
        InputError: There is none.
    """
    known = find_drills()
    if name in known:
        return known[name]
    if name.endswith((".yaml", ".yml")):
        return Path(name)
    raise InputError(f"There is no drill {name!r}.", 'See "readback drills", or give a .yaml file.')


def load_drill(path: Path) -> Drill:
    """Read one drill file and check it.

    Raises:
        GrammarError: It cannot be read, is not YAML, or a field is wrong; one line that names file,
            line, field, what is wrong and what is allowed.
    """
    text = load_yaml(path)
    if not isinstance(text.content, dict):
        raise text.fail((), "holds no fields", f"Write {fields_of(Drill)}.")
    try:
        drill = Drill.model_validate(text.content)
    except ValidationError as error:
        raise wrong_field(text, error.errors()[0]) from error
    check_names(drill, text, load_grammar())
    return drill
