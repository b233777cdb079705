"""Cells of a CSV file that a spreadsheet cannot take for a formula."""

from __future__ import annotations

from datetime import UTC, datetime

#: What begins a formula in common spreadsheet programs, also in full width.
#: (OWASP, "CSV Injection": = + - @; tab and line ends, which it also names, become spaces.)
_FORMULA_STARTS = tuple("=+-@\uff1d\uff0b\uff0d\uff20")
#: A spreadsheet shows the rest as plain text.
_PLAIN_MARK = "'"


def safe_text(text: str) -> str:
    """Return one line of printable text that is no formula: marked with ' where it would be one."""
    # First cleaned, then judged: what is invisible must not hide the sign that begins a formula.
    plain = "".join(c if c.isprintable() else " " for c in text).strip()
    return _PLAIN_MARK + plain if plain[:1] in _FORMULA_STARTS else plain


def cell(value: object) -> str:
    """Return the cell of a value: nothing for what was not measured, numbers to the last bit."""
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case datetime():  # ISO 8601, to the ms
            at = value.astimezone(UTC).isoformat(timespec="milliseconds")
            return at.replace("+00:00", "Z")
        case int() | float():
            return repr(value)
        case _:
            return safe_text(str(value))
