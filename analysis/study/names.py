"""What a column is called and measured in, as the export's dictionary says it.

A column that the program does not know keeps its own name and has no unit.
"""

from __future__ import annotations

from collections.abc import Iterable

from analysis.exports.columns import Column, Kind, pitch_columns
from analysis.report.numbers import unit_name
from analysis.study.results import StudyError

_KNOWN = {c.name: c for c in pitch_columns("") if c.kind is Kind.NUMBER}
_NO_UNIT = "(ratio)"


def label(column: str) -> str:
    """Return what ``column`` is called at the beginning of a title."""
    known = _KNOWN.get(column)
    return column if known is None else known.label


def spoken(column: str) -> str:
    """Return the same within a sentence."""
    name = label(column)
    return name if name == column else name[:1].lower() + name[1:]


def listed(columns: Iterable[str]) -> str:
    """Return several within a sentence."""
    return " and ".join(map(spoken, columns))


def of_unit(column: str) -> str:
    """Return what stands behind a number of ``column``: a space and its unit, or nothing."""
    unit = _unit(_KNOWN.get(column)).replace("% body", "% of body")
    return f" {unit}" if unit else ""


def see_one_unit(ours: str, reference: str) -> None:
    """Raise :class:`StudyError` where two columns are known to be in different units."""
    mine, theirs = _KNOWN.get(ours), _KNOWN.get(reference)
    if mine is not None and theirs is not None and mine.unit != theirs.unit:
        raise StudyError(
            f"{ours} is in {mine.unit}, {reference} in {theirs.unit}: their difference means "
            "nothing; name two columns of one unit"
        )


def axis(column: str) -> str:
    """Return what stands at an axis or over a table: name and unit."""
    return label(column) + comma_unit(column)


def comma_unit(column: str) -> str:
    """Return the unit as it stands behind a name, or nothing."""
    unit = _unit(_KNOWN.get(column))
    return f", {unit}" if unit else ""


def _unit(column: Column | None) -> str:
    return "" if column is None or column.unit == _NO_UNIT else unit_name(column.unit)
