"""What was measured and how, and what it takes to make it again."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from analysis import page
from analysis.counted import counted
from analysis.report.gather import Part
from analysis.report.left_out import table_or
from analysis.report.numbers import ESTIMATE, headed, typeset, unit_name
from analysis.sessions.clock import day_of, first_message
from analysis.sessions.stored import StoredSession
from stream import __version__
from stream.checks.tare import moved_sentence
from stream.checks.verdict import Report, Status, verdict_line
from stream.files import settings_text

_FILES = ("pitches.jsonl", "log.jsonl", "layout.toml", "settings.toml", "roster.csv", "result.json")


def how(part: Part) -> list[str]:
    """Return what was measured and how."""
    session = part.session
    rows = [
        ("mound", session.about.source),
        ("folder", session.name),
        ("session", session.about.id),
        ("began", f"{session.began:%Y-%m-%d %H:%M:%S} UTC ({_by(session)})"),
        ("folder made", session.about.created),
        ("measurement", "the first one" if session.result is None else f"result {session.result}"),
        ("layout", f"{session.layout.name}, {session.layout.channels} channels"),
        ("forces", f"ground reaction in the mound frame, {_smooth(part)}; foot contact unfiltered"),
        ("pitches", f"{len(part.pitches)}, of {counted(len(part.own), 'pitcher')}"),
        ("movements not counted", str(len(session.not_counted))),
        ("recordings", str(len(session.recordings))),
    ]
    meanings = [(what.label, unit_name(what.unit), what.definition) for what in part.quantities]
    return [
        page.table("The session", ("what", "value"), rows, (1,)),
        page.table("What the columns mean", ("column", "unit", "definition"), meanings, (1, 2)),
        *map(page.paragraph, _estimates(part)),
        *map(page.paragraph, _same_again(part)),
    ]


def _smooth(part: Part) -> str:
    """Return what was filtered: a low-pass from half the feed's rate on does nothing."""
    hertz = part.session.settings.filter_hz
    if hertz is None:
        return "unfiltered"
    rate_hz = min((traces.rate_hz for traces in part.traces.values()), default=np.inf)
    if hertz >= rate_hz / 2:
        return f"unfiltered (a low-pass of {hertz:g} Hz does nothing at {rate_hz:g} Hz)"
    return f"low-pass of {hertz:g} Hz, zero phase"


def check(part: Part) -> list[str]:
    """Return the set-up check's verdict, and how the zero moved."""
    report = None
    if part.session.check is not None:
        try:
            report = msgspec.convert(part.session.check, Report)
        except msgspec.ValidationError:
            return [page.paragraph("The set-up check of this session cannot be read.")]
    said = [verdict_line(report)]
    if report is not None:
        said += [f"It was made {_stamp(report.taken_ns)}{_load(report)}."]
        said += [
            f"{r.check}: {typeset(r.say)}"
            if r.status is Status.NOT_RUN
            else f"{r.check} ({r.status}): {typeset(r.say)}"
            for r in report.checks
            if r.status is not Status.PASS
        ]
    return [*map(page.paragraph, said), *map(page.paragraph, _zero(part))]


def joined(part: Part) -> list[str]:
    """Return what the joined file gave, and what found no partner on either side."""
    file = part.joined
    if file is None:
        return []
    how = "pitch number" if file.by == "pitch" else "time of foot contact"
    columns = ", ".join(headed(q) for q in file.quantities) or "no column of numbers"
    alone = ", ".join(map(str, file.pitches_alone))
    return [
        page.paragraph(
            f"{file.name} was joined by {how}: {len(file.values)} of {len(part.pitches)} pitches "
            f"have a row. It gives: {columns}."
        ),
        table_or(
            "Rows of the file without a pitch",
            ("line", "why"),
            [(str(line), why) for line, why in file.rows_alone],
            "Every row of the file found its pitch.",
        ),
        page.paragraph(
            f"Pitches without a row in the file: {alone}."
            if alone
            else "Every pitch has a row in the file."
        ),
        *([page.bullets(file.sentences)] if file.sentences else []),
    ]


def again(part: Part) -> list[str]:
    """Return what it takes to make this report again."""
    session = part.session
    paths = [*session.recordings, *(_nearest(session, name) for name in _FILES)]
    rows = [(p.name, str(p.stat().st_size), _sha256(p)) for p in paths if p.exists()]
    return [
        page.paragraph(
            f"Recorded by moundfeed {session.about.program}; this report by moundfeed "
            f"{__version__}. 'moundfeed replay' measures a recording again, with the layout, "
            "settings and roster that it carries."
        ),
        page.table("Files", ("file", "bytes", "SHA-256"), rows, (2,)),
    ]


def in_full(parts: Sequence[Part]) -> list[str]:
    """Return settings and layouts as they stand in files, each once, folded up on the screen."""
    texts: dict[tuple[str, str], list[str]] = {}
    for part in parts:
        session = part.session
        for what, words in (
            ("Settings", settings_text(session.settings)),
            ("Layout", session.layout.origin_text),
        ):
            texts.setdefault((what, words), []).append(session.name)
    return [
        page.folded(what if len(names) == len(parts) else f"{what} of {', '.join(names)}", words)
        for (what, words), names in sorted(texts.items(), reverse=True)
    ]


def _by(session: StoredSession) -> str:
    told = first_message(session.recordings) is not None
    return "its first recording's first message" if told else "its folder: no recording tells"


def _estimates(part: Part) -> list[str]:
    labels = [what.label for what in part.quantities if what.estimated]
    if not labels:
        return []
    return [
        f"{ESTIMATE} marks an estimate. With this layout these rest on how the load is shared "
        f"while both feet are down, or on where a foot stands: {', '.join(labels)}."
    ]


def _same_again(part: Part) -> list[str]:
    count = len(part.traces)
    said = []
    if count:
        said.append(
            f"The recordings were measured again for this report: "
            f"{counted(count, 'pitch', 'pitches')} gave the stored numbers, bit for bit."
        )
    if part.differing:
        numbers = ", ".join(map(str, part.differing))
        said.append(
            f"Other numbers than stored came for {numbers}: another version of the program "
            f"({part.session.about.program}) may have measured them. The stored numbers are told, "
            "without curves."
        )
    return said


def _stamp(at_ns: int | None) -> str:
    at = day_of(at_ns)
    return "at a time not known" if at is None else f"{at:%Y-%m-%d %H:%M} UTC"


def _load(report: Report) -> str:
    return " without a known mass" if report.mass_kg is None else f" with {report.mass_kg:g} kg"


def _zero(part: Part) -> list[str]:
    measured = part.measured
    said = []
    taken = sum(entry.get("what") == "zero" and "tare" in entry for entry in part.session.log)
    if taken:
        said.append(f"The zero was taken on purpose {_times(taken)}.")
    changes = sum(zero.load_n != 0.0 for zero in measured.zeros)
    if changes:
        most = max(abs(zero.load_n) for zero in measured.zeros)
        said.append(
            "Steady loads (things laid down and taken away, a foot that stood still a while, or "
            f"drift) changed the zero {_times(changes)}, by {most:.0f} N at most; each was taken "
            "out. Such loads are expected (a rake, a bucket of balls) and change no pitch. Look "
            "into it where nothing was laid down, or where the zero at the end says that it "
            "matters: then it drifts."
        )
    if measured.zero_moved_n is None:
        return [*said, "How the zero moved is not known: no recording tells."]
    weights = [r.body_weight_n for r in part.pitches if r.body_weight_n is not None]
    weight = float(np.median(weights)) if weights else None
    return [*said, f"At the end: {typeset(moved_sentence(measured.zero_moved_n, weight))}"]


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _nearest(session: StoredSession, name: str) -> Path:
    """A named result has some files of its own."""
    if session.result is not None:
        own = session.folder / "results" / session.result / name
        if own.exists():
            return own
    return session.folder / name


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
