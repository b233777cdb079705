"""The snapshot of one moment, read from the core without changing it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from stream.checks.tare import TELL_BW, USUAL_WEIGHT_N, moved_sentence
from stream.counting import stands_ready
from stream.detect import EMPTY_SHARE, STANCE_S, TWO_PEOPLE, Phase
from stream.forces import centre_of_pressure, platform_forces
from stream.movement import STANDARD_GRAVITY
from stream.snapshot import (
    DeckState,
    FeedNow,
    Level,
    PlatformLoad,
    Sentence,
    Snapshot,
    Strip,
    ZeroNow,
)
from stream.stance import Stance
from stream.zero import NO_ZERO

if TYPE_CHECKING:
    from stream.pipeline import Pipeline
    from stream.tracker import Tracker

STRIP_S = 6.0
STRIP_STEP_S = 0.025
#: Loads shown are means over this long, s.
SHOWN_OVER_S = 0.05
#: A platform bearing less shows no centre of pressure, N.
LEAST_LOAD_N = 40.0


def picture(core: Pipeline, now_ns: int) -> Snapshot:
    """Return the snapshot of ``core`` at host time ``now_ns``."""
    tracker = core.tracker
    ready = _set_position(core)
    weight = _weight(core, ready)
    zero = _zero(core, weight, now_ns)
    return Snapshot(
        source=core.source,
        layout=core.layout.name,
        feed=_feed(core, now_ns),
        deck=_deck_state(core, ready),
        platforms=[] if tracker is None else _platforms(core, tracker),
        strip=_strip(tracker),
        body_weight_n=weight,
        zero=zero,
        pitcher=core.pitcher,
        pitches=core.book.count,
        sentences=_sentences(core, zero, weight, now_ns),
        checking=core.checking.now(),
        checked=core.checking.made(now_ns),
    )


def health_of(core: Pipeline, now_ns: int) -> dict[str, object]:
    """Return the ``health`` topic's payload: the feed, the zero and the sentences."""
    ready = _set_position(core)
    weight = _weight(core, ready)
    zero = _zero(core, weight, now_ns)
    return {
        "v": 1,
        "source": core.source,
        "feed": msgspec.to_builtins(_feed(core, now_ns)),
        "deck": _deck_state(core, ready).value,
        "zero": msgspec.to_builtins(zero),
        "pitches": core.book.count,
        "sentences": msgspec.to_builtins(_sentences(core, zero, weight, now_ns)),
        "recording": None,  # the monitor's to say
    }


def _sentences(core: Pipeline, zero: ZeroNow, weight: float | None, now_ns: int) -> list[Sentence]:
    said = core.watchman.sentences(now_ns)
    if core.tracker is None and core.continuity.stream is not None:
        said.insert(0, _layout_sentence(core))
    said += core.vigil.sentences()
    if not core.checking.running:  # the mass of a set-up check is meant to lie there
        said += _zero_sentences(zero, weight)
        said += _people_sentences(core)
    return said


def _feed(core: Pipeline, now_ns: int) -> FeedNow:
    watch, counters = core.watchman, core.continuity.counters
    delay = watch.delay_ms()
    known = core.continuity.stream is not None
    return FeedNow(
        state=watch.state(),
        stream=core.continuity.stream,
        nominal_rate_hz=core.continuity.rate_hz if known else None,
        rate_hz=watch.rate_hz(),
        channels=core.continuity.channels if known else None,
        age_s=None if watch.last_ns is None else (now_ns - watch.last_ns) / 1e9,
        frames=counters.frames,
        lost_frames=counters.lost_frames,
        gaps=counters.gaps,
        repeated_frames=counters.repeated_frames,
        late_frames=counters.late_frames,
        restarts=counters.restarts,
        rejected=dict(watch.rejected),
        latency_ms=None if delay is None else delay[0],
        latency_worst_ms=None if delay is None else delay[1],
    )


def _bears_two(core: Pipeline) -> bool:
    """Whether the quiet standing of now is too heavy for who throws: two people's."""
    if core.tracker is None or core.tracker.detector.stance is None:
        return False
    load, known = core.tracker.detector.stance.load, core.book.last_weight_n(core.pitcher)
    return core.tracker.detector.bears_two or (known is not None and load > TWO_PEOPLE * known)


def _set_position(core: Pipeline) -> Stance | None:
    """Return the set position of one person that lasts, or that a movement goes on from."""
    tracker = core.tracker
    if tracker is None or tracker.detector.stance is None or _bears_two(core):
        return None
    stance, ring = tracker.detector.stance, tracker.raw
    start = max(stance.start, stance.end - round(STANCE_S * tracker.rate_hz), ring.first)
    quiet = ring.view(start, stance.end)
    return stance if stands_ready(core.feet, quiet, tracker.zero.tare, stance.load) else None


def _deck_state(core: Pipeline, ready: Stance | None) -> DeckState:
    tracker = core.tracker
    if tracker is None or math.isnan(tracker.detector.load):
        return DeckState.UNKNOWN
    detector = tracker.detector
    if detector.phase is Phase.LANDED:
        return DeckState.LANDED
    if ready is not None:
        still = tracker.raw.end - ready.end < 0.2 * tracker.rate_hz
        return DeckState.SET if still else DeckState.DELIVERY
    lightest = core.settings.lightest_person_kg * STANDARD_GRAVITY
    return DeckState.OCCUPIED if detector.load > EMPTY_SHARE * lightest else DeckState.EMPTY


def _platforms(core: Pipeline, tracker: Tracker) -> list[PlatformLoad]:
    ring = tracker.raw
    newest = ring.view(max(ring.first, ring.end - round(SHOWN_OVER_S * tracker.rate_hz)), ring.end)
    whole = newest[np.isfinite(newest[:, 0])].astype(float)
    if len(whole) == 0:
        return []
    # A set-up check's zero comes into force with its end, but the mass is laid down before.
    seen = core.checking.empty_reading
    tare = tracker.zero.tare if seen is None else seen
    forces = platform_forces(core.layout, whole.mean(axis=0)[None], tare)
    places = centre_of_pressure(core.layout, forces, LEAST_LOAD_N)
    loads = []
    for i, platform in enumerate(core.layout.platforms):
        fx, fy, fz = forces.force[0, i].tolist()
        x, y = places[0, i].tolist()
        known = not math.isnan(x)
        loads.append(
            PlatformLoad(platform.name, fx, fy, fz, x if known else None, y if known else None)
        )
    return loads


def _strip(tracker: Tracker | None) -> Strip:
    if tracker is None:
        return Strip(STRIP_STEP_S, [], [])
    ring, rate, zero = tracker.online, tracker.rate_hz, tracker.zero
    step = max(1, round(STRIP_STEP_S * rate))
    # Its values lie on the device's frame count, so that they do not flicker.
    end = ring.end - ring.end % step
    count = min(round(STRIP_S * rate / step), max(0, end - ring.first) // step)
    start = end - count * step
    if count == 0:
        return Strip(step / rate, [], [])
    sides = ring.view(start, end)[:, :2].reshape(count, step, 2).mean(axis=1)
    return Strip(
        step / rate, (sides[:, 0] - zero.drive_z).tolist(), (sides[:, 1] - zero.lead_z).tolist()
    )


def _weight(core: Pipeline, ready: Stance | None) -> float | None:
    """Return the weigh-in, else the weight in this set position, else that of the last pitch."""
    weigh_in = core.roster.find(core.pitcher).weigh_in_kg
    if weigh_in is not None:
        return weigh_in * STANDARD_GRAVITY
    return core.book.last_weight_n(core.pitcher) if ready is None else ready.load


def _zero(core: Pipeline, weight: float | None, now_ns: int) -> ZeroNow:
    if core.tracker is None or core.tracker.zero.kind == NO_ZERO:
        return ZeroNow(NO_ZERO, None, None, None, 0.0)
    zero, reference, taken = core.tracker.zero, core.zero.reference, core.zero.taken
    age = core.tracker.zero_age_s
    moved = core.zero_moved_n()
    if reference is None or moved is None:
        return ZeroNow(zero.kind, age, None, None, 0.0)
    taken_ns = None if taken is None else taken.taken_ns
    return ZeroNow(
        zero.kind,
        age,
        moved,
        moved / (weight or USUAL_WEIGHT_N),
        zero.load - reference.load,
        by="" if taken is None else taken.by,
        taken_s=None if taken_ns is None else (now_ns - taken_ns) / 1e9,
    )


def _zero_sentences(zero: ZeroNow, weight: float | None) -> list[Sentence]:
    """Warn from half of what matters on, so that there is time to act."""
    if zero.moved_bw is None or zero.moved_n is None or abs(zero.moved_bw) < TELL_BW:
        return []
    return [Sentence(Level.WARNING, "zero_moved", moved_sentence(zero.moved_n, weight))]


def _people_sentences(core: Pipeline) -> list[Sentence]:
    if not _bears_two(core):
        return []
    say = "Two people seem to be on the deck: one of them has to step off before the pitch."
    return [Sentence(Level.WARNING, "two_people", say)]


def _layout_sentence(core: Pipeline) -> Sentence:
    return Sentence(
        Level.ALARM,
        "wrong_layout",
        f"The feed has {core.continuity.channels} channels, the layout {core.layout.name!r} "
        f"{core.layout.channels}. Nothing is measured: start again with this mound's layout.",
    )
