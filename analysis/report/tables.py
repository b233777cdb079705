"""The tables of a session: its pitches, what they are like, how much they scatter."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from analysis.baseline import (
    APART,
    COMPARE_FROM,
    EDGE,
    OWN_SPREAD_FROM,
    PUBLISHED_TYPICAL_ERROR,
    Standing,
)
from analysis.page import bullets, heading, paragraph, table
from analysis.report.gather import Part
from analysis.report.numbers import ESTIMATE, between, clock, headed, written
from analysis.running import is_void
from analysis.sentence import sentence
from analysis.sessions import error
from analysis.sessions.comparison import cell
from analysis.sessions.series import Quantity, quantity, series, told_of, value_in
from analysis.units import MPH_MPS
from analysis.words import STANDING
from stream.outputs import PitchRecord

MEAN_OF = 5
#: More pitches apart, or at the edge of the usual, are marked in the table only.
MOST_APART = 50
MOST_EDGE = 20
_COMPARED = (
    "Each pitch is compared with the same pitcher's earlier pitches of the session, as on the "
    f"screens: the first {COMPARE_FROM} have too few before them. A trend over the session can "
    "make late pitches unlike the early ones."
)
#: Whose spread the comparisons took; the keys are of :attr:`analysis.baseline.Baseline.own`.
_WHOSE: Mapping[frozenset[bool], str] = MappingProxyType(
    {
        frozenset({False}): "the published typical error of a quantity (section 'Typical error'), "
        f"for no pitch has {OWN_SPREAD_FROM} of the pitcher's before it yet",
        frozenset({True}): "the pitcher's own, of the pitches before",
        frozenset({False, True}): "the published typical error of a quantity (section 'Typical "
        f"error') below {OWN_SPREAD_FROM} earlier pitches, from there on the pitcher's own, of the "
        "pitches before",
    }
)


def pitch_table(part: Part) -> str:
    """Return every pitch, voided ones marked."""
    quantities = part.quantities
    head = ("pitch", "time", "pitcher", *map(_short, quantities), "like the earlier?", "remarks")
    rows = (_pitch_row(part, record, quantities) for record in part.pitches)
    estimated = any(record.estimated for record in part.pitches)
    marks = ", ".join(f"{sign} {word}" for sign, word in STANDING.values())
    said = f"Pitches (time UTC; {marks}"
    words = (2, len(head) - 2, len(head) - 1)
    return table(said + (f"; {ESTIMATE} estimate)" if estimated else ")"), head, rows, words)


def summary_table(part: Part) -> str:
    """Return each pitcher's median and spread of each quantity."""
    rows = []
    for code, own in part.own.items():
        for what in part.quantities:
            made = cell(series(code, own, what, part.joins).values)
            if made.least is not None and made.greatest is not None:
                spread = (
                    "too few" if made.spread is None else written(what, made.spread, of_many=True)
                )
                rows.append(
                    [
                        named(code),
                        headed(what),
                        str(made.count),
                        written(what, made.median, of_many=True) + _mph(what, made.median),
                        spread,
                        between(what, made.least, made.greatest, of_many=False),
                    ]
                )
    head = ("pitcher", "quantity", "pitches", "median", "spread", "least to greatest")
    return table(
        "Each pitcher's pitches (spread: 1.4826 times the median absolute deviation)",
        head,
        rows,
        (1,),
    )


def error_table(part: Part) -> str:
    """Return typical error and smallest detectable change of each quantity."""
    rows = []
    for what in part.quantities:
        groups = [series(code, own, what, part.joins).values for code, own in part.own.items()]
        count = sum(map(len, groups))
        if not count:
            continue
        found = error.typical_error(groups)
        published = None if what.joined else PUBLISHED_TYPICAL_ERROR.get(what.key)
        known = (
            "none known"
            if published is None
            else written(quantity(what.key), published, of_many=True)
        )
        if found is None:
            rows.append([headed(what), str(count), "too few", "", "", "", known])
            continue
        rows.append(
            [
                headed(what),
                str(count),
                written(what, found.sd, of_many=True),
                between(what, found.low, found.high),
                written(what, found.detectable(), of_many=True),
                written(what, found.detectable(MEAN_OF), of_many=True),
                known,
            ]
        )
    head = (
        "quantity", "pitches", "typical error", "95 % interval", "detectable, pitch to pitch",
        f"detectable, means of {MEAN_OF}", "published typical error",
    )  # fmt: skip
    return table(f"Scatter from pitch to pitch, all pitchers ({error.METHOD})", head, rows)


def unlike(part: Part) -> list[str]:
    """Return what tells of the pitches that stand apart or at the edge, and who had too few."""
    told: dict[Standing, list[str]] = {Standing.APART: [], Standing.EDGE: []}
    compared = set()
    for record in part.pitches:
        standing = part.standing(record.number)
        if is_void(record) or standing in (Standing.TOO_FEW, Standing.NOT_MEASURED):
            continue
        compared.add(record.pitcher)
        if standing in told:
            text = sentence(part.standings[record.number], _say(record), named(record.pitcher))
            told[standing].append(f"Pitch {record.number}: {text}")
    apart, edge = told[Standing.APART], told[Standing.EDGE]
    said = [paragraph(_COMPARED), *map(paragraph, _whose_spread(part))]
    if apart:
        said.append(bullets(apart[:MOST_APART]))
    elif compared:
        said.append(
            paragraph(f"No pitch compared stands {APART:g} spreads or more from those before it.")
        )
    if len(apart) > MOST_APART:
        more = f"{len(apart) - MOST_APART} more pitches are marked in the table of pitches."
        said.append(paragraph(more))
    if few := [named(code) for code in part.own if code not in compared]:
        said.append(
            paragraph(
                f"Too few pitches to compare: {', '.join(few)} (it takes {COMPARE_FROM + 1})."
            )
        )
    return said + (_at_the_edge(edge) if edge else [])


def _whose_spread(part: Part) -> list[str]:
    """Say whose spread the comparisons took: that of the summary is another."""
    own = frozenset(
        c.baseline.own
        for comparisons in part.standings.values()
        for c in comparisons
        if c.distance is not None and c.baseline is not None
    )
    if not own:
        return []
    return [f"Spread here is {_WHOSE[own]}. That of the summary is of all the pitcher's pitches."]


def _at_the_edge(told: list[str]) -> list[str]:
    lie = "pitch lies" if len(told) == 1 else "pitches lie"
    said = [
        heading("At the edge of the usual", 4),
        paragraph(
            f"{len(told)} {lie} {EDGE:g} to {APART:g} spreads away in something; of usual pitches "
            "about one in twenty does."
        ),
        bullets(told[:MOST_EDGE]),
    ]
    if len(told) > MOST_EDGE:
        more = f"{len(told) - MOST_EDGE} more pitches are marked in the table of pitches."
        said.append(paragraph(more))
    return said


def named(code: str) -> str:
    """Return a pitcher's code, or that nobody was named."""
    return code or "nobody named"


def _pitch_row(part: Part, record: PitchRecord, quantities: Iterable[Quantity]) -> list[str]:
    cells = [
        written(
            told_of(replace(what, estimated=False), [record]), value_in(record, what, part.joins)
        )
        for what in quantities
    ]
    sign, word = STANDING[part.standing(record.number)]
    like = "left out" if is_void(record) else f"{sign} {word}"
    flags = [f.replace("_", " ") for f in record.flags if f != "void"]
    remarks = "; ".join(filter(None, (record.note, *flags)))
    at = part.at_ns.get(record.number)
    return [str(record.number), clock(at), named(record.pitcher), *cells, like, remarks]


def _short(what: Quantity) -> str:
    return headed(what).replace("% body weight", "% BW")


def _mph(what: Quantity, value: float | None) -> str:
    if what.unit != "m/s" or value is None or "all speed" not in what.label:
        return ""
    return f" ({value / MPH_MPS:.1f} mph)"


def _say(record: PitchRecord) -> Callable[[str, float], tuple[str, str]]:
    def say(key: str, value: float) -> tuple[str, str]:
        what = told_of(quantity(key), [record])
        return written(what, value), what.unit.replace("% BW", "% of body weight")

    return say
