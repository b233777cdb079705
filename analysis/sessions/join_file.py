"""Reads a CSV of other measurements: which pitch each row says it is, and its numbers."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from analysis.units import MPH_MPS
from stream.files import FileError
from stream.wire import MAX_SPEED_MPS

MAX_BYTES = 64 * 1024 * 1024
SPEED = "speed_mps"
_SPEED_MPH = "speed_mph"
_PLACES = ("pitch", "time", "pitcher")
_MOST_SAID = 20


@dataclass(frozen=True, slots=True)
class JoinRow:
    """One row: its line in the file, which pitch it says it is, and its numbers."""

    line: int
    pitch: int | None
    at_ns: int | None
    pitcher: str
    values: Mapping[str, float]


@dataclass(frozen=True)
class JoinTable:
    """A file read. ``by`` is "pitch" or "time"; ``sentences`` say what could not be used."""

    name: str
    by: str
    columns: tuple[str, ...]
    rows: tuple[JoinRow, ...]
    sentences: tuple[str, ...]


def read_join(path: Path) -> JoinTable:
    """Read a file to be joined; raise :class:`stream.files.FileError`."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise FileError(f"{path} is too large to be joined")
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise FileError(f"{path}: {error.strerror}") from None
    except UnicodeDecodeError:
        raise FileError(f"{path} is not text in UTF-8") from None
    try:
        return _parse(text, path.name)
    except csv.Error as error:
        raise FileError(f"{path.name}: {error}") from None


def _parse(text: str, name: str) -> JoinTable:
    head = text.partition("\n")[0]
    semicolons = head.count(";") > head.count(",")
    reader = csv.DictReader(
        io.StringIO(text, newline=None), delimiter=";" if semicolons else ",", strict=True
    )
    columns = [column.strip() for column in reader.fieldnames or []]
    reader.fieldnames = columns
    by = _how(columns, name)
    cells = _Cells(decimal_comma=semicolons)
    rows = tuple(cells.row(row, reader.line_num) for row in reader)
    if not rows:
        raise FileError(f"{name} has no rows below its header")
    wanted = dict.fromkeys(_own_name(c) for c in columns if c and c not in _PLACES)
    used = {column for row in rows for column in row.values}
    return JoinTable(
        name, by, tuple(c for c in wanted if c in used), rows, cells.said([*wanted], used)
    )


def _how(columns: list[str], name: str) -> str:
    if len(set(columns)) != len(columns):
        raise FileError(f"{name} has two columns of the same name")
    if {SPEED, _SPEED_MPH} <= set(columns):
        raise FileError(f"{name} gives ball speed twice: {SPEED} and {_SPEED_MPH}")
    for place in ("pitch", "time"):
        if place in columns:
            return place
    raise FileError(f"{name} needs a column 'pitch' (its number) or 'time'")


def _own_name(column: str) -> str:
    return SPEED if column == _SPEED_MPH else column


class _Cells:
    """Turns cells into numbers and remembers those that are none."""

    def __init__(self, *, decimal_comma: bool) -> None:
        self._comma = decimal_comma
        self._bad: list[tuple[str, str]] = []

    def row(self, row: Mapping[str, str | None], line: int) -> JoinRow:
        values = {}
        for column, text in row.items():
            # A cell beyond the header's last column comes under None.
            if column and column not in _PLACES and isinstance(text, str) and text.strip():
                value = self._number(text)
                if column == _SPEED_MPH and value is not None:
                    value *= MPH_MPS
                name = _own_name(column)
                if value is None:
                    say = f"Line {line}: {column} {text.strip()[:40]!r} is not a number."
                    self._bad.append((name, say))
                elif name == SPEED and not 0.0 < value <= MAX_SPEED_MPS:
                    say = f"Line {line}: a ball speed of {value:g} m/s cannot be; left out."
                    self._bad.append((name, say))
                else:
                    values[name] = value
        number = self._number(row.get("pitch") or "")
        return JoinRow(
            line=line,
            pitch=int(number) if number is not None and number.is_integer() else None,
            at_ns=_time_ns(row.get("time") or ""),
            pitcher=(row.get("pitcher") or "").strip(),
            values=values,
        )

    def said(self, wanted: list[str], used: set[str]) -> tuple[str, ...]:
        """Return what could not be used. Words in a column of words are no mistakes."""
        useless = [column for column in wanted if column not in used]
        said = [say for column, say in self._bad if column in used or column == SPEED]
        rest = len(said) - _MOST_SAID
        said = said[:_MOST_SAID] + ([f"{rest} more cells like these."] if rest > 0 else [])
        if useless:
            said.append(f"Columns without any number, left out: {', '.join(useless)}.")
        return tuple(said)

    def _number(self, text: str) -> float | None:
        text = text.strip()
        try:
            value = float(text.replace(",", ".") if self._comma else text)
        except ValueError:
            return None
        return value if math.isfinite(value) else None


def _time_ns(text: str) -> int | None:
    """Read ISO 8601 with a zone, or seconds since 1970 UTC; None where it is neither."""
    text = text.strip()
    try:
        seconds = float(text)
        return round(seconds * 1e9) if math.isfinite(seconds) else None
    except ValueError:
        pass
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return None if moment.tzinfo is None else round(moment.timestamp() * 1e6) * 1000
