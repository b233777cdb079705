"""A change of a stored session after the fact: one more line in its log, then read anew."""

from __future__ import annotations

import msgspec

from analysis.sessions.stored import StoredSession, read_session
from stream.actions import Action
from stream.monitor.presence import AlreadyRunning, find, hold_session, runtime_folder
from stream.recording.session import Session

_RUNNING = (
    "A monitor is running for this session; change it on the live screen (moundfeed watch), or end "
    "the monitor first."
)


class ChangeRefused(Exception):  # noqa: N818 - it is an answer, said to whoever asked
    """The session cannot be changed now; the text says why and what to do."""


def change(session: StoredSession, action: Action) -> StoredSession:
    """Append ``action`` to the session's log and return the session as it then stands.

    Nothing that was measured is touched. Raise :class:`ChangeRefused` where a
    monitor is running for the session (it alone writes then) or the disk does
    not take the line; SessionError, FileError, OSError where it cannot be read.
    """
    if find(runtime_folder(session.folder)) is not None:
        raise ChangeRefused(_RUNNING)
    folder = Session.open(session.folder)
    try:
        with hold_session(session.folder):
            folder.add_log("action", msgspec.to_builtins(action))
            trouble = folder.trouble()
            complete = folder.close()
    except AlreadyRunning:
        raise ChangeRefused(_RUNNING) from None
    if not complete:
        raise ChangeRefused(f"The log could not be written: {trouble}")
    return read_session(session.folder, session.result)
