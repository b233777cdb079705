"""Several sessions side by side, and the last one against those before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis import page
from analysis.baseline import (
    OWN_SPREAD_SESSIONS,
    WATCHED,
    Standing,
    baseline_across,
    stand,
)
from analysis.report.gather import Part
from analysis.report.numbers import between, headed, written
from analysis.report.tables import named
from analysis.sessions import comparison, error
from analysis.sessions.order import at_one_time
from analysis.sessions.series import Quantity, quantity, series, told_of


def several(parts: Sequence[Part]) -> list[str]:
    """Return the comparison of ``parts``, oldest first; nothing for one."""
    if len(parts) < 2:
        return []
    return [
        page.heading("The sessions side by side"),
        page.paragraph(
            "Medians of days differ by themselves, more than pitches of one session do; an "
            "interval that leaves out zero says that these pitches differ, not why."
        ),
        *map(page.paragraph, _copies(parts)),
        *map(page.paragraph, at_one_time(part.session for part in parts)),
        _side_by_side(parts),
        page.heading("The last session against the earlier ones"),
        _against_earlier(parts),
        _between(parts),
    ]


def _copies(parts: Sequence[Part]) -> list[str]:
    """Say which sessions are the same one: copies tell nothing of how days differ."""
    same: dict[str, list[str]] = {}
    for part in parts:
        same.setdefault(part.session.about.id, []).append(part.label.partition(",")[0])
    return [
        f"{' and '.join(labels)} are copies of one session (the same id, {about_id}): alike by "
        "themselves, they are no days of their own. Leave one out."
        for about_id, labels in same.items()
        if len(labels) > 1
    ]


def _watched(parts: Sequence[Part]) -> list[Quantity]:
    """Return what is compared, each marked where any of the sessions holds estimates of it."""
    records = [record for part in parts for record in part.pitches]
    return [told_of(quantity(key), records) for key in WATCHED]


def _side_by_side(parts: Sequence[Part]) -> str:
    quantities = _watched(parts)
    rows = []
    for row in comparison.side_by_side([p.pitches for p in parts], quantities):
        what = row.quantity
        cells = []
        for index, (part, found) in enumerate(zip(parts, row.cells, strict=True)):
            cells.append(_cell(part.quantity(what.key), found))
            if index:
                cells.append(_difference(what, row.differences[index - 1]))
        rows.append([named(row.pitcher), headed(what), *cells])
    head = ["pitcher", "quantity"]
    for index, part in enumerate(parts):
        head += [part.label] + (["difference to the first"] if index else [])
    return page.table(f"Median ± spread (pitches); {comparison.METHOD}", head, rows, (1,))


def _cell(what: Quantity, found: comparison.Cell) -> str:
    if not found.count:
        return "none"
    spread = "" if found.spread is None else f" ± {written(what, found.spread, of_many=True)}"
    return f"{written(what, found.median, of_many=True)}{spread} ({found.count})"


def _difference(what: Quantity, found: comparison.Difference | None) -> str:
    if found is None:
        return "too few"
    return f"{written(what, found.estimate, of_many=True)} ({between(what, found.low, found.high)})"


def _against_earlier(parts: Sequence[Part]) -> str:
    *earlier, last = parts
    if len(earlier) < OWN_SPREAD_SESSIONS:
        return page.paragraph(
            f"Earlier sessions: {len(earlier)}, too few sessions to say what is usual between days "
            f"(it takes {OWN_SPREAD_SESSIONS} earlier ones)."
        )
    rows = []
    for code, own in last.own.items():
        for what in _watched(parts):
            key = what.key
            now = series(code, own, what).values
            before = [series(code, p.own.get(code, []), what).values.tolist() for p in earlier]
            base = baseline_across(key, before)
            if not len(now) or base is None:
                continue
            found = stand(key, float(np.median(now)), base)
            rows.append(
                [
                    named(code),
                    headed(what),
                    written(what, found.value, of_many=True),
                    written(what, base.centre, of_many=True),
                    "too few" if base.spread is None else written(what, base.spread, of_many=True),
                    written(what, found.difference, of_many=True),
                    _in_words(found.standing),
                ]
            )
    if not rows:
        return page.paragraph("Too few earlier pitches of these pitchers to compare with.")
    head = (
        "pitcher", "quantity", "median now", "earlier median", "earlier spread", "difference",
        "in words",
    )  # fmt: skip
    return page.table(
        "Earlier spread: of all earlier pitches about their centre, differences of days included",
        head,
        rows,
        (1, 6),
    )


def _in_words(standing: Standing) -> str:
    return {
        Standing.USUAL: "among the earlier pitches",
        Standing.EDGE: "at the edge of the earlier pitches",
        Standing.APART: "apart from the earlier pitches",
    }.get(standing, "too few sessions to say what is usual between days")


def _between(parts: Sequence[Part]) -> str:
    rows = []
    codes = dict.fromkeys(code for p in parts for code in p.own)
    for what in _watched(parts):
        values = [[series(code, p.own.get(code, []), what).values for p in parts] for code in codes]
        found = error.between_sessions(values)
        if found is not None:
            sd, interval = (
                written(what, found.sd, of_many=True),
                between(what, found.low, found.high),
            )
            rows.append([headed(what), str(found.count), sd, interval])
    if not rows:
        return page.paragraph(
            "Typical error between sessions: too few (it takes, for example, "
            f"{error.LEAST_DF // 2 + 1} sessions of two pitchers)."
        )
    head = ("quantity", "medians", "typical error", "95 % interval")
    return page.table("Typical error of a session's median between sessions", head, rows)
