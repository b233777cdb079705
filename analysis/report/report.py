"""The report put together: which section follows which."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis import page
from analysis.invented import SENTENCE
from analysis.report import account, course, curves, left_out, several, tables
from analysis.report.gather import Part

TITLE = "Session report"
CAUTIONS = (
    "These numbers describe movements. They are descriptive feedback, not medical advice.",
    "A force is not an injury and does not predict one by itself; what goes together need not "
    "cause each other.",
    "Decisions on workload, injury and return to play belong to licensed staff.",
    "This report holds an athlete's data under codes: keep it where consent covers it, and share "
    "it only with those whom the athlete has agreed to.",
)
_STYLE = """
h1 { font-size: 1.6rem; } h2 { font-size: 1.35rem; border-top: 1px solid #000; padding-top: .6rem; }
h3 { font-size: 1.1rem; margin-top: 1.6rem; }
.wide { overflow-x: auto; } .wide table { font-size: .8rem; }
@media screen { .wide svg { min-width: 34rem; }
  .rows { width: max-content; min-width: 100%; max-width: min(78rem, 100vw - 2rem);
    position: relative; left: 50%; transform: translateX(-50%); } }
@media print { .wide { overflow: visible; } .wide table { font-size: 7pt; }
  .wide th, .wide td { padding-right: .35rem; } }
"""


def html(parts: Sequence[Part]) -> str:
    """Return the report of ``parts`` (one a session, oldest first) as one page."""
    return page.document(_title(parts), _page(parts), _STYLE)


def _title(parts: Sequence[Part]) -> str:
    """Return what was measured where and when."""
    sources = ", ".join(dict.fromkeys(p.session.about.source for p in parts))
    days = list(dict.fromkeys(f"{p.session.began:%Y-%m-%d}" for p in parts))
    return f"{TITLE}: {sources}, {' to '.join(dict.fromkeys((days[0], days[-1])))}"


def _page(parts: Sequence[Part]) -> Iterator[str]:
    yield page.heading(_title(parts), 1)
    yield from map(page.paragraph, _invented(parts))
    if missing := lacking(parts):
        yield page.paragraph("To know first: the session's files lack something.")
        yield page.bullets(missing)
    yield page.bullets(CAUTIONS, "cautions")
    yield from map(_wide, several.several(parts))
    for part in parts:
        yield page.heading(part.label)
        for title, content in _sections(part):
            if content:
                yield page.heading(title, 3)
                yield from map(_wide, content)
    yield page.heading("Settings and layout")
    yield from account.in_full(parts)


def lacking(parts: Sequence[Part]) -> list[str]:
    """Return what is missing or damaged in the sessions' files, for the top and the terminal."""
    return [
        f"{part.session.name}: {sentence}" if len(parts) > 1 else sentence
        for part in parts
        for sentence in (*_no_recording(part), *part.measured.sentences)
    ]


def _no_recording(part: Part) -> list[str]:
    if part.session.recordings:
        return []
    return [
        "There is no recording: the stored numbers could not be measured again, and there are no "
        "curves."
    ]


def _invented(parts: Sequence[Part]) -> list[str]:
    names = [part.session.name for part in parts if part.session.invented]
    if not names or len(names) == len(parts):
        return [SENTENCE] if names else []
    return [f"{', '.join(names)}: {SENTENCE}"]


def _sections(part: Part) -> Iterator[tuple[str, list[str]]]:
    yield "What was measured, and how", account.how(part)
    yield "Set-up check and zero", account.check(part)
    if part.pitches:
        yield "Summary", [tables.summary_table(part)]
        yield "Unlike the earlier pitches", tables.unlike(part)
        yield "Curves", [curves.curves_of(part, *item) for item in part.own.items()]
        yield (
            "Over the session",
            [*(course.course_of(part, *item) for item in part.own.items()), *_trend(part)],
        )
        yield "Typical error and smallest detectable change", _scatter(part)
        yield "Pitches", [tables.pitch_table(part)]
    else:
        yield "Pitches", [page.paragraph("No pitch was measured in this session.")]
    yield "Joined file", account.joined(part)
    yield "What was left out, and why", left_out.left_out(part)
    yield "To make this report again", account.again(part)


def _trend(part: Part) -> list[str]:
    return [
        course.trend_table(part),
        page.paragraph(
            "Of twenty such intervals about one leaves out zero by chance. A trend names no cause: "
            "intent, pitch type and rest change over a session too."
        ),
    ]


def _scatter(part: Part) -> list[str]:
    return [
        page.paragraph(
            "Typical error is also called standard error of measurement, and smallest detectable "
            "change minimal detectable change. A smaller difference may be scatter alone. "
            "Published: within one session, 403 fastballs of 100 pitchers (Wasserberger et al. "
            "2022, open data set). Between days the scatter is larger."
        ),
        tables.error_table(part),
    ]


def _wide(part: str) -> str:
    """Let a drawing or table be wider than a line of words: it scrolls where there is no room."""
    if part.startswith("<table"):
        return f"<div class='wide rows'>{part}</div>"
    return f"<div class='wide'>{part}</div>" if part.startswith("<figure") else part
