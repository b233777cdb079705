"""One session measured again: the piece of work that runs anywhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from analysis.recompute.differences import differences, differences_not_counted
from analysis.sessions.measured import Measured, measure
from analysis.sessions.stored import StoredSession, read_session
from stream.files import FileError, parse_layout, parse_settings
from stream.outputs import NotCountedRecord, PitchRecord
from stream.recording.session import About, SessionError


@dataclass(frozen=True)
class Job:
    """What to do. ``settings`` and ``layout`` are the texts of files, None for the session's own.

    ``folder`` is absolute, and the same wherever the job runs.
    """

    folder: Path
    settings: str | None = None
    layout: str | None = None

    @property
    def verifies(self) -> bool:
        """Whether the stored numbers are to come out again, rather than new ones."""
        return self.settings is None and self.layout is None


@dataclass(frozen=True)
class Pitches:
    """The records that a job gives, by number.

    ``at_ns`` is each pitch's foot contact by the clock of the computer that
    recorded it; None where the recordings do not have the pitch any more.
    """

    records: tuple[PitchRecord, ...]
    at_ns: tuple[int | None, ...]
    not_counted: tuple[NotCountedRecord, ...]


@dataclass(frozen=True)
class Outcome:
    """What came of a job. ``trouble`` is why there is nothing; else ``about``, ``began``
    (see StoredSession) and ``pitches`` are.

    ``different``: where the numbers are not the stored ones (when verifying).
    ``said``: what else there is to know, such as damage of a recording.
    """

    folder: Path
    about: About | None = None
    began: datetime | None = None
    pitches: Pitches | None = None
    different: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    trouble: str | None = None


def measure_again(job: Job, progress: Callable[[float], None] | None = None) -> Outcome:
    """Do ``job``. Never raises for what is wrong with one session: the others must go on.

    Nothing is written here, so that a job that was cut off can be done again.
    """
    try:
        return _measured(job, progress)
    except (SessionError, FileError) as error:
        return Outcome(job.folder, trouble=str(error))
    except OSError as error:
        return Outcome(job.folder, trouble=f"{error.filename}: {error.strerror}")
    except Exception as error:
        return Outcome(job.folder, trouble=defect(error))


def defect(error: BaseException) -> str:
    """Return the sentence on an error that no session should cause."""
    return f"an error in the program itself ({type(error).__name__}: {error})"


def _measured(job: Job, progress: Callable[[float], None] | None) -> Outcome:
    session = read_session(job.folder)
    if not session.recordings:
        return Outcome(job.folder, trouble="it holds no recording to measure from")
    layout = None if job.layout is None else parse_layout(job.layout, "the layout")
    if layout is not None and layout.channels != session.layout.channels:
        say = f"the layout has {layout.channels} channels, its own has {session.layout.channels}"
        return Outcome(job.folder, trouble=say)
    settings = None if job.settings is None else parse_settings(job.settings, "the settings")
    measured = measure(session, settings=settings, layout=layout, progress=progress)
    found = tuple(pitch.record for pitch in measured.pitches)
    if not job.verifies:
        at_ns = tuple(pitch.at_ns for pitch in measured.pitches)
        pitches = Pitches(found, at_ns, measured.not_counted)
        return Outcome(job.folder, session.about, session.began, pitches, said=measured.sentences)
    return Outcome(
        job.folder,
        session.about,
        session.began,
        _stored(session, measured),
        different=(
            *differences(session.pitches, found),
            *differences_not_counted(session.not_counted, measured.not_counted),
        ),
        said=measured.sentences,
    )


def _stored(session: StoredSession, measured: Measured) -> Pitches:
    at_ns = {pitch.record.number: pitch.at_ns for pitch in measured.pitches}
    times = tuple(at_ns.get(record.number) for record in session.pitches)
    return Pitches(session.pitches, times, session.not_counted)
