"""A CSV file's numbers, column by column, with the line named where one is wrong."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.imports.errors import ImportRefusedError

Array = npt.NDArray[np.float64]

_MOST_CELL = 1000
_EMPTY = frozenset({"", "nan", "NaN", "NA"})


@dataclass(frozen=True)
class CsvForm:
    """How a file is written; lines are counted from 1."""

    delimiter: str = ","
    decimal: str = "."
    header_line: int = 1
    first_line: int | None = None


def read_header(path: Path, form: CsvForm) -> list[str]:
    """Return the column names; raise :class:`ImportRefusedError`."""
    for line, cells in _rows(path, form.delimiter):
        if line == form.header_line:
            names = [name.strip() for name in cells]
            twice = next((n for n in names if n and names.count(n) > 1), None)
            if twice is not None:
                raise ImportRefusedError(f"{path.name}: two columns are called {twice!r}")
            return names
    raise ImportRefusedError(f"{path.name} has no line {form.header_line} with column names")


def read_columns(
    path: Path,
    form: CsvForm,
    wanted: Sequence[str],
    progress: Callable[[int], None] = lambda offset: None,
) -> Array:
    """Return the ``wanted`` columns (n, wanted); an empty cell is NaN.

    Raise :class:`ImportRefusedError` where a column is missing or a cell is no number.
    """
    header = read_header(path, form)
    for name in wanted:
        if name not in header:
            known = ", ".join(header[:12]) + (", ..." if len(header) > 12 else "")
            raise ImportRefusedError(f"{path.name} has no column {name!r} (it has: {known})")
    places = [header.index(name) for name in wanted]
    first = form.first_line or form.header_line + 1
    values: list[list[float]] = []
    done = 0
    for line, cells in _rows(path, form.delimiter):
        done += sum(map(len, cells)) + len(cells)
        if line < first or not any(cells):
            continue
        if len(cells) < len(header):
            raise ImportRefusedError(
                f"{path.name}, line {line}, has {len(cells)} cells and not {len(header)}: the file "
                "is cut off or damaged"
            )
        try:
            values.append([_number(cells[k], form.decimal) for k in places])
        except ValueError:
            wrong = next(k for k in places if not _is_number(cells[k], form.decimal))
            raise ImportRefusedError(
                f"{path.name}, line {line}: {cells[wrong][:30]!r} in column "
                f"{header[wrong]!r} is not a number"
            ) from None
        if line % 1000 == 0:
            progress(done)
    if not values:
        raise ImportRefusedError(f"{path.name} has no rows of numbers")
    return np.array(values, dtype=float)


def _rows(path: Path, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file, delimiter=delimiter, strict=True)
            for cells in reader:
                yield reader.line_num, cells
    except OSError as error:
        raise ImportRefusedError(f"{path}: {error.strerror}") from None
    except UnicodeDecodeError:
        raise ImportRefusedError(f"{path.name} is not text in UTF-8") from None
    except csv.Error as error:
        raise ImportRefusedError(f"{path.name} is not a CSV file: {error}") from None


def _number(cell: str, decimal: str) -> float:
    text = cell.strip()
    if text in _EMPTY:
        return float("nan")
    if len(text) > _MOST_CELL or "_" in text:
        raise ValueError(text)
    value = float(text.replace(",", ".") if decimal == "," else text)
    if not np.isfinite(value):
        raise ValueError(text)
    return value


def _is_number(cell: str, decimal: str) -> bool:
    try:
        _number(cell, decimal)
    except ValueError:
        return False
    return True
