"""Invented stored sessions for the review's tests: no real pitcher, no real throw."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from analysis.sessions.stored import StoredSession, read_session
from stream.files import load_layout, settings_text
from stream.metrics import METRICS
from stream.outputs import NotCountedReason, NotCountedRecord, PitchRecord, Traces
from stream.recording.session import Session
from stream.roster import Pitcher, Roster
from stream.settings import Settings

SOURCE = "mound-a"
WEIGHT_N = 900.0
RATE_HZ = 200.0
EVENTS_S = {
    "first_move": -1.3,
    "drive_onset": -0.6,
    "drive_peak": -0.1,
    "foot_contact": 0.0,
    "foot_plant": 0.02,
    "landing_peak": 0.05,
    "drive_toe_off": 0.06,
    "brake_end": 0.3,
}
ROSTER = Roster((Pitcher("P01", "R", 1.85), Pitcher("P02", "L", 1.9), Pitcher("P03")))


def record(
    number: int, pitcher: str = "P01", push: float = 160.0, **changes: object
) -> PitchRecord:
    """Return one pitch; every metric has a value of its own."""
    metrics: dict[str, float | None] = {m.key: float(i + 1) for i, m in enumerate(METRICS)}
    metrics |= {"drive_peak_bw": push, "landing_peak_bw": push + 55.0, "stride_m": 1.6}
    base = PitchRecord(
        source=SOURCE,
        stream="s1",
        number=number,
        pitcher=pitcher,
        throws=ROSTER.find(pitcher).throws,
        foot_contact_frame=4000.0 * number,
        events_s=EVENTS_S,
        body_weight_n=WEIGHT_N,
        metrics=metrics,
        speed_mps=38.0,
    )
    return msgspec.structs.replace(base, **changes)


def without(pitch: PitchRecord, key: str, flag: str) -> PitchRecord:
    """Return the pitch with one value not measured, for a reason."""
    metrics = {**pitch.metrics, key: None}
    return msgspec.structs.replace(pitch, metrics=metrics, flags=(flag,))


def traces(push: float = 160.0) -> Traces:
    """Return triangles whose peaks are ``push`` and ``push`` + 55 % of body weight, straight up.

    The push-off foot's pressure goes 0.2 m to first base, the landing foot's
    0.1 m home.
    """
    time_s = np.arange(-300, 120) / RATE_HZ
    drive, lead = np.zeros((420, 3)), np.zeros((420, 3))
    share = WEIGHT_N / 100.0
    drive[:, 2] = share * push * np.clip(1.0 - np.abs(time_s + 0.1) / 0.5, 0.0, 1.0)
    lead[:, 2] = share * (push + 55.0) * np.clip(1.0 - np.abs(time_s - 0.05) / 0.05, 0.0, 1.0)
    part = np.clip((time_s + 1.3) / 1.36, 0.0, 1.0)
    drive_cop = np.column_stack([np.full(420, -0.05), 0.2 * part])
    lead_cop = np.column_stack([1.6 + 0.1 * np.clip(time_s / 0.3, 0.0, 1.0), np.full(420, -0.1)])
    drive_cop[time_s > 0.06] = math.nan
    lead_cop[time_s < 0.0] = math.nan
    return Traces(0, RATE_HZ, time_s, drive, lead, drive_cop, lead_cop)


def pitches(count: int = 12, seed: int = 7, more: float = 0.0) -> list[PitchRecord]:
    """Return pitches of three pitchers, a third each, that differ as pitches do."""
    noise = np.random.default_rng(seed).normal(size=count)
    return [
        record(
            i + 1,
            f"P0{1 + i * 3 // count}",
            round(160.0 + more - 8.0 * (i * 3 // count) + 4.0 * float(noise[i]), 1),
            speed_mps=round(38.0 + 0.3 * float(noise[i]), 2),
        )
        for i in range(count)
    ]


def step_off(after: int) -> NotCountedRecord:
    """Return a movement that was not counted, after a pitch."""
    why = "the pitcher stepped off the rubber"
    return NotCountedRecord(SOURCE, "s1", NotCountedReason.STEP_OFF, 4000.0 * after + 900.0, why)


def stored(
    folder: Path,
    records: Sequence[PitchRecord | NotCountedRecord],
    layout: str = "two-plates",
    created: str = "2031-05-06T15:00:00+00:00",
) -> StoredSession:
    """Return a session as it was left in ``folder``, with no recording."""
    session = Session.create(
        folder,
        source=SOURCE,
        layout_text=load_layout(layout).origin_text,
        settings_text=settings_text(Settings()),
        roster=ROSTER,
    )
    for each in records:
        session.add_record(each)
    session.close()
    about = msgspec.structs.replace(session.about, created=created)
    (folder / "session.json").write_bytes(msgspec.json.encode(about))
    return read_session(folder)


def curves(session: StoredSession) -> dict[int, Traces]:
    """Return invented curves of every pitch, as high as its push-off peak says."""
    return {r.number: traces(r.metrics["drive_peak_bw"] or 0.0) for r in session.pitches}
