"""What pydantic finds wrong with a field, in the words of all our messages."""

from pydantic_core import ErrorDetails

_LONGEST_GIVEN = 60
_CHOICES = ("literal_error", "enum")


def what_is_wrong(error: ErrorDetails) -> str:
    """Say what is wrong with one field, to stand behind its name: ``"is missing"``."""
    kind, given = error["type"], error["input"]
    context = error.get("ctx", {})
    if kind in (*_CHOICES, "bool_parsing"):
        return f"{str(given)[:_LONGEST_GIVEN]!r} is not allowed"
    plain = {
        "missing": "is missing",
        "extra_forbidden": "is no field here",
        "too_short": "is empty",
        "string_too_short": "is empty",
        "string_too_long": "is longer than {max_length} characters",
        "string_type": "is no text",
        "less_than_equal": "is not {le} or less",
        "greater_than_equal": "is not {ge} or more",
    }
    if kind in plain:
        return plain[kind].format(**context)
    message = error["msg"].removeprefix("Value error, ")
    return message[:1].lower() + message[1:]


def what_is_allowed(error: ErrorDetails, *, otherwise: str = "Mend that field.") -> str:
    """Say what to write instead, in one sentence.

    Args:
        error: What is wrong.
        otherwise: The sentence where the error itself does not tell.
    """
    if error["type"] in _CHOICES:
        return f"Use {error['ctx']['expected']}."
    if error["type"] == "bool_parsing":
        return "Use true or false."
    return otherwise
