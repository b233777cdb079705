"""In which order several sessions stand: the one order of the report and of the review."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from analysis.sessions.stored import StoredSession


def in_time_order(sessions: Iterable[StoredSession]) -> list[StoredSession]:
    """Return ``sessions`` by the second in which they began; ties stay as they were given.

    Below a second two beginnings tell no order: simulated recordings all begin
    at one moment, but for the jitter of their first message.
    """
    return sorted(sessions, key=_second)


def at_one_time(sessions: Iterable[StoredSession]) -> list[str]:
    """Return a sentence for all sessions of one mound that begin at the same time.

    Copies of one session (the same id) are no sessions of their own and are
    not told of here.
    """
    groups: dict[tuple[str, datetime], dict[str, str]] = {}
    for session in sessions:
        key = session.about.source, _second(session)
        groups.setdefault(key, {}).setdefault(session.about.id, session.name)
    return [
        f"{_listed(list(names.values()))} of {source} begin at the same time ({at:%Y-%m-%d %H:%M} "
        "UTC): they stand in the order in which they were named, which need not be that in which "
        "they were thrown."
        for (source, at), names in groups.items()
        if len(names) > 1
    ]


def _second(session: StoredSession) -> datetime:
    return session.began.replace(microsecond=0)


def _listed(names: list[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"
