"""The mapping file: which column of a CSV file is what, in which unit and direction.

TOML; docs/exports.md has an example. Without one, a CSV file that ``export --to traces`` wrote
explains itself by its column names.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Literal

import msgspec
import numpy as np
from msgspec import Meta

from analysis.imports.errors import ImportRefusedError
from stream.layout import Layout, PlatformKind

Three = Annotated[list[float], Meta(min_length=3, max_length=3)]
Names = Annotated[list[str], Meta(min_length=3, max_length=3)]

FORCE_UNITS: Mapping[str, float] = {"N": 1.0, "kN": 1e3, "lbf": 4.4482216152605}
MOMENT_UNITS: Mapping[str, float] = {
    "N m": 1.0,
    "N mm": 1e-3,
    "kN m": 1e3,
    "lbf ft": 4.4482216152605 * 0.3048,
    "lbf in": 4.4482216152605 * 0.0254,
}
LENGTH_UNITS: Mapping[str, float] = {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "in": 0.0254}
TIME_UNITS: Mapping[str, float] = {"s": 1.0, "ms": 1e-3}


class PlatformMap(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One platform's columns.

    ``force`` names three columns; beside them either ``moment`` (about ``origin_m``) or
    ``pressure`` (the place of the force, two columns) and, if there is one, ``free_moment``.
    ``axes`` says what the file's x, y, z are, in ``frame``: the platform's own axes (x along the
    surface towards home, y left, z out of it) or the mound's. ``corners_m`` in the mound frame.
    """

    name: str
    force: Names
    moment: Names | None = None
    pressure: Annotated[list[str], Meta(min_length=2, max_length=2)] | None = None
    free_moment: str | None = None
    corners_m: Annotated[list[Three], Meta(min_length=4, max_length=4)] | None = None
    origin_m: Three = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    force_unit: str = "N"
    moment_unit: str = "N m"
    length_unit: str = "m"
    axes: Names = msgspec.field(default_factory=lambda: ["x", "y", "z"])
    frame: Literal["platform", "mound"] = "platform"
    sense: Literal["reaction", "action"] = "reaction"


class CsvMap(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A mapping file."""

    platform: Annotated[list[PlatformMap], Meta(min_length=1)]
    rate_hz: float | None = None
    time: str | None = None
    time_unit: str = "s"
    frame: str | None = None
    delimiter: Annotated[str, Meta(min_length=1, max_length=1)] = ","
    decimal: Literal[".", ","] = "."
    header_line: Annotated[int, Meta(ge=1)] = 1
    first_line: Annotated[int, Meta(ge=2)] | None = None
    spare: dict[str, str] = {}


def load_mapping(path: Path) -> CsvMap:
    """Read a mapping file; raise :class:`ImportRefusedError`."""
    try:
        table = tomllib.loads(path.read_text("utf-8-sig"))
        mapping = msgspec.convert(table, CsvMap)
    except OSError as error:
        raise ImportRefusedError(f"{path}: {error.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ImportRefusedError(f"{path} is not TOML: {error}") from None
    except msgspec.ValidationError as error:
        raise ImportRefusedError(f"{path}: {error}") from None
    _check(mapping, path)
    return mapping


def _check(mapping: CsvMap, path: Path) -> None:
    if mapping.rate_hz is None and mapping.time is None:
        raise ImportRefusedError(f"{path}: it needs 'rate_hz' or a 'time' column")
    if mapping.delimiter == mapping.decimal:
        raise ImportRefusedError(f"{path}: delimiter and decimal sign are the same")
    for p in mapping.platform:
        if p.moment is not None and p.pressure is not None:
            raise ImportRefusedError(
                f"{path}: platform {p.name!r} has both 'moment' and 'pressure'; one is enough"
            )
        for given, known in (
            (p.force_unit, FORCE_UNITS),
            (p.moment_unit, MOMENT_UNITS),
            (p.length_unit, LENGTH_UNITS),
            (mapping.time_unit, TIME_UNITS),
        ):
            if given not in known:
                raise ImportRefusedError(f"{path}: unit {given!r} is not one of {', '.join(known)}")


def traces_mapping(header: Sequence[str], layout: Layout) -> CsvMap | None:
    """Return the mapping of a file of traces of ``layout``'s platforms; None if it is not one."""
    columns = set(header)
    platforms = []
    for p in layout.platforms:
        force = [f"{p.name}_f{axis}_n" for axis in "xyz"]
        pressure = [f"{p.name}_cop{axis}_m" for axis in "xy"]
        if not columns.issuperset(force + pressure):
            return None
        platforms.append(
            PlatformMap(
                name=p.name,
                force=force,
                # A platform without moments does not tell a place: its column is the centre.
                pressure=None if p.kind is PlatformKind.FORCE else pressure,
                corners_m=np.asarray(p.corners).tolist(),
                frame="mound",
            )
        )
    if not {"frame", "t_s"} <= columns:
        return None
    return CsvMap(platform=platforms, time="t_s", frame="frame")
