"""A session as a folder of C3D files, one a pitch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from analysis.exports.c3d_pitch import Written, write_pitch
from analysis.exports.errors import ExportError
from analysis.exports.rates import plan_rates
from analysis.exports.sync import Sync
from analysis.exports.windows import PitchWindow, WindowReader, feed_rate
from analysis.sessions.stored import StoredSession
from stream.layout import PlatformKind
from stream.recording.durable import owner_only_file

#: An error of resampling above this share of the peak is warned of.
MOST_ERROR = 0.005


@dataclass
class C3DSummary:
    """What was written, and the sentences that a user must read."""

    written: dict[int, Written] = field(default_factory=dict)
    sentences: list[str] = field(default_factory=list)
    sync: str = ""

    def rates(self) -> str:
        """Return rates and resampling in words."""
        plan = next(iter(self.written.values())).plan
        said = f"points at {plan.point_hz:g} Hz, forces at {plan.analog_hz:g} Hz ({plan.words()})"
        if plan.up == 1:
            return said
        worst = max(self.written.values(), key=lambda w: w.error_share)
        return (
            f"{said}; estimated error of the spline {worst.error_n:.2f} N in the "
            f"worst pitch, {100 * worst.error_share:.3f} % of its largest force (difference to a "
            "spline of the fifth degree; the true one may be twice that); what an impact did "
            "faster than the feed is not in it"
        )


def file_name(number: int) -> str:
    """Return the name of a pitch's file."""
    return f"pitch-{number:03d}.c3d"


def write_session(
    folder: Path,
    session: StoredSession,
    name: str,
    point_hz: float | None,
    sync: Sync,
    progress: Callable[[float], None] = lambda share: None,
) -> C3DSummary:
    """Write every pitch of ``session`` into ``folder``; raise :class:`ExportError`."""
    summary, told = C3DSummary(), list[PitchWindow]()
    # Rates that do not fit are told before the recordings are read.
    plan_rates(feed_rate(session), point_hz)
    reader = WindowReader(session, progress)
    for window in reader.windows():
        number = window.record.number
        path = folder / file_name(number)
        owner_only_file(path).close()
        try:
            written = write_pitch(path, window, name, point_hz, sync, session.invented)
        except ExportError as error:
            path.unlink(missing_ok=True)
            summary.sentences.append(f"Pitch {number} has no file: {error}.")
            continue
        summary.written[number] = written
        # What a sentence needs of it, not its samples.
        told.append(replace(window, samples=window.samples[:0]))
        if written.cut_frames:
            summary.sentences.append(
                f"Pitch {number}: {written.cut_frames} frames beyond a gap are left out."
            )
    if not summary.written:
        raise ExportError(
            "no pitch could be written: " + " ".join(summary.sentences or ["no recording has them"])
        )
    summary.sync = sync.say(told)
    _notices(summary, session, reader)
    return summary


def _notices(summary: C3DSummary, session: StoredSession, reader: WindowReader) -> None:
    if reader.missing:
        numbers = ", ".join(map(str, sorted(reader.missing)))
        summary.sentences.append(f"Not in the recordings any more: pitch {numbers}.")
    worst = max(w.error_share for w in summary.written.values())
    if worst > MOST_ERROR:
        summary.sentences.append(
            f"Resampling errs by up to {100 * worst:.1f} % of the largest force; leave "
            "--point-rate out where that matters."
        )
    if any(p.kind is PlatformKind.CELLS for p in session.layout.platforms):
        summary.sentences.append(
            "The deck is one platform for both of its planes: the force and its line are exact, "
            "its place is given on the plane through the corners."
        )
