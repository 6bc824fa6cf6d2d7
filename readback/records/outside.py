"""Text from outside made harmless for spreadsheets."""

_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")


def cell(text: str) -> str:
    """Keep a spreadsheet from taking text for a formula: an apostrophe goes before it.

    Source: OWASP, "CSV Injection" (from memory); the wide forms are taken so by some programs.
    """
    # Blanks before a sign do not keep some programs from reading a formula.
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text
