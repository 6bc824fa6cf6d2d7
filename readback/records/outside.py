"""Text from outside made harmless for spreadsheets."""

from readback.escaping import escape

_FORMULA_STARTS = tuple("=+-@＝＋－＠")


def cell(text: str) -> str:
    """Make text harmless in a spreadsheet: one line that shows what it holds and is no formula.

    An apostrophe goes before what would be taken for one, even behind blanks.

    Source: OWASP, "CSV Injection" (from memory); the wide forms are taken so by some programs.
    """
    shown = escape(text)
    return f"'{shown}" if shown.lstrip().startswith(_FORMULA_STARTS) else shown
