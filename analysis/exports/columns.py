"""The columns of the table of pitches, each with its unit and meaning, from the registries.

Metrics keep their keys as names (the ending is the unit), so that a table goes into
``moundfeed study`` as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from analysis.running import is_void
from analysis.sessions.clock import day_of
from stream.events import EVENTS
from stream.metrics import METRICS
from stream.outputs import PitchRecord

Value = str | float | int | bool | datetime | None
Fill = Callable[[PitchRecord], Value]


class Kind(StrEnum):
    """What a column's cells are."""

    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    YES_NO = "true or false"
    TIME = "time, UTC"


@dataclass(frozen=True)
class Column:
    """One column: how it is filled from a pitch record, and what the data dictionary says."""

    name: str
    kind: Kind
    unit: str
    label: str
    definition: str
    value: Fill
    source: str = ""


def pitch_columns(session: str) -> tuple[Column, ...]:
    """Return the columns in table order; ``session`` is the session's name."""
    return (*_who(session), *_basis(), *_events(), *_metrics(), *_remarks())


def time_columns(began: datetime, at_ns: Mapping[int, int]) -> tuple[Column, ...]:
    """Return the columns of times; ``at_ns`` is each pitch's foot contact by its number."""
    return (
        Column(
            "began",
            Kind.TIME,
            "",
            "Session began",
            "When the first message of the session's first recording came, by the recording "
            "computer's clock; without such a recording, when the folder was made.",
            lambda r: began,
        ),
        Column(
            "contact_at",
            Kind.TIME,
            "",
            "Time of foot contact",
            "By the recording computer's clock, to some ms; empty where no recording tells it, or "
            "its clock gives no time of day (recordings made from CSV or C3D).",
            lambda r: day_of(at_ns.get(r.number)),
        ),
    )


def name_column(names: Mapping[str, str]) -> Column:
    """Return the column of names by code, for those who asked for it."""
    return _text(
        "name",
        "Name",
        "From the roster given at the export. Personal: keep it to yourself.",
        lambda r: names.get(r.pitcher),
    )


def _text(name: str, label: str, definition: str, value: Fill) -> Column:
    return Column(name, Kind.TEXT, "", label, definition, value)


def _number(name: str, unit: str, label: str, definition: str, value: Fill) -> Column:
    return Column(name, Kind.NUMBER, unit, label, definition, value)


def _who(session: str) -> tuple[Column, ...]:
    return (
        _text("session", "Session", "Name of the session's folder.", lambda r: session),
        _text("source", "Mound", "Which mound measured.", lambda r: r.source),
        Column(
            "number",
            Kind.WHOLE,
            "",
            "Pitch",
            "Runs through a session from 1.",
            lambda r: r.number,
        ),
        _text("pitcher", "Pitcher", "Code on the roster, never a name.", lambda r: r.pitcher),
        _text("throws", "Throws", "R right, L left, empty unknown.", lambda r: r.throws),
        Column(
            "void",
            Kind.YES_NO,
            "",
            "Void",
            "The operator marked the pitch as void (why: note); leave it out of statistics.",
            is_void,
        ),
        _number(
            "speed_mps",
            "m/s",
            "Ball speed",
            "From the ball-speed unit, or typed (flag speed_typed).",
            lambda r: r.speed_mps,
        ),
    )


def _basis() -> tuple[Column, ...]:
    return (
        _number(
            "body_weight_n",
            "N",
            "Body weight",
            "What per cent of body weight refers to.",
            lambda r: r.body_weight_n,
        ),
        _text("stream", "Stream", "A new value each time the device started.", lambda r: r.stream),
        _number(
            "foot_contact_frame",
            "frames",
            "Foot contact frame",
            "Fractional index of the device's frames within the stream.",
            lambda r: r.foot_contact_frame,
        ),
    )


def _events() -> tuple[Column, ...]:
    def of(key: str) -> Fill:
        return lambda r: r.events_s.get(key)

    return tuple(
        _number(
            f"{e.key}_s",
            "s",
            e.label,
            f"{e.definition} Seconds from foot contact, negative before it.",
            of(e.key),
        )
        for e in EVENTS
    )


def _metrics() -> tuple[Column, ...]:
    def of(key: str) -> Fill:
        return lambda r: r.metrics.get(key)

    return tuple(
        Column(m.key, Kind.NUMBER, m.unit or "(ratio)", m.label, m.definition, of(m.key), m.source)
        for m in METRICS
    )


def _remarks() -> tuple[Column, ...]:
    return (
        _text(
            "estimated",
            "Estimated",
            "Metrics that rest on an estimate with this layout, separated by semicolons.",
            lambda r: ";".join(r.estimated),
        ),
        _text(
            "flags",
            "Flags",
            "Why something is empty, and what else to know, separated by semicolons.",
            lambda r: ";".join(r.flags),
        ),
        _text("note", "Note", "The operator's remark, or reason of a void.", lambda r: r.note),
    )
