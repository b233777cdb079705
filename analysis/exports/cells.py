"""Cells of a CSV file that a spreadsheet cannot take for a formula."""

from __future__ import annotations

#: What begins a formula in common spreadsheet programs, also in full width.
#: (OWASP, "CSV Injection": = + - @, tab, carriage return and line feed.)
_FORMULA_STARTS = frozenset("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
#: A spreadsheet shows the rest as plain text.
_PLAIN_MARK = "'"


def safe_text(text: str) -> str:
    """Return one line of printable text that is no formula: marked with ' where it looked so."""
    risky = text[:1] in _FORMULA_STARTS or text.lstrip()[:1] in _FORMULA_STARTS
    plain = "".join(c if c.isprintable() else " " for c in text).strip()
    return _PLAIN_MARK + plain if risky and plain else plain


def cell(value: object) -> str:
    """Return the cell of a value: nothing for what was not measured, numbers to the last bit."""
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case int() | float():
            return repr(value)
        case _:
            return safe_text(str(value))
