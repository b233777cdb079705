"""A session folder as it stands: what was measured, with all that the operator changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import msgspec

from analysis.invented import any_invented
from analysis.sessions.clock import first_message
from analysis.sessions.runs import run_again
from analysis.words import NOT_MEASURED_AGAIN
from stream.changes import Change, apply_changes, changes_of
from stream.files import load_layout, load_roster, load_settings
from stream.layout import Layout
from stream.outputs import NotCountedRecord, PitchRecord
from stream.recording.session import RECORDS, About, Session, SessionError, records_in
from stream.roster import Roster
from stream.settings import Settings


@dataclass(frozen=True)
class StoredSession:
    """One measurement of one session. ``check`` is the last set-up check; the roster has codes.

    ``pitches`` are by number, with the operator's actions applied. ``result``
    is None for the first measurement, else its name under ``results/``.
    """

    folder: Path
    about: About
    layout: Layout
    settings: Settings
    roster: Roster
    check: Mapping[str, Any] | None
    log: tuple[Mapping[str, Any], ...]
    pitches: tuple[PitchRecord, ...]
    not_counted: tuple[NotCountedRecord, ...]
    recordings: tuple[Path, ...]
    result: str | None = None

    @cached_property
    def began(self) -> datetime:
        """When the session began, UTC: when the first message of its first recording came.

        A session made by a replay or an import is younger as a folder. Without
        a recording that tells the time of day it is when the folder was made.
        """
        return first_message(self.recordings) or _made(self.folder, self.about)

    @cached_property
    def invented(self) -> bool:
        """Whether a recording says that it was simulated."""
        return any_invented(self.recordings)

    @property
    def name(self) -> str:
        """The folder's name, which tells one session from another, and the result's."""
        folder = self.folder.absolute().name
        return folder if self.result is None else f"{folder} ({self.result})"


def read_session(folder: Path, result: str | None = None) -> StoredSession:
    """Read the session in ``folder``; raise SessionError, FileError, OSError.

    No recording is opened, except where a pitch was given afterwards to a
    pitcher whose handedness, height or weigh-in is another: its numbers then
    are measured anew.
    """
    session = Session.open(folder)
    results = folder if result is None else _result_folder(folder, result)
    lines = list(records_in(results / RECORDS))
    log = tuple(session.log())
    roster = load_roster(folder / "roster.csv").coded()
    recordings = tuple(session.recordings())
    records = _last_of_each([r for r in lines if isinstance(r, PitchRecord)])
    changes = changes_of(log)
    layout_file, settings_file = (_nearest(results, folder, n) for n in _SETUP_FILES)
    layout, settings = load_layout(str(layout_file)), load_settings(settings_file)
    measure_for = _Anew(session.about.source, roster, recordings, changes, layout, settings)
    return StoredSession(
        folder=folder,
        about=session.about,
        layout=layout,
        settings=settings,
        roster=roster,
        check=session.check(),
        log=log,
        pitches=apply_changes(session.about.source, records, changes, measure_for),
        not_counted=tuple(r for r in lines if isinstance(r, NotCountedRecord)),
        recordings=recordings,
        result=result,
    )


_SETUP_FILES = ("layout.toml", "settings.toml")


def _result_folder(folder: Path, result: str) -> Path:
    """Return the folder of a named result; only a name that is there is used as a path."""
    parent = folder / "results"
    names = sorted(p.name for p in parent.iterdir()) if parent.is_dir() else []
    if result not in names:
        known = f"it has {', '.join(names)}" if names else "it has none"
        raise SessionError(f"{folder} has no result {result!r}; {known}")
    return parent / result


def _made(folder: Path, about: About) -> datetime:
    try:
        return datetime.fromisoformat(about.created).astimezone(UTC)
    except ValueError:
        # Somebody has edited the file; its own time is all that is left.
        return datetime.fromtimestamp((folder / "session.json").stat().st_mtime, UTC)


def _nearest(results: Path, folder: Path, name: str) -> Path:
    """A result holds the file if it was measured with another one than the session's."""
    own = results / name
    return own if own.exists() else folder / name


def _last_of_each(records: Sequence[PitchRecord]) -> list[PitchRecord]:
    return list({record.number: record for record in records}.values())


class _Anew:
    """A record for another pitcher: from the recordings where the numbers depend on who threw."""

    def __init__(
        self,
        source: str,
        roster: Roster,
        recordings: tuple[Path, ...],
        changes: tuple[Change, ...],
        layout: Layout,
        settings: Settings,
    ) -> None:
        self._source = source
        self._roster = roster
        self._recordings = recordings
        self._changes = changes
        self._layout = layout
        self._settings = settings
        self._measured: dict[int, PitchRecord] | None = None

    def __call__(self, record: PitchRecord, code: str) -> PitchRecord:
        """Return ``record`` for the pitcher with ``code``."""
        if code == record.pitcher:
            return record
        before, after = self._roster.find(record.pitcher), self._roster.find(code)
        facts = ("throws", "height_m", "weigh_in_kg")
        if all(getattr(before, f) == getattr(after, f) for f in facts):
            return msgspec.structs.replace(record, pitcher=code)
        if self._measured is None:
            self._measured = self._measure()
        anew = self._measured.get(record.number)
        same = anew is not None and anew.stream == record.stream and anew.pitcher == code
        if anew is not None and same:
            return anew
        return msgspec.structs.replace(
            record,
            pitcher=code,
            throws=after.throws,
            metrics=dict.fromkeys(record.metrics),
            body_weight_n=None,
            flags=tuple(sorted({*record.flags, NOT_MEASURED_AGAIN})),
        )

    def _measure(self) -> dict[int, PitchRecord]:
        found: dict[int, PitchRecord] = {}
        for path in self._recordings:
            run = run_again(
                path, self._source, self._changes, layout=self._layout, settings=self._settings
            )
            found |= {p.record.number: p.record for p in run.pitches}
        return found
