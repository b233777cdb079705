"""Several sessions side by side: each pitcher's metrics, and how far each day is from the first."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.screen import Screen

from analysis.sessions.comparison import METHOD, Cell, Difference, Row, side_by_side
from analysis.sessions.order import at_one_time
from analysis.sessions.series import quantity
from tui.review.desk import Desk
from tui.review.interval import axis_words, interval_drawn
from tui.review.metric_list import definition_lines
from tui.review.pitch_table import head_of, label_of, unit_words
from tui.safe_text import plain
from tui.table import unit_of
from tui.units import MISSING, Units
from tui.widgets.headed_rows import Column
from tui.widgets.key_line import KeyLine
from tui.widgets.line_text import LineText, Runs
from tui.widgets.list_table import Entry, ListTable
from tui.words import pitcher_name

if TYPE_CHECKING:
    from tui.review.app import ReviewApp

_COUNT, _MEDIAN, _SPREAD = 3, 6, 6
_SESSION = _COUNT + _MEDIAN + _SPREAD + 2
_LEAST_DRAWN, _MOST_DRAWN = 23, 61
_LEAST_LABEL, _MOST_LABEL = 8, 26
_FIRST = "minus the first"
_SUB = f"{'n':>{_COUNT}} {'median':>{_MEDIAN}} {'spread':>{_SPREAD}}"
_ONE = (
    "One session alone has nothing to stand beside.",
    "Leave with q and name more folders: moundfeed review DIR DIR ...",
)
_NOTHING = ("Nothing was measured in any of these sessions.",)


class DaysScreen(Screen[None]):
    """The table of pitcher and metric by session; the first session is what others differ from."""

    def __init__(self) -> None:
        super().__init__()
        self._head = LineText("days_head")
        self._care = LineText("days_care")
        self.table = ListTable("days")
        self._definition = LineText("definition")
        self.first_beside = 1

    @property
    def review(self) -> ReviewApp:
        """The app with the desk."""
        return cast("ReviewApp", self.app)

    def compose(self) -> ComposeResult:
        """Lines above, the table, the definition below."""
        yield self._head
        yield self._care
        yield self.table
        yield self._definition
        yield KeyLine()

    def on_mount(self) -> None:
        """Give the keys to the table."""
        self.table.focus()

    def on_screen_resume(self) -> None:
        """Draw everything when the screen comes up."""
        self.call_after_refresh(self.redraw)

    def on_resize(self) -> None:
        """Draw everything at the new size."""
        self.call_after_refresh(self.redraw)

    def turn(self, by: int) -> None:
        """Put other sessions beside the first."""
        last = max(1, len(self.review.desk.sittings) - 1)
        self.first_beside = max(1, min(self.first_beside + by, last))
        self.redraw()

    def redraw(self) -> None:
        """Draw everything."""
        if not self.is_mounted:
            return
        desk, units = self.review.desk, self.review.units
        width = self.table.size.width
        rows = rows_of(desk)
        beside = shown_beside(desk, rows, units, width, self.first_beside)
        columns, entries = days_table(desk, rows, units, width, beside)
        empty = _ONE if len(desk.sittings) < 2 else _NOTHING
        if len(desk.sittings) < 2:
            columns, entries = [], []
        keys = [e.key for e in entries if e.key is not None]
        chosen = self.table.chosen if self.table.chosen in keys else next(iter(keys), None)
        self.choose(chosen)
        self.table.show(columns, entries, chosen, empty)
        head = head_lines(desk, beside, width)
        self._head.styles.height = len(head)
        self._head.show(head)
        care = care_lines(desk, width)
        self._care.styles.height = len(care)
        self._care.show(care)

    def choose(self, key: str | None) -> None:
        """Show the definition of the metric of a row."""
        width = self.table.size.width
        lines: list[Runs] = []
        if key is not None:
            lines = [*definition_lines(key.rsplit(" ", 1)[-1], None, width)]
            lines += [[(f" {line}", "quiet")] for line in textwrap.wrap(METHOD, max(20, width - 2))]
        self._definition.styles.height = len(lines)
        self._definition.show(lines)


def rows_of(desk: Desk) -> tuple[Row, ...]:
    """Return the comparison of the chosen columns of all sessions, void pitches left out."""
    records = [s.session.pitches for s in desk.sittings]
    rows = side_by_side(records, [quantity(key) for key in desk.columns])
    wanted = desk.selection.pitcher
    return tuple(r for r in rows if wanted is None or r.pitcher == wanted)


def shown_beside(desk: Desk, rows: tuple[Row, ...], units: Units, width: int, first: int) -> range:
    """Return which sessions have room beside the first one."""
    unit, difference = _widths(rows, units)
    fixed = 4 + _LEAST_LABEL + 1 + unit + 1 + _SESSION + 1
    room = max(1, (width - fixed) // (_SESSION + difference + 2))
    return range(first, min(len(desk.sittings), first + room))


def days_table(
    desk: Desk, rows: tuple[Row, ...], units: Units, width: int, beside: range
) -> tuple[list[Column], list[Entry]]:
    """Return columns and rows of the comparison."""
    unit, difference = _widths(rows, units)
    sessions = 4 + unit + 1 + _SESSION + 1 + len(beside) * (_SESSION + difference + 2)
    label = max(_LEAST_LABEL, min(_MOST_LABEL, width - sessions - 1))
    names = [plain(s.name, 60) for s in desk.sittings]
    columns = [
        Column("", "", label, right=False),
        Column("", "", unit, right=False),
        Column(names[0], _SUB, _SESSION, right=False),
    ]
    room = (width - sessions - label - 1) // max(1, len(beside)) - 1
    drawn = min(_MOST_DRAWN, room) if room >= _LEAST_DRAWN else 0
    for at in beside:
        columns.append(Column(names[at], _SUB, _SESSION, right=False))
        columns.append(Column(_FIRST, "median (95 %)", difference))
        if drawn:
            columns.append(Column(*axis_words(drawn), drawn, right=False))
    entries: list[Entry] = []
    pitcher: str | None = None
    for row in rows:
        if row.pitcher != pitcher:
            pitcher = row.pitcher
            entries.append(Entry(None, (), "bold", f" {pitcher_name(pitcher)}"))
        key = row.quantity.key
        name = label_of(key) if label >= 24 else head_of(key)
        cells = [name, unit_words(key, units), _cell(row.cells[0], key, units)]
        for at in beside:
            cells.append(_cell(row.cells[at], key, units))
            cells.append(_difference(row.differences[at - 1], key, units))
            if drawn:
                spread = row.cells[0].spread
                cells.append(interval_drawn(row.differences[at - 1], spread, drawn))
        entries.append(Entry(f"{row.pitcher} {key}", tuple(cells)))
    return columns, entries


def as_cells(desk: Desk) -> list[list[str]]:
    """Return the whole comparison as cells, in SI units, headings first."""
    lines = [
        ["pitcher", "key", "unit", "session", "began", "n", "median", "spread", "least",
         "greatest", "minus_first", "low95", "high95"]
    ]  # fmt: skip
    for row in rows_of(desk):
        for at, sitting in enumerate(desk.sittings):
            c = row.cells[at]
            d = row.differences[at - 1] if at else None
            numbers = [c.median, c.spread, c.least, c.greatest]
            numbers += [d.estimate, d.low, d.high] if d else [None] * 3
            lines.append(
                [
                    row.pitcher,
                    row.quantity.key,
                    row.quantity.unit,
                    sitting.name,
                    sitting.session.began.isoformat(timespec="seconds"),
                    str(c.count),
                    *("" if n is None else f"{n:.7g}" for n in numbers),
                ]
            )
    return lines


def care_lines(desk: Desk, width: int) -> list[Runs]:
    """Return why the sessions may not be alike in more than the pitchers."""
    sessions = [s.session for s in desk.sittings]
    differ = []
    if len({s.layout.origin_text for s in sessions}) > 1:
        differ.append("mound's layout")
    if len({s.settings for s in sessions}) > 1:
        differ.append("measurement settings")
    said = []
    if differ:
        what = " and ".join(differ)
        said.append(f"! Not the same {what} in all sessions: differences may come from that.")
    if same := _copies(desk):
        said.append(
            f"! {same} are copies of one session (the same id): they are no days of their own."
        )
    said += [f"! {plain(sentence, 300)}" for sentence in at_one_time(sessions)]
    return [
        [(f" {line}", "bold")] for one in said for line in textwrap.wrap(one, max(20, width - 2))
    ]


def _copies(desk: Desk) -> str:
    """Name the sittings that have another's id."""
    ids = [s.session.about.id for s in desk.sittings]
    names = [plain(s.name, 40) for s in desk.sittings if ids.count(s.session.about.id) > 1]
    return " and ".join(names)


def _widths(rows: tuple[Row, ...], units: Units) -> tuple[int, int]:
    """Return how wide the units and the differences are: none of them may be cut."""
    unit = [len(unit_words(row.quantity.key, units)) for row in rows]
    texts = [_difference(d, row.quantity.key, units) for row in rows for d in row.differences]
    return max(unit, default=0), max(len(_FIRST), *(len(text) for text in texts), 0)


def head_lines(desk: Desk, beside: range, width: int) -> list[Runs]:
    """Return what stands side by side, and how more of it comes into sight."""
    count = len(desk.sittings)
    first = plain(desk.sittings[0].name, 40)
    left = f" {count} SESSIONS "
    room = max(20, width - len(left) - 2)
    rest = f"side by side; the first is {first}, {desk.sittings[0].day[:10]}; void ones left out"
    parts = textwrap.wrap(rest, room)
    if len(beside) < count - 1:
        last = f" to {beside.stop}" if len(beside) > 1 else ""
        hint = f"shown: {beside.start + 1}{last} of {count}; , and . show others"
        one = f"{parts[-1]} · {hint}"
        parts = [*parts[:-1], one] if len(one) <= room else [*parts, hint]
    return [
        [(left if at == 0 else " " * len(left), "good" if at == 0 else "ink"), (f" {part}", "ink")]
        for at, part in enumerate(parts)
    ]


def _cell(cell: Cell, key: str, units: Units) -> str:
    unit = unit_of(key)
    median, spread = units.number(unit, cell.median), units.number(unit, cell.spread)
    if cell.count == 0:
        median = spread = MISSING
    return f"{cell.count:>{_COUNT}} {median:>{_MEDIAN}} {spread:>{_SPREAD}}"


def _difference(difference: Difference | None, key: str, units: Units) -> str:
    if difference is None:
        return "too few"
    unit = unit_of(key)
    texts = [units.number(unit, v) for v in (difference.low, difference.high)]
    middle = units.number(unit, difference.estimate)
    sign = "+" if difference.estimate > 0 and any(c in "123456789" for c in middle) else ""
    return f"{sign}{middle} ({texts[0]} to {texts[1]})"
