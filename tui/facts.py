"""The operator's facts as lines of text: feed, zero, recording, what to read."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from stream.layout import Layout
from stream.snapshot import FeedNow, Level, RecordingNow, Sentence, Snapshot
from tui.check_words import ago
from tui.notices import NO_CHECK
from tui.safe_text import plain
from tui.said import in_units
from tui.units import MISSING, Units
from tui.widgets.line_text import Runs
from tui.words import LEVEL_STYLE, SIGNS, deck_words, pitcher_name

_NAME = 12
_ZERO = {"none": "not taken yet", "taken": "taken", "learnt": "learnt by itself"}


def facts(
    snapshot: Snapshot | None, layout: Layout | None, units: Units, may_act: bool, width: int
) -> list[Runs]:
    """Return the state of the mound, wrapped to ``width``; keys are named to who ``may_act``."""
    if snapshot is None:
        return [[("Nothing known yet.", "quiet")]]
    weight = units.quantity("N", snapshot.body_weight_n)
    layout_name = layout.name if layout else snapshot.layout
    return [
        *_group("MOUND", _mound(snapshot, plain(layout_name, 40), weight), width),
        *_group("FEED", _feed(snapshot.feed, units), width),
        *_group("ZERO", _zero(snapshot, units, may_act), width),
        *_group("RECORDING", _recording(snapshot.recording, units), width),
    ]


def to_read(
    sentences: Iterable[Sentence], checked: bool, may_act: bool, units: Units, width: int
) -> list[Runs]:
    """Return what the operator should read, the most urgent first, wrapped to ``width``.

    ``checked``: a set-up check was made, so that all may be well.
    """
    order = {Level.ALARM: 0, Level.WARNING: 1, Level.INFO: 2}
    lines: list[Runs] = [[("WHAT TO DO", "bold")]]
    ordered = sorted(sentences, key=lambda s: order[s.level])
    if all(s.level is Level.INFO for s in ordered):
        lines += [
            [(part, "ink")]
            for part in textwrap.wrap(_calm(ordered, checked, may_act), max(10, width))
        ]
    for sentence in ordered:
        text = in_units(plain(sentence.text, 400), units)
        parts = textwrap.wrap(text, max(10, width - 5)) or [""]
        for index, part in enumerate(parts):
            sign = f" {SIGNS[sentence.level]} " if index == 0 else "   "
            lines.append(
                [(sign, LEVEL_STYLE[sentence.level] if index == 0 else "ink"), (f" {part}", "ink")]
            )
    return lines


def _calm(sentences: Iterable[Sentence], checked: bool, may_act: bool) -> str:
    """Return what is to be done where nothing is wrong."""
    if not any(s.key.startswith(NO_CHECK) for s in sentences):
        return "Nothing: all is well." if checked else "Nothing now. No set-up check was made."
    key = " (k)" if may_act else ""
    return f"Make the set-up check{key} before the first pitch."


def _mound(snapshot: Snapshot, layout: str, weight: str) -> list[tuple[str, str]]:
    return [
        ("name", plain(snapshot.source, 40)),
        ("layout", layout),
        ("deck", deck_words(snapshot)),
        ("throwing", pitcher_name(snapshot.pitcher)),
        ("body weight", weight),
        ("pitches", str(snapshot.pitches)),
    ]


def _feed(feed: FeedNow, units: Units) -> list[tuple[str, str]]:
    nominal = units.quantity("Hz", feed.nominal_rate_hz)
    refused = sum(feed.rejected.values())
    kinds = ", ".join(f"{plain(k, 30)} {n}" for k, n in sorted(feed.rejected.items()) if n)
    return [
        ("rate", f"{units.number('Hz', feed.rate_hz)} of {nominal}"),
        ("frames", f"{feed.frames}, {feed.channels or MISSING} channels"),
        ("lost", f"{feed.lost_frames} in {feed.gaps} gaps"),
        ("repeated", f"{feed.repeated_frames}, late {feed.late_frames}"),
        ("restarts", str(feed.restarts)),
        ("refused", f"{refused}{f' ({kinds})' if kinds else ''}"),
        (
            "latency",
            f"{units.number('ms', feed.latency_ms)}, "
            f"worst {units.quantity('ms', feed.latency_worst_ms)}",
        ),
    ]


def _zero(snapshot: Snapshot, units: Units, may_act: bool) -> list[tuple[str, str]]:
    zero = snapshot.zero
    hint = "; z takes it" if may_act and zero.source == "none" else ""
    if zero.taken_s is None:
        age = "" if zero.age_s is None else f", {ago(zero.age_s)}"
        lines = [("zero", f"{_ZERO.get(zero.source, plain(zero.source, 20))}{age}{hint}")]
    else:
        by = f" by {plain(zero.by, 24)}" if zero.by else ""
        lines = [("zero", f"taken{by} {ago(zero.taken_s)}")]
    if zero.moved_n is not None and zero.moved_bw is not None:
        force = f"{units.number('N', zero.moved_n, 1)} {units.name('N')}"
        share = units.number("", 100.0 * zero.moved_bw)
        whose = "weight" if snapshot.body_weight_n is not None else "a usual weight"
        lines.append(("moved since", f"{force}, {share} % of {whose}"))
    if units.number("N", zero.load_n) != "0":
        load = units.quantity("N", abs(zero.load_n))
        left = ("put back", f"{load} that left the deck")
        lines.append(left if zero.load_n < 0 else ("taken out", f"{load} that lay on the deck"))
    return lines


def _recording(recording: RecordingNow | None, units: Units) -> list[tuple[str, str]]:
    if recording is None or not recording.on:
        return [("file", "not recording")]
    lines = [
        ("file", plain(recording.path or "", 200).rsplit("/", 1)[-1]),
        ("written", f"{recording.bytes / 1e6:.1f} MB"),
        ("at risk now", f"{units.number('s', recording.unsynced_s, 1)} s"),
    ]
    if recording.trouble:
        lines.append(("trouble", plain(recording.trouble, 200)))
    return lines


def _group(head: str, lines: Iterable[tuple[str, str]], width: int) -> list[Runs]:
    rows: list[Runs] = [[(head, "bold")]]
    for name, value in lines:
        # A quantity has a space that does not break.
        for at, part in enumerate(textwrap.wrap(value, max(10, width - _NAME - 2)) or [""]):
            rows.append([(f" {'' if at else name:<{_NAME}}", "quiet"), (part, "ink")])
    return rows
