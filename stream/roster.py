"""The roster: pitchers as codes, with the few facts that measurement needs.

CSV with a header; columns ``pitcher`` (code) and ``throws`` (R or L), and
optionally ``height_m``, ``weigh_in_kg`` (a weighing on this mound; leave it
empty to use each pitch's own set position) and ``name``. Names stay in the
operator's file and on the operator's screen: see :meth:`Roster.coded`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, replace

from stream.actions import MAX_CODE


class RosterError(ValueError):
    """A roster that cannot be; the text names the line."""


@dataclass(frozen=True, slots=True)
class Pitcher:
    """One pitcher; what is not known is None."""

    code: str
    throws: str | None = None
    height_m: float | None = None
    weigh_in_kg: float | None = None
    name: str | None = None


@dataclass(frozen=True)
class Roster:
    """Pitchers by code, in the file's order."""

    pitchers: tuple[Pitcher, ...] = ()

    def __iter__(self) -> Iterator[Pitcher]:
        return iter(self.pitchers)

    def find(self, code: str) -> Pitcher:
        """Return the pitcher with ``code``; one of whom nothing is known if not on the roster."""
        return next((p for p in self.pitchers if p.code == code), Pitcher(code))

    def coded(self) -> Roster:
        """Return the roster without names, as recordings, topics and exports carry it."""
        return Roster(tuple(replace(p, name=None) for p in self.pitchers))

    def to_csv(self) -> str:
        """Return the roster as CSV text (the name column only if a name is known)."""
        named = any(p.name for p in self.pitchers)
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        head = ["pitcher", "throws", "height_m", "weigh_in_kg"]
        writer.writerow([*head, "name"] if named else head)
        for p in self.pitchers:
            row = [p.code, p.throws or "", _text(p.height_m), _text(p.weigh_in_kg)]
            writer.writerow([*row, p.name or ""] if named else row)
        return out.getvalue()


def roster_from_csv(text: str) -> Roster:
    """Parse a roster; raise :class:`RosterError` naming the line that is wrong."""
    # newline=None: any program's line ends are lines.
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline=None))
    pitchers: list[Pitcher] = []
    try:
        if not reader.fieldnames or "pitcher" not in reader.fieldnames:
            raise RosterError(
                "the roster's first line must name its columns, one of them 'pitcher'"
            )
        for row in reader:
            pitchers.append(_pitcher(row, reader.line_num))
    except csv.Error as error:
        raise RosterError(f"roster line {reader.line_num}: {error}") from None
    codes = [p.code for p in pitchers]
    for code in codes:
        if codes.count(code) > 1:
            raise RosterError(f"the roster has {code!r} twice")
    return Roster(tuple(pitchers))


def _pitcher(row: dict[str, str | None], line: int) -> Pitcher:
    code = (row.get("pitcher") or "").strip()
    if not code or len(code) > MAX_CODE or not code.isprintable():
        raise RosterError(f"roster line {line}: a code of 1 to {MAX_CODE} printable characters")
    throws = (row.get("throws") or "").strip().upper()
    if throws not in ("", "R", "L"):
        raise RosterError(f"roster line {line}: throws is R, L or empty, not {throws[:20]!r}")
    return Pitcher(
        code=code,
        throws=throws or None,
        height_m=_number(row, "height_m", line, 1.0, 2.5),
        weigh_in_kg=_number(row, "weigh_in_kg", line, 25.0, 200.0),
        name=(row.get("name") or "").strip() or None,
    )


def _number(
    row: dict[str, str | None], key: str, line: int, low: float, high: float
) -> float | None:
    text = (row.get(key) or "").strip()
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        raise RosterError(f"roster line {line}: {key} {text[:20]!r} is not a number") from None
    if not low <= value <= high:
        raise RosterError(
            f"roster line {line}: {key} {value:g} is not between {low:g} and {high:g}"
        )
    return value


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
