"""Text from outside made harmless to show."""

import json
import unicodedata

_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories that move the cursor, turn the writing or show nothing."""


def escape(text: str) -> str:
    r"""Make text from outside harmless: what controls a terminal is shown as its code.

    Returns:
        One line; line breaks, escape sequences, marks that turn the direction of writing and
        characters that show nothing stand as ``\x1b`` or ``\u202e``.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        char.encode("unicode_escape", "backslashreplace").decode("ascii")
        if unicodedata.category(char) in _UNSHOWN
        else char
        for char in text
    )


def escape_json(text: str) -> str:
    r"""Make JSON harmless to show, and leave what it says: such characters stand as ``\u202e``."""
    if text.isascii():
        return text
    return "".join(
        json.dumps(char)[1:-1] if unicodedata.category(char) in _UNSHOWN and char != "\n" else char
        for char in text
    )
