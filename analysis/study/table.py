"""Reading the pitches and refusing what cannot be analysed, in one clear sentence.

A table is a CSV or Parquet file with one row a pitch; a session folder, whose pitch records
(JSON Lines, with what the operator changed) become one with the columns of an export; or a folder
of the Parquet tables that ``recompute --tables`` writes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.counted import counted
from analysis.exports.columns import pitch_columns
from analysis.invented import SENTENCE
from analysis.sessions.stored import read_session
from analysis.study.plausible import refuse_impossible
from analysis.study.results import Missing, MissingRow, StudyError
from stream.files import FileError
from stream.recording.session import SessionError

_SHOWN = 5
_KINDS = (".csv", ".parquet", ".pq")
#: The outermost folder of ``recompute --tables``: which measurement the rows are of.
_RESULT = "result"
#: Attribute of a frame: whether a session in it says of itself that it was simulated.
_INVENTED = "invented"


@dataclass(frozen=True)
class Prepared:
    """Complete rows of the columns asked for, and what was left out.

    ``numbers`` maps a column to float64 (n,); ``labels`` maps a column to text (n,).
    """

    numbers: dict[str, npt.NDArray[np.float64]]
    labels: dict[str, npt.NDArray[np.str_]]
    missing: Missing

    def codes(self, column: str) -> tuple[npt.NDArray[np.int64], list[str]]:
        """Give a label column as integers 0..k-1 (n,) and the k names they stand for."""
        names, codes = np.unique(self.labels[column], return_inverse=True)
        return codes.astype(np.int64), [str(name) for name in names]


def load(paths: Sequence[Path], estimates: bool = True) -> pd.DataFrame:
    """Read one or several tables or session folders into one frame, one row a pitch.

    Without ``estimates`` a value that the column ``estimated`` names becomes missing.
    """
    frames = [_load_one(path) for path in paths]
    if not frames:
        raise StudyError("no table was given")
    frame = pd.concat(frames, ignore_index=True) if len(frames) > 1 else frames[0]
    frame.attrs[_INVENTED] = any(part.attrs.get(_INVENTED) for part in frames)
    if frame.empty:
        raise StudyError(f"{paths[0]} has no rows")
    if not estimates:
        _leave_out_estimates(frame)
    return frame


def _leave_out_estimates(frame: pd.DataFrame) -> None:
    if "estimated" not in frame.columns:
        raise StudyError("the table has no column 'estimated' that says which values are")
    named = frame["estimated"].fillna("").astype(str).str.split(";")
    for column in {name for names in named for name in names} & set(frame.columns):
        frame.loc[[column in names for names in named], column] = np.nan


def _load_one(path: Path) -> pd.DataFrame:
    if path.is_dir():
        is_session = (path / "session.json").exists() or not any(path.rglob("*.parquet"))
        return _load_session(path) if is_session else _of_one_result(_read(path), path)
    if not path.is_file():
        raise StudyError(f"{path} was not found")
    if path.suffix.lower() not in _KINDS:
        raise StudyError(f"{path} is neither a .csv nor a .parquet file nor a folder of pitches")
    return _read(path)


def _read(path: Path) -> pd.DataFrame:
    """Read a table, or those of a folder whose folders are named ``column=value``."""
    try:
        if path.suffix.lower() == ".csv":
            return pd.read_csv(path, skipinitialspace=True)
        return pd.read_parquet(path)
    except (ValueError, OSError) as error:  # pandas and pyarrow errors derive from these
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise StudyError(f"{path} could not be read as a table: {reason}") from error


def _of_one_result(frame: pd.DataFrame, folder: Path) -> pd.DataFrame:
    """Return the tables of ``folder`` if they are of one result, so that no pitch counts twice."""
    for name in frame.columns[[str(kind) == "category" for kind in frame.dtypes]]:
        frame[name] = frame[name].astype(str)
    results = sorted(set(frame[_RESULT])) if _RESULT in frame.columns else []
    if len(results) > 1:
        raise StudyError(
            f"{folder} holds every pitch in several results ({', '.join(results)}); give one of "
            f"them, for example {folder / f'{_RESULT}={results[0]}'}"
        )
    return frame


def _load_session(folder: Path) -> pd.DataFrame:
    """Pitches of a session folder; movements that were not counted have no metrics."""
    try:
        session = read_session(folder)
    except (SessionError, FileError) as error:
        raise StudyError(str(error)) from error
    if not session.pitches:
        raise StudyError(f"{folder} holds no pitches yet")
    columns = pitch_columns(folder.resolve().name)
    frame = pd.DataFrame({c.name: [c.value(p) for p in session.pitches] for c in columns})
    frame.attrs[_INVENTED] = session.invented
    return frame


def prepare(frame: pd.DataFrame, numbers: Sequence[str], labels: Sequence[str] = ()) -> Prepared:
    """Take the named columns, leave out rows with a missing value, refuse impossible values.

    Rows whose column ``void`` says so are left out before anything else, and counted.
    Missing is an empty cell, ``NaN`` or ``null``; text in a number column and infinite numbers
    are refused, because guessing what they meant would invent data.
    """
    wanted = list(dict.fromkeys([*numbers, *labels]))
    for column in wanted:
        if column not in frame.columns:
            known = ", ".join(str(c) for c in frame.columns[:12])
            more = ", ..." if len(frame.columns) > 12 else ""
            raise StudyError(f"the table has no column '{column}' (it has: {known}{more})")
    values = {column: _numeric(frame[column], column) for column in dict.fromkeys(numbers)}
    texts = {column: _text(frame[column]) for column in labels}
    absent = pd.DataFrame(
        {c: np.isnan(values[c]) if c in values else texts[c].isna().to_numpy() for c in wanted}
    ).to_numpy(dtype=bool)
    void = _void(frame)
    absent = absent & ~void[:, None]
    keep = ~(absent.any(axis=1) | void)
    missing = Missing(
        rows_read=len(frame),
        rows_used=int(keep.sum()),
        by_column={c: int(absent[:, j].sum()) for j, c in enumerate(wanted) if absent[:, j].any()},
        rows=[
            MissingRow(
                int(i) + 1, [wanted[j] for j in np.flatnonzero(absent[i])], *_pitch(frame, int(i))
            )
            for i in np.flatnonzero(absent.any(axis=1))
        ],
        void=int(void.sum()),
        sessions=int(frame["session"][keep].nunique()) if "session" in frame.columns else None,
        invented=bool(frame.attrs.get(_INVENTED)),
    )
    if not keep.any():
        raise StudyError(f"no row has all of {', '.join(wanted)}")
    for column, array in values.items():
        refuse_impossible(column, array)
    return Prepared(
        {column: array[keep] for column, array in values.items()},
        {
            column: text.to_numpy(dtype=object)[keep].astype(np.str_)
            for column, text in texts.items()
        },
        missing,
    )


def _pitch(frame: pd.DataFrame, row: int) -> tuple[str | None, int | None]:
    """Return session and number of the pitch in a row, where the table tells both."""
    if not {"session", "number"} <= set(frame.columns):
        return None, None
    session, number = _text(frame["session"]).iloc[row], frame["number"].iloc[row]
    whole = pd.to_numeric(pd.Series([number]), errors="coerce").iloc[0]
    if pd.isna(session) or pd.isna(whole) or whole != int(whole):
        return None, None
    return str(session), int(whole)


def _void(frame: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Which rows the operator marked as void (n,)."""
    if "void" not in frame.columns:
        return np.zeros(len(frame), dtype=np.bool_)
    return frame["void"].astype(str).str.strip().str.lower().isin(("true", "1")).to_numpy(bool)


def _numeric(series: pd.Series[Any], column: str) -> npt.NDArray[np.float64]:
    numbers = pd.to_numeric(series, errors="coerce")
    blank = _text(series).isna().to_numpy(dtype=bool)
    wrong = np.flatnonzero(numbers.isna().to_numpy(dtype=bool) & ~blank)
    if wrong.size:
        row = int(wrong[0])
        raise StudyError(
            f"column '{column}' should hold numbers but row {row + 1} says '{series.iloc[row]}'"
            + (f" ({wrong.size} such rows)" if wrong.size > 1 else "")
        )
    array = numbers.to_numpy(dtype=np.float64, na_value=np.nan)
    infinite = np.flatnonzero(np.isinf(array))
    if infinite.size:
        raise StudyError(f"column '{column}' has an infinite value in row {int(infinite[0]) + 1}")
    return array


def _text(series: pd.Series[Any]) -> pd.Series[Any]:
    text = series.astype("string").str.strip()
    return text.mask(text == "")


def missing_sentence(missing: Missing) -> str:
    """Say that data are invented, and what was left out: counts by column and the first rows."""
    invented = f"{SENTENCE} " if missing.invented else ""
    void = invented + (
        f"{counted(missing.void, 'void pitch', 'void pitches')} left out. " if missing.void else ""
    )
    rows = missing.rows_read - missing.void
    left_out = rows - missing.rows_used
    if not left_out:
        return f"{void}No values missing in {counted(rows, 'row')}."
    counts = ", ".join(f"{column} {n}" for column, n in missing.by_column.items())
    more = f" and {left_out - _SHOWN} more" if left_out > _SHOWN else ""
    return (
        f"{void}{left_out} of {rows} rows left out for missing values "
        f"({counts}); {_which(missing.rows[:_SHOWN])}{more}."
    )


def _which(rows: Sequence[MissingRow]) -> str:
    """Name pitches by session and number; rows by their place where the table does not tell."""
    named: dict[str, list[str]] = {}
    for row in rows:
        if row.session is None:
            return "rows " + ", ".join(str(row.row) for row in rows)
        named.setdefault(row.session, []).append(str(row.number))
    return "session and pitch: " + "; ".join(
        f"{session} {', '.join(numbers)}" for session, numbers in named.items()
    )


def pooled_days(missing: Missing, what_of_it: str) -> list[str]:
    """Say that pitches of several days are taken as one pool, and ``what_of_it``."""
    if missing.sessions is None or missing.sessions < 2:
        return []
    return [
        f"The pitches of {missing.sessions} sessions are taken as one pool: what differs from day "
        "to day is mixed with what differs from pitch to pitch. Pitches of one day are alike, so "
        f"{what_of_it}"
    ]
