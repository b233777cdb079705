"""What the review asks: whose pitches, which, in what order, what to write where."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from analysis.review.selection import NUMBER, PITCHER, Order, Which
from analysis.review.written import Kind, write
from analysis.running import PitchRow
from analysis.sessions.stored import StoredSession
from tui.review import days, metric_list, pitch_table
from tui.review.cells import csv_text, write_new
from tui.review.changes import Changing
from tui.review.desk import COLUMNS, Desk
from tui.review.dialogs import FileDialog, Pick, PickSeveral, PitchDialog
from tui.review.head import WHICH
from tui.review.job import Job, Progress, Settle
from tui.review.pitch_table import label_of, unit_words
from tui.review.screen import ReviewScreen
from tui.safe_text import plain
from tui.said import in_units
from tui.screens.dialogs import Dialog
from tui.units import Units
from tui.words import pitcher_name

_EVERYBODY = "everybody"
_CARE = "It holds athletes' data."
_KINDS = {
    "report": Kind.REPORT,
    "report-all": Kind.REPORT,
    "export-csv": Kind.CSV,
    "export-parquet": Kind.PARQUET,
    "export-c3d": Kind.C3D,
}
#: What is written of one pitch only; its number stands in the file's name.
_OF_A_PITCH = ("values", "curves")
_ENDINGS = {
    Kind.REPORT: "-report.html",
    Kind.CSV: "-export.csv",
    Kind.PARQUET: "-export.parquet",
    Kind.C3D: "-c3d",
}


class Asking(Changing):
    """The part of the review with questions."""

    def __init__(self, desk: Desk, units: Units, clock: Callable[[], int]) -> None:
        super().__init__(desk, units, clock)
        self.writing = Job()

    @property
    def main(self) -> ReviewScreen | None:
        """The review's screen, whatever lies over it."""
        return next((s for s in self.screen_stack if isinstance(s, ReviewScreen)), None)

    @property
    def _free(self) -> bool:
        return not any(isinstance(screen, Dialog) for screen in self.screen_stack)

    def action_pitcher(self) -> None:
        """Ask whose pitches are looked at."""
        if self._free:
            options = [(_EVERYBODY, "everybody")]
            options += [(f"={code}", pitcher_name(code)) for code in self.desk.pitchers]
            now = self.desk.selection.pitcher
            current = _EVERYBODY if now is None else f"={now}"
            self.push_screen(Pick("Whose pitches?", options, current), self._pitcher_picked)

    def action_which(self) -> None:
        """Ask which pitches are looked at."""
        if self._free:
            options = [(which.value, words) for which, words in WHICH.items()]
            current = self.desk.selection.which.value
            self.push_screen(Pick("Which pitches?", options, current), self._which_picked)

    def action_order(self) -> None:
        """Ask in what order; the same again turns it round."""
        if self._free:
            options = [(NUMBER, "number"), (PITCHER, "pitcher")]
            options += [(key, self._column_words(key)) for key in COLUMNS]
            self.push_screen(Pick("Order by what?", options, self.desk.order.key), self.order_by)

    def action_columns(self) -> None:
        """Ask for the columns of the table."""
        if self._free:
            options = [(key, self._column_words(key)) for key in COLUMNS]
            ask = PickSeveral("Columns of the table", options, self.desk.columns)
            self.push_screen(ask, self._columns_picked)

    def order_by(self, key: str | None) -> None:
        """Order by ``key``; turn the order round where it is that already."""
        if key is None:
            return
        order = self.desk.order
        first_down = key not in (NUMBER, PITCHER)
        falling = not order.falling if order.key == key else first_down
        self.desk.order = Order(key, falling)
        self.redraw()

    def action_go_to(self) -> None:
        """Ask which pitch is to be looked at."""
        if self._free:
            numbers = [p.record.number for p in self.desk.now.pitches]
            seen = [r.record.number for r in self.desk.rows if isinstance(r, PitchRow)]
            self.push_screen(PitchDialog(numbers, seen), self._gone_to)

    def action_write(self) -> None:
        """Ask what is to be written, and where."""
        if self._free:
            things = [*self._things(), *self._outputs()]
            self.push_screen(Pick("Write what?", things), self._file_asked)

    def action_copy(self) -> None:
        """Ask what is to be copied to the clipboard."""
        if self._free:
            self.push_screen(Pick("Copy what to the clipboard?", self._things()), self._copied)

    def action_sentences(self) -> None:
        """Show what the recordings say of themselves."""
        sentences = self.desk.now.sentences
        text = "\n".join(in_units(plain(s, 400), self.units) for s in sentences)
        self.tell(text or "Nothing to read: the recordings are whole.", timeout=20)

    # What the dialogs answered

    def _pitcher_picked(self, answer: str | None) -> None:
        if answer is not None:
            code = None if answer == _EVERYBODY else answer[1:]
            self.desk.selection = replace(self.desk.selection, pitcher=code)
            self._selection_changed()

    def _which_picked(self, answer: str | None) -> None:
        if answer is not None:
            self.desk.selection = replace(self.desk.selection, which=Which(answer))
            self._selection_changed()

    def _selection_changed(self) -> None:
        self.desk.keep_in_sight()
        self.redraw()

    def _columns_picked(self, keys: tuple[str, ...] | None) -> None:
        if keys is not None:
            self.desk.columns = keys
            self.redraw()

    def _gone_to(self, number: int | None) -> None:
        if number is not None:
            self.desk.choose(number)
            self.redraw()

    def _file_asked(self, what: str | None) -> None:
        if what is None:
            return
        folder = self.desk.now.session.folder.absolute().name
        kind = _KINDS.get(what)
        if kind is None:
            row = self.desk.shown
            of = f"-pitch-{row.record.number}" if what in _OF_A_PITCH and row is not None else ""
            title = f"Write {dict(self._things())[what]} to"
            ask = FileDialog(title, f"{folder}{of}-{what}.csv")
            self.push_screen(ask, lambda path: self._write(what, path))
        else:
            title = f"Write {dict(self._outputs())[what]} to"
            several = "" if what != "report-all" else "sessions-"
            ask = FileDialog(title, f"{several}{folder}{_ENDINGS[kind]}")
            sessions = [self.desk.now.session]
            if what == "report-all":
                sessions = [s.session for s in self.desk.sittings]
            self.push_screen(ask, lambda path: self._produce(kind, sessions, path))

    def _write(self, what: str, path: Path | None) -> None:
        if path is None:
            return
        rows = self._cells(what)
        try:
            write_new(path, csv_text(rows))
        except OSError as error:
            self.tell(f"Not written: {error.strerror}", severity="error")
        else:
            self.tell(f"{path}: {len(rows) - 1} rows, SI units. {_CARE}")

    def _produce(self, kind: Kind, sessions: list[StoredSession], path: Path | None) -> None:
        if path is None:
            return

        def work(tell: Progress) -> Settle:
            said = write(kind, sessions, path, tell)
            text = f"{path}: {said.rstrip('.')}. {_CARE}"
            return lambda: self.tell(plain(text, 600), timeout=15)

        self.writing.start(work, self._not_written)

    def _not_written(self, why: str) -> None:
        self.tell(f"Not written: {plain(why, 400)}", severity="error", timeout=15)

    def _copied(self, what: str | None) -> None:
        if what is not None:
            rows = self._cells(what)
            self.copy_to_clipboard(csv_text(rows))
            self.tell(
                f"{len(rows) - 1} rows copied, SI units, if this terminal lets programs copy "
                "(OSC 52)."
            )

    def _things(self) -> list[tuple[str, str]]:
        rows = len(pitch_table.as_cells(self.desk)) - 1
        columns = len(self.desk.columns)
        things = [("pitches", f"the table: {rows} pitches, {columns} chosen columns")]
        row = self.desk.shown
        if row is not None:
            number = row.record.number
            things.append(("values", f"all values of pitch {number}"))
            if self.main is not None and self.main.traces.stack:
                things.append(("curves", f"the curves of pitch {number} as drawn"))
        if len(self.desk.sittings) > 1:
            things.append(("sessions", f"all {len(self.desk.sittings)} sessions side by side"))
        return things

    def _outputs(self) -> list[tuple[str, str]]:
        """What the commands report and export write, of the session before us or of all."""
        name = plain(self.desk.now.name, 30)
        outputs = [("report", f"the report of {name} (HTML)")]
        if len(self.desk.sittings) > 1:
            outputs.append(("report-all", f"one report of all {len(self.desk.sittings)} sessions"))
        return [
            *outputs,
            ("export-csv", f"all of {name} as CSV with a data dictionary"),
            ("export-parquet", f"all of {name} as Parquet with a data dictionary"),
            ("export-c3d", f"all of {name} as C3D, a new folder, one file a pitch"),
        ]

    def _cells(self, what: str) -> list[list[str]]:
        row, screen = self.desk.shown, self.main
        if what == "values" and row is not None:
            return metric_list.as_cells(row)
        if what == "curves" and screen is not None:
            return screen.view.as_cells()
        if what == "sessions":
            return days.as_cells(self.desk)
        return pitch_table.as_cells(self.desk)

    def _column_words(self, key: str) -> str:
        unit = unit_words(key, self.units)
        return f"{label_of(key)}, {unit}" if unit else label_of(key)
