"""The session folder: everything of one session in one place that explains itself.

::

    DIR/                     0700, all files 0600
      session.json           what this is: version, id, source, created, program
      layout.toml            the layout used
      settings.toml          the settings used
      roster.csv             codes only, no names
      recording-001.mcap     one a run of the monitor; replaying them gives pitches.jsonl again
      pitches.jsonl          one line a pitch or movement not counted
      log.jsonl              what the operator did and what happened, append-only
      check.json             the last set-up check
      results/<name>/        recomputed with other settings, never over the first

File names come from here alone, never from a topic, roster or note.
"""

from __future__ import annotations

import contextlib
import os
import re
import time
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

import msgspec

from stream import __version__
from stream.outputs import NotCountedRecord, PitchRecord, record_json
from stream.recording.durable import OWNER_ONLY_FOLDER, write_whole
from stream.roster import Roster
from stream.sinks.jsonl import LineFile
from stream.wire import WireError, check_source

SESSION_VERSION = 1
#: Files of a session's folder: its records, and what happened.
RECORDS, LOG = "pitches.jsonl", "log.jsonl"
MAX_ABOUT_BYTES = 64 * 1024
_RECORDING = re.compile(r"recording-([0-9]{3,6})\.mcap\Z")
_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}\Z")


class SessionError(ValueError):
    """A folder that cannot be this session; the text says why."""


class About(msgspec.Struct, frozen=True):
    """``session.json``."""

    v: int
    id: str
    source: str
    created: str
    program: str


class Session:
    """A session's folder, opened. Not for two monitors at once."""

    def __init__(self, folder: Path, about: About) -> None:
        self.folder = folder
        self.about = about
        self._pitches: LineFile | None = None
        self._log: LineFile | None = None

    @classmethod
    def create(
        cls, folder: Path, *, source: str, layout_text: str, settings_text: str, roster: Roster
    ) -> Self:
        """Make a new session in ``folder`` (new or empty); raise :class:`SessionError`, OSError."""
        try:
            check_source(source)
        except WireError as error:
            raise SessionError(error.detail) from None
        _make_folder(folder)
        if any(folder.iterdir()):
            raise SessionError(f"{folder} is not empty and not a session; name another folder")
        folder.chmod(OWNER_ONLY_FOLDER)
        now = datetime.now(UTC).isoformat(timespec="seconds")
        about = About(SESSION_VERSION, os.urandom(8).hex(), source, now, __version__)
        write_whole(folder / "layout.toml", layout_text.encode())
        write_whole(folder / "settings.toml", settings_text.encode())
        write_whole(folder / "roster.csv", roster.coded().to_csv().encode())
        # Last, because its presence says that the rest is there.
        write_whole(folder / "session.json", msgspec.json.encode(about))
        return cls(folder, about)

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open the session in ``folder``; raise :class:`SessionError`, OSError."""
        try:
            if (folder / "session.json").stat().st_size > MAX_ABOUT_BYTES:
                raise SessionError(f"{folder}/session.json is too large to be a session's")
            about = msgspec.json.decode((folder / "session.json").read_bytes(), type=About)
            check_source(about.source)
        except (FileNotFoundError, NotADirectoryError):
            raise SessionError(f"{folder} is not a session (it has no session.json)") from None
        except (msgspec.MsgspecError, UnicodeDecodeError, WireError) as error:
            raise SessionError(f"{folder}/session.json cannot be read: {error}") from None
        if about.v != SESSION_VERSION:
            raise SessionError(f"{folder} is a session of version {about.v}; this program reads 1")
        return cls(folder, about)

    @classmethod
    def open_or_create(
        cls, folder: Path, *, source: str, layout_text: str, settings_text: str, roster: Roster
    ) -> Self:
        """Continue the session in ``folder``, or begin one.

        A session keeps its mound, layout and settings: others raise
        :class:`SessionError`. Its roster may grow.
        """
        if not (folder / "session.json").exists():
            return cls.create(
                folder,
                source=source,
                layout_text=layout_text,
                settings_text=settings_text,
                roster=roster,
            )
        session = cls.open(folder)
        if session.about.source != source:
            raise SessionError(f"{folder} belongs to {session.about.source!r}, not to {source!r}")
        for kept, given, what in (
            (session.layout_text, layout_text, "layout"),
            (session.settings_text, settings_text, "settings"),
        ):
            if kept != given:
                raise SessionError(
                    f"{folder} was begun with another {what}; name a new folder, "
                    f"or give {folder}/{what}.toml"
                )
        write_whole(folder / "roster.csv", roster.coded().to_csv().encode())
        return session

    @property
    def layout_text(self) -> str:
        """The layout file's text."""
        return (self.folder / "layout.toml").read_text()

    @property
    def settings_text(self) -> str:
        """The settings file's text."""
        return (self.folder / "settings.toml").read_text()

    @property
    def roster_csv(self) -> str:
        """The roster as CSV, codes only."""
        return (self.folder / "roster.csv").read_text()

    def recordings(self) -> list[Path]:
        """Return the recordings in the order in which they were made."""
        return [path for _, path in self._numbered()]

    def next_recording(self) -> tuple[int, Path]:
        """Return the number and path of the recording that comes next."""
        number = 1 + max((number for number, _ in self._numbered()), default=0)
        return number, self.folder / f"recording-{number:03d}.mcap"

    def pitches(self) -> Iterator[PitchRecord | NotCountedRecord]:
        """Yield the records of ``pitches.jsonl``, but for a line that a crash left unfinished."""
        yield from records_in(self.folder / RECORDS)

    def next_number(self) -> int:
        """Return the number of the next pitch."""
        return 1 + max((r.number for r in self.pitches() if isinstance(r, PitchRecord)), default=0)

    def add_record(self, record: PitchRecord | NotCountedRecord) -> None:
        """Append one line to ``pitches.jsonl``; a full disk makes it wait (see :meth:`trouble`)."""
        if self._pitches is None:
            self._pitches = LineFile(self.folder / RECORDS)
        self._pitches.append(record_json(record))

    def add_log(self, what: str, detail: Mapping[str, Any], t_ns: int | None = None) -> None:
        """Append one line to ``log.jsonl``: ``what`` happened at the host time ``t_ns``."""
        if self._log is None:
            self._log = LineFile(self.folder / LOG)
        entry = {"v": 1, "t_ns": time.time_ns() if t_ns is None else t_ns, "what": what, **detail}
        self._log.append(msgspec.json.encode(entry))

    def log(self) -> Iterator[dict[str, Any]]:
        """Yield the entries of ``log.jsonl``, oldest first."""
        for line in _lines(self.folder / LOG):
            with contextlib.suppress(msgspec.MsgspecError, UnicodeDecodeError):
                yield msgspec.json.decode(line, type=dict[str, Any])

    def keep_check(self, result: Mapping[str, Any]) -> None:
        """Keep the result of a set-up check as the last one, and in the log; raise OSError."""
        write_whole(self.folder / "check.json", msgspec.json.encode(result))
        self.add_log("check", {"result": result})

    def check(self) -> dict[str, Any] | None:
        """Return the last set-up check's result; None where there was none."""
        path = self.folder / "check.json"
        if not path.exists():
            return None
        try:
            return msgspec.json.decode(path.read_bytes(), type=dict[str, Any])
        except (msgspec.MsgspecError, UnicodeDecodeError) as error:
            raise SessionError(f"{path} cannot be read: {error}") from None

    def new_result(self, name: str) -> Path:
        """Make the folder of a new named result; raise :class:`SessionError` if it is taken."""
        if not _NAME.match(name):
            raise SessionError("a result's name has 1 to 64 letters, digits, - or _")
        folder = self.folder / "results" / name
        if folder.exists():
            raise SessionError(f"there is a result {name!r} already; give another name")
        _make_folder(folder.parent)
        _make_folder(folder)
        return folder

    def _numbered(self) -> list[tuple[int, Path]]:
        found = [(_RECORDING.match(path.name), path) for path in self.folder.iterdir()]
        return sorted((int(match[1]), path) for match, path in found if match)

    def trouble(self) -> str | None:
        """Return what keeps lines from the disk, or has taken them, in words; also tries again."""
        for lines in (self._pitches, self._log):
            if lines is not None and (not lines.retry() or lines.trouble):
                return lines.trouble
        return None

    def close(self) -> bool:
        """Close the files; return whether all lines are in them."""
        complete = True
        for lines in (self._pitches, self._log):
            if lines is not None:
                complete = lines.close() and complete
        self._pitches = self._log = None
        return complete


def records_in(path: Path) -> Iterator[PitchRecord | NotCountedRecord]:
    """Yield the records of a ``pitches.jsonl``, but for a line that a crash left unfinished."""
    for line in _lines(path):
        if (record := _record(line)) is not None:
            yield record


def _record(line: bytes) -> PitchRecord | NotCountedRecord | None:
    # By the keys that a line has: any of its texts may read like a key of the other kind.
    with contextlib.suppress(msgspec.MsgspecError, UnicodeDecodeError):
        return msgspec.json.decode(line, type=PitchRecord)
    with contextlib.suppress(msgspec.MsgspecError, UnicodeDecodeError):
        return msgspec.json.decode(line, type=NotCountedRecord)
    return None


def _make_folder(folder: Path) -> None:
    folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)


def _lines(path: Path) -> Iterator[bytes]:
    if path.exists():
        with path.open("rb") as file:
            yield from (line for line in file if line.endswith(b"\n"))
