"""Text from outside made harmless to show."""

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
