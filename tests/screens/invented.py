"""Invented sessions for the screens' tests: no real pitcher, no real throw."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from stream.actions import (
    Action,
    ChoosePitcher,
    EnterSpeed,
    Note,
    Reassign,
    Restore,
    TakeZero,
    Void,
)
from stream.files import load_layout
from stream.monitor.view import LocalLink
from stream.outputs import (
    NotCounted,
    NotCountedReason,
    NotCountedRecord,
    Pitch,
    PitchChanged,
    PitchRecord,
    Traces,
)
from stream.snapshot import (
    DeckState,
    FeedNow,
    FeedState,
    PlatformLoad,
    RecordingNow,
    Sentence,
    Snapshot,
    Strip,
    ZeroNow,
)

SOURCE = "mound-a"
WEIGHT_N = 880.0
EVENTS_S = {
    "first_move": -1.31,
    "drive_onset": -0.62,
    "drive_peak": -0.11,
    "foot_contact": 0.0,
    "foot_plant": 0.021,
    "landing_peak": 0.052,
    "drive_toe_off": 0.061,
    "brake_end": 0.31,
}


def record(number: int, push: float = 166.0, land: float = 221.0, **changes: object) -> PitchRecord:
    """Return one pitch."""
    base = PitchRecord(
        source=SOURCE,
        stream="s1",
        number=number,
        pitcher="P03",
        throws="R",
        foot_contact_frame=4000.0 * number + 0.4,
        events_s=EVENTS_S,
        body_weight_n=WEIGHT_N,
        metrics={
            "drive_peak_bw": push,
            "landing_peak_bw": land,
            "drive_forward_bw": push * 0.54,
            "landing_braking_bw": land * 0.5,
            "stride_m": 1.55,
            "drive_time_s": 0.62,
            "landing_time_to_peak_s": 0.052,
        },
        speed_mps=36.2,
    )
    return msgspec.structs.replace(base, **changes)


def traces(push: float = 166.0, land: float = 221.0) -> Traces:
    """Return curves whose peaks are those of the record."""
    time_s = np.arange(-1.5, 0.8, 0.005)
    n = len(time_s)
    rise = np.clip(1.0 - np.abs(time_s + 0.11) / 0.5, 0.0, 1.0)
    drive_size = np.where(time_s < -0.61, 95.0, 60.0 + (push - 60.0) * rise)
    drive_size = np.where(time_s > 0.06, 0.0, drive_size)
    late = np.clip(time_s, 0.0, None)
    lead_size = land * late / 0.052 * np.exp(1.0 - late / 0.052) * 0.7
    lead_size += 0.3 * land * (late > 0) * np.exp(-(((late - 0.052) / 0.1) ** 2))
    drive, lead = np.zeros((n, 3)), np.zeros((n, 3))
    angle = math.radians(60.0)
    for out, size, sign in ((drive, drive_size, 1.0), (lead, lead_size, -1.0)):
        newtons = size * WEIGHT_N / 100.0
        out[:, 0] = sign * newtons * math.cos(angle)
        out[:, 2] = newtons * math.sin(angle)
    nowhere = np.full((n, 2), np.nan)
    return Traces(0, 200.0, time_s, drive, lead, nowhere, nowhere)


def pitch(number: int, push: float = 166.0, land: float = 221.0, **changes: object) -> Pitch:
    """Return one pitch with its curves."""
    return Pitch(record(number, push, land, **changes), traces(push, land))


def not_counted(after: int) -> NotCounted:
    """Return a step-off after pitch number ``after``."""
    why = "the pitcher stepped off the rubber before the lead foot had landed"
    frame = 4000.0 * after + 900.0
    return NotCounted(NotCountedRecord(SOURCE, "s1", NotCountedReason.STEP_OFF, frame, why))


def session(pitches: int, spread: float = 4.0) -> list[Pitch]:
    """Return ``pitches`` pitches that differ as pitches do (fixed invented noise)."""
    noise = np.random.default_rng(7).normal(size=(pitches, 3))
    return [
        pitch(
            i + 1,
            166.0 + spread * float(noise[i, 0]),
            221.0 + 2 * spread * float(noise[i, 1]),
            speed_mps=36.2 + 0.25 * float(noise[i, 2]),
        )
        for i in range(pitches)
    ]


def snapshot(
    state: FeedState = FeedState.LIVE,
    deck: DeckState = DeckState.SET,
    pitcher: str = "P03",
    sentences: tuple[Sentence, ...] = (),
    moment: float = 0.0,
    **feed_changes: object,
) -> Snapshot:
    """Return one picture; ``moment`` (s) moves the loads."""
    feed = FeedNow(
        state=state,
        stream="s1",
        nominal_rate_hz=200.0,
        rate_hz=199.98,
        channels=12,
        age_s=0.02,
        frames=0 if state is FeedState.WAITING else 52_000,
        lost_frames=0,
        gaps=0,
        repeated_frames=0,
        late_frames=0,
        restarts=0,
        rejected={},
        latency_ms=1.2,
        latency_worst_ms=4.8,
    )
    wave = np.sin(np.arange(300) * 0.05 + moment)
    lead = np.clip(-1500.0 * wave, 0.0, None)
    rear, front = 500.0 + 90.0 * math.sin(moment), 380.0 - 90.0 * math.sin(moment)
    return Snapshot(
        source=SOURCE,
        layout="two-plates",
        feed=msgspec.structs.replace(feed, **feed_changes),
        deck=deck,
        platforms=[
            PlatformLoad("rear", 12.0, 1.0, rear, -0.05, 0.04 * math.sin(moment)),
            PlatformLoad("front", -12.0, -1.0, front, 0.62, 0.06),
        ],
        strip=Strip(0.02, (500.0 + 120.0 * wave).tolist(), lead.tolist()),
        body_weight_n=WEIGHT_N,
        zero=ZeroNow("taken", 190.0, 2.1, 0.002, 0.0),
        pitcher=pitcher,
        pitches=0,
        sentences=list(sentences),
        recording=RecordingNow(True, "/somewhere/recording-001.mcap", 12_400_000, 0.3, None),
    )


class Operated(LocalLink):
    """A link whose actions change the records as a monitor would."""

    def __init__(self, may_act: bool = True) -> None:
        super().__init__(SOURCE, self._done if may_act else None, clock=lambda: 0.0)
        self.actions: list[Action] = []
        self.refuse: str | None = None

    def _done(self, action: Action) -> str | None:
        if self.refuse is not None:
            return self.refuse
        self.actions.append(action)
        match action:
            case ChoosePitcher(pitcher=code):
                assert self.latest is not None
                self.show(msgspec.structs.replace(self.latest, pitcher=code))
            case Void(number=number):
                self._change(number, flags=("void",))
            case Restore(number=number):
                self._change(number, flags=())
            case Note(number=number, text=text):
                self._change(number, note=text)
            case EnterSpeed(number=number, speed_mps=speed):
                self._change(number, speed_mps=speed)
            case Reassign(number=number, pitcher=code):
                self._change(number, pitcher=code)
            case TakeZero():
                pass
        return None

    def _change(self, number: int, **changes: object) -> None:
        now = next(p.record for p in self.pitches if p.record.number == number)
        self.feed([PitchChanged(msgspec.structs.replace(now, **changes))])


LAYOUTS = ("two-plates", "tiled", "four-corner")
__all__ = ["LAYOUTS", "Operated", "load_layout", "not_counted", "pitch", "session", "snapshot"]
