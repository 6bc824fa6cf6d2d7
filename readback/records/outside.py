"""Text from outside made harmless for spreadsheets and pages."""

import unicodedata

_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories that turn the writing, end lines or show nothing."""
_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")


def shown(text: str) -> str:
    r"""Show what would turn the writing or stay unseen as its code: ``\u202e``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        char.encode("unicode_escape", "backslashreplace").decode("ascii")
        if unicodedata.category(char) in _UNSHOWN
        else char
        for char in text
    )


def cell(text: str) -> str:
    """Keep a spreadsheet from taking text for a formula: an apostrophe goes before it.

    Source: OWASP, "CSV Injection" (from memory); the wide forms are taken so by some programs.
    """
    # Blanks before a sign do not keep some programs from reading a formula.
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text
