"""A stored session measured again from its recordings, for curves and for other settings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from analysis.sessions.runs import EVERYTHING, LoneSpeed, MeasuredPitch, Run, Window, run_again
from analysis.sessions.stored import StoredSession
from stream.changes import changes_of
from stream.layout import Layout
from stream.outputs import Gap, NotCountedRecord, ZeroLearnt
from stream.settings import Settings
from stream.tracker import LONGEST_GAP_S
from stream.watchman import lasting
from stream.wire import NS

__all__ = ["Measured", "MeasuredPitch", "measure"]


@dataclass(frozen=True)
class Measured:
    """A session's pitches by number with their curves, and what its recordings lack, in words.

    ``zeros`` are the zeros in force one after the other, of all its runs;
    ``zero_moved_n`` is how far the last is from the one taken, N.
    """

    pitches: tuple[MeasuredPitch, ...]
    not_counted: tuple[NotCountedRecord, ...]
    lone_speeds: tuple[LoneSpeed, ...]
    gaps: tuple[Gap, ...]
    zeros: tuple[ZeroLearnt, ...]
    zero_moved_n: float | None
    sentences: tuple[str, ...]


def measure(
    session: StoredSession,
    *,
    settings: Settings | None = None,
    layout: Layout | None = None,
    window_s: Window = EVERYTHING,
    progress: Callable[[float], None] | None = None,
) -> Measured:
    """Send the session's recordings through the core; raise FileError, OSError.

    Each begins as its run of the monitor did, with the layout, settings and
    roster it carries: the numbers are then bit for bit those that were
    stored. ``settings`` or ``layout`` are used instead where given.
    ``window_s``, seconds from foot contact, is what is kept of the curves.
    ``progress`` is told the share done, 0 to 1.
    """
    as_it_was = settings is None and layout is None
    changes = changes_of(session.log)
    total = sum(path.stat().st_size for path in session.recordings) or 1
    before, runs, last = 0, list[Run](), 0
    for path in session.recordings:

        def tell(offset: int, before: int = before) -> None:
            if progress is not None:
                progress((before + offset) / total)

        run = run_again(
            path,
            session.about.source,
            changes,
            layout=layout,
            settings=settings,
            # Another measurement may find more pitches in an earlier recording.
            first_number=1 if as_it_was else last + 1,
            window_s=window_s,
            progress=tell,
        )
        runs.append(run)
        last = max([last, *(p.record.number for p in run.pitches)])
        before += path.stat().st_size
    if progress is not None:
        progress(1.0)
    return _together(session, runs, as_it_was)


def _missed(runs: Iterable[Run]) -> Iterator[str]:
    """Say for how long nothing was recorded after a run that was cut off."""
    came = [(run.cut_off, *run.came_ns) for run in runs if run.came_ns is not None]
    for (cut_off, _, ended_ns), (_, began_ns, _) in pairwise(came):
        missed_s = (began_ns - ended_ns) / NS
        if cut_off and missed_s > LONGEST_GAP_S:
            yield (
                "After the recording that was not closed nothing was recorded for "
                f"{lasting(missed_s)}: a pitch thrown then is not in the list."
            )


def _together(session: StoredSession, runs: list[Run], as_it_was: bool) -> Measured:
    by_number: dict[int, MeasuredPitch] = {}
    sentences = [sentence for run in runs for sentence in run.sentences]
    sentences += _missed(runs)
    for run in runs:
        for pitch in run.pitches:
            number = pitch.record.number
            if number in by_number:
                sentences.append(
                    f"Number {number} was given twice: the monitor broke off after a pitch before "
                    "its line was written. The later pitch is shown, as stored."
                )
            by_number[number] = pitch
    stored = {r.number for r in session.pitches}
    if lost := sorted(stored - set(by_number)):
        why = (
            "cannot be found in the recordings any more; only the stored numbers are left"
            if as_it_was
            else f"{_plural(lost, 'does', 'do')} not come again: with other settings other "
            "movements may count"
        )
        sentences.append(f"{_pitches(lost)} {why}.")
    if more := sorted(set(by_number) - stored):
        why = (
            f"the monitor broke off before {_plural(more, 'it was', 'they were')} written"
            if as_it_was
            else "with other settings other movements may count"
        )
        sentences.append(f"{_pitches(more)} {_plural(more, 'has', 'have')} no stored line ({why}).")
    return Measured(
        tuple(by_number[n] for n in sorted(by_number)),
        tuple(n for run in runs for n in run.not_counted),
        tuple(s for run in runs for s in run.lone_speeds),
        tuple(g for run in runs for g in run.gaps),
        tuple(z for run in runs for z in run.zeros),
        next((r.zero_moved_n for r in reversed(runs) if r.zero_moved_n is not None), None),
        tuple(sentences),
    )


def _plural(numbers: list[int], one: str, many: str) -> str:
    return one if len(numbers) == 1 else many


def _pitches(numbers: list[int]) -> str:
    """Name pitches by their numbers (in order), neighbours from three on as "4 to 9"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = (f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)
    return f"{_plural(numbers, 'Pitch', 'Pitches')} {', '.join(told)}"
