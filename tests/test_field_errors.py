from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from readback.field_errors import what_is_allowed, what_is_wrong


class Form(BaseModel):
    model_config = ConfigDict(extra="forbid")

    name: Annotated[str, Field(min_length=1, max_length=3)] = "a"
    share: Annotated[float, Field(ge=0, le=1)] = 0.5
    seat: Literal["headset", "controller"] = "headset"
    timed: bool = False


@pytest.mark.parametrize(
    ("field", "value", "wrong", "allowed"),
    [
        ("name", "", "is empty", "Mend that field."),
        ("name", "long", "is longer than 3 characters", "Mend that field."),
        ("name", 3, "is no text", "Mend that field."),
        ("share", 7, "is not 1.0 or less", "Mend that field."),
        ("share", -1, "is not 0.0 or more", "Mend that field."),
        ("share", "much", "input should be a valid number", "Mend that field."),
        ("seat", "nobody", "'nobody' is not allowed", "Use 'headset' or 'controller'."),
        ("timed", "perhaps", "'perhaps' is not allowed", "Use true or false."),
        ("colour", "red", "is no field here", "Mend that field."),
    ],
)
def test_a_wrong_field_is_told_in_our_words(field, value, wrong, allowed):
    with pytest.raises(ValidationError) as caught:
        Form.model_validate({field: value})

    (error,) = caught.value.errors()
    assert what_is_wrong(error).startswith(wrong)
    assert what_is_allowed(error) == allowed
