"""A named result in a session's folder, beside the first measurement and never over it.

``results/<name>/`` gets ``settings.toml`` and ``layout.toml`` where they are
not the session's own, ``result.json`` (version, time, program, what was
said), and ``pitches.jsonl``. The last one is written when the others are
there: its presence says that the result is complete.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec

from analysis.recompute.job import Job, Outcome
from stream import __version__
from stream.outputs import record_json
from stream.recording.durable import write_whole
from stream.recording.session import RECORDS, Session, SessionError


def is_there(job: Job, name: str) -> bool:
    """Whether the session of ``job`` has the complete result ``name`` with the same settings.

    Raise :class:`SessionError` where it has one with others, or is no session.
    """
    folder = Session.open(job.folder).folder / "results" / name
    if not folder.exists():
        return False
    for text, file in ((job.settings, "settings.toml"), (job.layout, "layout.toml")):
        if _text(folder / file) != text:
            raise SessionError(f"it has a result {name!r} with another {file}; give another --name")
    return (folder / RECORDS).exists()


def keep(job: Job, outcome: Outcome, name: str) -> Path:
    """Write the result ``name`` of ``job``; raise :class:`SessionError`, OSError.

    What an interrupted run left unfinished under this name is finished.
    """
    assert outcome.pitches is not None
    session = Session.open(job.folder)
    folder = session.folder / "results" / name
    if not _is_unfinished(folder):
        folder = session.new_result(name)
    for text, file in ((job.settings, "settings.toml"), (job.layout, "layout.toml")):
        if text is not None:
            write_whole(folder / file, text.encode())
    about = {
        "v": 1,
        "session": session.about.id,
        "created": datetime.now(UTC).isoformat(timespec="seconds"),
        "program": __version__,
        "said": outcome.said,
    }
    write_whole(folder / "result.json", msgspec.json.encode(about))
    lines = [record_json(record) for record in outcome.pitches.records]
    lines += [record_json(record) for record in outcome.pitches.not_counted]
    write_whole(folder / RECORDS, b"".join(line + b"\n" for line in lines))
    return folder


def _is_unfinished(folder: Path) -> bool:
    return folder.is_dir() and not (folder / RECORDS).exists()


def _text(path: Path) -> str | None:
    return path.read_text("utf-8") if path.exists() else None
