"""A mistake in a field of a drill file, said in one line."""

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from readback.drills.model import Drill
from readback.errors import GrammarError
from readback.field_errors import what_is_allowed, what_is_wrong
from readback.judging.yaml_text import YamlText

Place = tuple[str | int, ...]


def wrong_field(text: YamlText, error: ErrorDetails) -> GrammarError:
    """Make the error of one field; names file, line, what is wrong and what is allowed."""
    place = error["loc"]
    return text.fail(place, what_is_wrong(error), _what_is_allowed(error, place))


def _what_is_allowed(error: ErrorDetails, place: Place) -> str:
    kind = error["type"]
    if kind == "too_short":
        return "Give at least one."
    if kind == "string_pattern_mismatch":
        return "Use lower-case letters, digits and _."
    if kind == "extra_forbidden":
        model = _model_at(place)
        return f"Use {fields_of(model)}." if model else "Remove it."
    return what_is_allowed(error)


def _model_at(place: Place) -> type[BaseModel] | None:
    """Find the model whose field a path of keys and places names last."""
    here: object = Drill
    for key in place[:-1]:
        if isinstance(here, type) and issubclass(here, BaseModel):
            fields = {field.alias or name: field for name, field in here.model_fields.items()}
            field = fields.get(str(key))
            if field is not None:
                # A number or a name in between counts the parts of a list or a mapping.
                here = _models_in(field.annotation)
    return here if isinstance(here, type) and issubclass(here, BaseModel) else None


def _models_in(annotation: object) -> object:
    """Find the model in an annotation: ``tuple[Step, ...]``, ``Answer | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _models_in(part)
        if found is not None:
            return found
    return None


def fields_of(model: type[BaseModel]) -> str:
    """List the fields of a model as a file writes them."""
    return ", ".join(field.alias or name for name, field in model.model_fields.items())
