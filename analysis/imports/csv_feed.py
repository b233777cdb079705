"""A CSV file as a feed, through its mapping."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from analysis.imports.axes import Array, direction
from analysis.imports.csv_file import CsvForm, read_columns, read_header
from analysis.imports.errors import ImportRefusedError
from analysis.imports.feed import ForeignFeed
from analysis.imports.mapping import (
    FORCE_UNITS,
    LENGTH_UNITS,
    MOMENT_UNITS,
    TIME_UNITS,
    CsvMap,
    PlatformMap,
    traces_mapping,
)
from analysis.imports.notes import grouped
from stream.layout import Layout, Platform, PlatformKind

#: A step between two rows may be off a whole number of frames by this share of one.
_UNEVEN = 0.25
#: A rate this near to a whole number is that number (times are rounded when written).
_WHOLE = 1e-4
#: The longest file in frames, and the longest gap.
_MOST_FRAMES = 50_000_000
_PLAIN = ["x", "y", "z"]

Progress = Callable[[int], None]


def read_csv_feed(path: Path, mapping: CsvMap, progress: Progress) -> ForeignFeed:
    """Read ``path`` as ``mapping`` says; raise :class:`ImportRefusedError`."""
    form = CsvForm(mapping.delimiter, mapping.decimal, mapping.header_line, mapping.first_line)
    wanted = _wanted(mapping)
    values = dict(zip(wanted, read_columns(path, form, wanted, progress).T, strict=True))
    rate_hz, frames = _time_base(path, mapping, values)
    notes: list[tuple[str, str]] = []
    columns: list[Array] = []
    platforms: list[Platform] = []
    for entry in mapping.platform:
        channels, platform = _platform(entry, values, sum(c.shape[1] for c in columns), notes)
        columns.append(channels)
        platforms.append(platform)
    used = sum(c.shape[1] for c in columns)
    spare = {name: used + k for k, name in enumerate(mapping.spare)}
    columns += [values[column][:, None] for column in mapping.spare.values()]
    rows = np.concatenate(columns, axis=1)
    samples = np.full((int(frames[-1]) + 1, rows.shape[1]), np.nan)
    samples[frames] = rows
    first = values[mapping.frame][0] if mapping.frame else 0.0
    return ForeignFeed(
        rate_hz=rate_hz,
        samples=samples,
        platforms=tuple(platforms),
        notes=tuple(grouped(notes)),
        spare=spare,
        first_frame=int(first) if np.isfinite(first) and first > 0 else 0,
    )


def own_traces(path: Path, layouts: Sequence[Layout]) -> tuple[CsvMap, Layout]:
    """Return mapping and layout of a file of traces; raise where it is none of ``layouts``."""
    header = read_header(path, CsvForm())
    for layout in layouts:
        mapping = traces_mapping(header, layout)
        if mapping is not None:
            return mapping, layout
    raise ImportRefusedError(
        f"{path.name} does not say what its columns are: give --mapping MAP.toml (docs/exports.md "
        "has an example), or for traces of this program --layout"
    )


def _wanted(mapping: CsvMap) -> list[str]:
    names = [n for n in (mapping.time, mapping.frame) if n]
    for p in mapping.platform:
        names += [*p.force, *(p.moment or []), *(p.pressure or [])]
        names += [p.free_moment] if p.free_moment else []
    names += mapping.spare.values()
    return list(dict.fromkeys(names))


def _time_base(
    path: Path, mapping: CsvMap, values: dict[str, Array]
) -> tuple[float, np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Return the rate (Hz) and each row's frame, counted from the first row's."""
    rows = len(next(iter(values.values())))
    if mapping.time is None:
        return float(mapping.rate_hz or 0.0), np.arange(rows)
    time = values[mapping.time] * TIME_UNITS[mapping.time_unit]
    steps = np.diff(time)
    if rows < 3 or not np.isfinite(time).all() or not (steps > 0).all():
        wrong = np.flatnonzero(~(steps > 0))
        where = f" (row {int(wrong[0]) + 2} of the numbers)" if len(wrong) else ""
        raise ImportRefusedError(f"{path.name}: the times do not increase{where}")
    step = 1.0 / mapping.rate_hz if mapping.rate_hz else float(np.median(steps))
    counts = np.rint(steps / step)
    uneven = np.flatnonzero((np.abs(steps / step - counts) > _UNEVEN) | (counts < 1))
    if len(uneven):
        raise ImportRefusedError(
            f"{path.name}: the rows are not evenly spaced in time (row {int(uneven[0]) + 2} of "
            "the numbers); a feed has one rate"
        )
    frames = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    if frames[-1] > _MOST_FRAMES:
        raise ImportRefusedError(f"{path.name}: {frames[-1]} frames are too many, or a time jumps")
    rate = mapping.rate_hz or float(frames[-1] / (time[-1] - time[0]))
    whole = round(rate)
    return (float(whole) if abs(rate - whole) < _WHOLE * rate else rate), frames


def _platform(
    entry: PlatformMap, values: dict[str, Array], first: int, notes: list[tuple[str, str]]
) -> tuple[Array, Platform]:
    force = np.column_stack([values[name] for name in entry.force])
    if entry.corners_m is None:
        raise ImportRefusedError(f"platform {entry.name!r} has no corners_m")
    plain = Platform(
        name=entry.name,
        kind=PlatformKind.WRENCH,
        channels=(),
        corners=np.array(entry.corners_m, dtype=float),
        origin=np.array(entry.origin_m, dtype=float),
        calibration=np.eye(6),
        sense=1 if entry.sense == "reaction" else -1,
    )
    # Rows: what the file's axes are, in the platform's.
    turn = np.column_stack([direction(axis) for axis in entry.axes])
    if abs(abs(float(np.linalg.det(turn))) - 1.0) > 1e-9:
        raise ImportRefusedError(f"platform {entry.name!r}: axes name one direction twice")
    if np.linalg.det(turn) < 0:
        raise ImportRefusedError(
            f"platform {entry.name!r}: axes {', '.join(entry.axes)} are left-handed; turn one"
        )
    if entry.frame == "mound":
        turn = plain.axes.T @ turn
    unit = FORCE_UNITS[entry.force_unit]
    if entry.moment is not None:
        moment = np.column_stack([values[name] for name in entry.moment])
        moment_unit = MOMENT_UNITS[entry.moment_unit]
    elif entry.pressure is not None:
        moment = _moment(entry, plain, force * unit, values, notes)
        moment_unit = 1.0
    else:
        calibration = turn * unit
        notes.append((entry.name, "forces only; they are taken to act at the platform's centre."))
        return force, _with(plain, calibration, first, PlatformKind.FORCE)
    calibration = np.zeros((6, 6))
    calibration[:3, :3] = turn * unit
    calibration[3:, 3:] = turn * moment_unit
    return np.hstack([force, moment]), _with(plain, calibration, first, PlatformKind.WRENCH)


def _with(plain: Platform, calibration: Array, first: int, kind: PlatformKind) -> Platform:
    return Platform(
        name=plain.name,
        kind=kind,
        channels=tuple(range(first, first + len(calibration))),
        corners=plain.corners,
        origin=plain.origin if kind is PlatformKind.WRENCH else np.zeros(3),
        calibration=calibration,
        sense=plain.sense,
    )


def _moment(
    entry: PlatformMap,
    plain: Platform,
    force: Array,
    values: dict[str, Array],
    notes: list[tuple[str, str]],
) -> Array:
    """Moments (n, 3) N m about the surface's centre, in the file's axes, from the force's place.

    r x F with r from the centre to the place on the surface, plus the free moment.
    """
    unit = LENGTH_UNITS[entry.length_unit]
    px, py = (values[name] * unit for name in entry.pressure or ())
    normal = np.array([0.0, 0.0, 1.0])
    arm = np.column_stack([px, py, np.zeros(len(px))])
    if entry.axes[2].strip("+-") != "z" or (entry.frame == "mound" and entry.axes != _PLAIN):
        raise ImportRefusedError(
            f"platform {entry.name!r}: with 'pressure' the third axis is the surface's normal, "
            "z or -z (in the mound frame: axes are x, y, z)"
        )
    if entry.frame == "mound":
        normal = plain.axes[:, 2]
        arm -= plain.centre
        arm[:, 2] = -(arm[:, 0] * normal[0] + arm[:, 1] * normal[1]) / normal[2]
    told = np.isfinite(arm).all(axis=1)
    if not told.all():
        where = "where the file has no centre of pressure, the (small) force is put at the centre."
        notes.append((entry.name, where))
    arm[~told] = 0.0
    moment = np.asarray(np.cross(arm, force))
    if entry.free_moment:
        moment += values[entry.free_moment][:, None] * MOMENT_UNITS[entry.moment_unit] * normal
    else:
        notes.append((entry.name, "the file has no free moment; it is left out."))
    return moment
