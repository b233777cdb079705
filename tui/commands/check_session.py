"""Where a set-up check made by the command is kept: a session that is there, or a new one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.errors import BadInput, RunFailed

if TYPE_CHECKING:
    from stream.checks.verdict import Report
    from stream.layout import Layout


class Keeping:
    """The session folder to keep a check in; raise BadInput at once where it cannot be one.

    ``settings`` is the file with which a new session begins.
    """

    def __init__(self, folder: Path, settings: Path | None) -> None:
        from stream.recording.session import Session, SessionError

        self.folder = folder
        self._settings = settings
        try:
            self._there = (folder / "session.json").exists()
            if self._there:
                Session.open(folder)
            elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
                raise BadInput(f"{folder} is not empty and not a session; name another folder")
        except SessionError as error:
            raise BadInput(str(error)) from None

    @property
    def layout_file(self) -> Path | None:
        """The session's own layout, None for a new session."""
        return self.folder / "layout.toml" if self._there else None

    def agrees(self, layout: Layout) -> None:
        """Raise BadInput where the session was begun with another layout."""
        kept = self.layout_file
        if kept is not None and kept.read_text() != layout.origin_text:
            raise BadInput(f"{self.folder} was begun with another layout; leave out --layout")

    def refuse_if_running(self) -> None:
        """Raise RunFailed while a monitor has the session: the zero would not reach it."""
        from stream.monitor.presence import find, is_held, runtime_folder

        if find(runtime_folder(self.folder)) is not None or is_held(self.folder):
            raise RunFailed(
                f"a monitor runs for {self.folder}: make the check on its screen "
                f"(moundfeed watch --session {self.folder}, then k)"
            )

    def keep(self, report: Report, layout: Layout) -> None:
        """Keep result and zero; a new session is begun."""
        from stream.monitor.presence import AlreadyRunning, hold_session
        from stream.recording.session import SessionError

        try:
            with hold_session(self.folder):
                self._write(report, layout)
        except AlreadyRunning as error:
            raise RunFailed(str(error)) from None
        except SessionError as error:
            raise BadInput(str(error)) from None

    def _write(self, report: Report, layout: Layout) -> None:
        import msgspec

        from stream.files import load_settings, settings_text
        from stream.recording.session import Session
        from stream.roster import Roster
        from stream.settings import Settings

        if self._there:
            session = Session.open(self.folder)
        else:
            settings = load_settings(self._settings) if self._settings else Settings()
            session = Session.create(
                self.folder,
                source=report.source,
                layout_text=layout.origin_text,
                settings_text=settings_text(settings),
                roster=Roster(),
            )
        if session.about.source != report.source:
            raise BadInput(
                f"{self.folder} belongs to {session.about.source!r}, the check is of "
                f"{report.source!r}"
            )
        session.keep_check(msgspec.to_builtins(report))
        if report.tare is not None:
            session.add_log("zero", {"tare": msgspec.to_builtins(report.tare)})
        session.close()
