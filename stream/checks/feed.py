"""Checks of the feed itself: rate, continuity, clock, latency."""

from __future__ import annotations

import numpy as np

from stream.checks.evidence import Evidence, Need, Timing
from stream.checks.statistics import signed
from stream.checks.verdict import Check, Finding, Status

RATE_SHARE = 0.005
LOST_SHARE = 0.0002
DRIFT_WARN_PPM = 200.0
DRIFT_FAIL_PPM = RATE_SHARE * 1e6
#: A device time that jumps by this from one message to the next was set, not counted.
STEP_S = 0.020
LATENCY_WARN_MS = 25.0
LATENCY_FAIL_MS = 250.0


def steps(timing: Timing) -> np.ndarray:
    """Return the jumps of device time against the frame count, s, one for each message after the
    first; those under STEP_S are 0.
    """
    frames = np.diff(timing.first_frame).astype(float)
    gone = np.diff(timing.device_ns) * 1e-9
    onward = frames > 0
    if not onward.any():
        return np.zeros(len(frames))
    excess = gone - frames * np.median(gone[onward] / frames[onward])
    return np.where(onward & (np.abs(excess) > STEP_S), excess, 0.0)


def true_rate(timing: Timing) -> float | None:
    """Return the sample rate by the device's clock, Hz: a line through frames and device time.

    Jumps of the clock are taken out first; None where device time stands still.
    """
    if len(timing.first_frame) < 2:
        return None
    frame = (timing.first_frame - timing.first_frame[0]).astype(float)
    elapsed = (timing.device_ns - timing.device_ns[0]) * 1e-9
    elapsed[1:] -= np.cumsum(steps(timing))
    frame -= frame.mean()
    slope = float(frame @ elapsed / (frame @ frame)) if frame.any() else 0.0
    return 1.0 / slope if slope > 0 else None


def _rate(e: Evidence) -> Finding:
    nominal = e.timing.nominal_hz
    limit = f"{nominal:g} +- {RATE_SHARE:.1%}"
    by_device = true_rate(e.timing)
    if by_device is None:
        return Finding(Status.FAIL, None, "Hz", limit, {"rate": "unknown", "clock": "device's"})
    rate, clock = by_device, "device's clock"
    fit = e.timing.clock if e.timing.real_time else None
    # A device that stamps frame / nominal always agrees with itself: only the host's clock tells.
    if fit and min(abs(fit.drift_low_ppm), abs(fit.drift_high_ppm)) > DRIFT_FAIL_PPM:
        by_host = by_device / (1.0 + fit.drift_ppm * 1e-6)
        if abs(by_host / nominal - 1.0) > abs(by_device / nominal - 1.0):
            rate, clock = by_host, "host's clock"
    wrong = abs(rate / nominal - 1.0) > RATE_SHARE
    fields = {"rate": f"{rate:.2f}", "nominal": f"{nominal:g}", "clock": clock}
    return Finding(Status.FAIL if wrong else Status.PASS, rate, "Hz", limit, fields)


RATE = Check(
    name="rate",
    title="Sample rate",
    needs=(Need.TIMING,),
    limit="nominal rate +- 0.5 %",
    reason="Times, impulses and speeds are frames divided by the rate: 0.5 % is 0.014 m/s of a "
    "forward speed of 2.75 m/s, a quarter of its pitch-to-pitch spread. Crystal clocks keep "
    "0.01 %, so a good device never comes near.",
    source="limit: ours, from the product's own error budget; crystal tolerance: common "
    "practice, no source",
    sentences={
        Status.PASS: "The device samples at {rate} Hz.",
        Status.FAIL: "The device samples at {rate} Hz by the {clock}, not at {nominal} Hz: every "
        "time, impulse and speed would be wrong. Set the device to {nominal} Hz and start it "
        "again.",
    },
    judge=_rate,
)


_LEFT = "(what came before it is left out)"


def _continuity(e: Evidence) -> Finding:
    t = e.timing
    c = t.counted
    missing = c.lost + c.late
    gaps = "a gap" if c.gaps == 1 else f"{c.gaps} gaps"
    share = missing / max(c.expected, 1)
    if share > LOST_SHARE or t.refused:
        status = Status.FAIL
    elif missing or t.restarts:
        status = Status.WARN
    else:
        status = Status.PASS
    parts = [
        f"{n} {one if n == 1 else many}"
        for n, one, many in (
            (c.lost, f"of {c.expected} frames lost", f"of {c.expected} frames lost in {gaps}"),
            (c.late, "frame came after newer ones", "frames came after newer ones"),
            (c.repeated, "frame came twice", "frames came twice"),
            (t.refused, "message that could not be read", "messages that could not be read"),
            (t.restarts, f"new start of the device {_LEFT}", f"new starts of the device {_LEFT}"),
        )
        if n
    ]
    seen = "; ".join(parts) or f"all {c.expected} frames came once and in order"
    detail = {
        "expected": float(c.expected),
        "lost": float(c.lost),
        "late": float(c.late),
        "repeated": float(c.repeated),
        "refused": float(t.refused),
        "restarts": float(t.restarts),
    }
    fields = {"seen": seen}
    return Finding(status, float(missing), "frames", CONTINUITY_LIMIT, fields, tuple(parts), detail)


CONTINUITY_LIMIT = "at most 0.02 % lost or late; none in a short check"
CONTINUITY = Check(
    name="continuity",
    title="Lost, late and repeated frames",
    needs=(Need.TIMING,),
    limit=CONTINUITY_LIMIT,
    reason="A gap inside a delivery leaves that pitch's metrics empty. In a check of some "
    "seconds a single lost frame fails; over an hour 0.02 % is a pitch or two. Repeated frames "
    "do no harm: they are counted and left out.",
    source="ours: from what a gap costs",
    sentences={
        Status.PASS: "Nothing is missing: {seen}.",
        Status.WARN: "The feed is not whole: {seen}. Watch it; if it grows, use a cable in place "
        "of wireless and close other programs that read the device.",
        Status.FAIL: "The feed has holes: {seen}. Use a cable in place of wireless, check the "
        "plugs, and close other programs that read the device; then check again.",
    },
    judge=_continuity,
)


def _clock(e: Evidence) -> Finding:
    fit = e.timing.clock
    assert fit is not None
    jumps = steps(e.timing)
    limit = f"drift within {DRIFT_WARN_PPM:g} ppm, no jumps"
    worst = float(jumps[np.argmax(np.abs(jumps))]) if len(jumps) else 0.0
    low, high = fit.drift_low_ppm, fit.drift_high_ppm
    # Only what the 95 % interval (doubled: it rests on few readings) cannot explain is a drift.
    spread = high - low
    sure = max(low - spread, -(high + spread), 0.0)
    fields = {
        "offset": f"{fit.offset_s:.4f}",
        "drift": signed(fit.drift_ppm, 0),
        "spread": f"{spread / 2:.0f}",
        "jump": f"{abs(worst):.3f}",
        "way": "slow" if fit.drift_ppm > 0 else "fast",
        "what": f"drifts {signed(fit.drift_ppm, 0)} ppm against this computer's",
    }
    detail = {
        "offset_s": fit.offset_s,
        "drift_ppm": fit.drift_ppm,
        "drift_low_ppm": low,
        "drift_high_ppm": high,
        "largest_jump_s": worst,
    }
    status = Status.PASS
    if worst:
        status, fields["what"] = Status.FAIL, f"jumped by {abs(worst):.3f} s during the check"
    elif sure > DRIFT_FAIL_PPM:
        status = Status.FAIL
    elif sure > DRIFT_WARN_PPM:
        status = Status.WARN
    return Finding(status, fit.drift_ppm, "ppm", limit, fields, (), detail)


CLOCK = Check(
    name="clock",
    title="Device clock against this computer's clock",
    needs=(Need.TIMING, Need.HOST_TIME),
    limit="drift within 200 ppm (fails at 5,000 ppm), no jump over 20 ms",
    reason="A ball speed finds its pitch by the clocks: 200 ppm is 0.7 s an hour, of the 3 s "
    "allowed. 5,000 ppm is the 0.5 % of the rate check. A jump puts one delivery's times in "
    "doubt. What the fit's own interval, widened twice, could explain is not held against it.",
    source="method: RFC 5905 sections 8 and 10 (smallest of eight delays), then a Theil-Sen "
    "line; 100 ppm for cheap crystals: common practice, no source",
    sentences={
        Status.PASS: "The clocks agree: drift {drift} ppm (+- {spread}), offset {offset} s with "
        "the shortest delay in it.",
        Status.WARN: "The device's clock runs {way}: {drift} ppm (+- {spread}). Ball speeds may "
        "miss their pitch after an hour or more. Set both clocks by the same time server, or "
        "restart the device before each session.",
        Status.FAIL: "The device's clock {what}. Either its clock or its sample rate is wrong: "
        "let no program set the clock during a session, restart the device and check again.",
    },
    judge=_clock,
)


def _latency(e: Evidence) -> Finding:
    fit = e.timing.clock
    assert fit is not None
    delay = (fit.delay_s - fit.delay_s.min()) * 1e3
    middle, late = (float(q) for q in np.quantile(delay, (0.5, 0.99)))
    worst = float(delay.max())
    if late > LATENCY_FAIL_MS:
        status = Status.FAIL
    else:
        status = Status.WARN if late > LATENCY_WARN_MS else Status.PASS
    figures = {"p50_ms": middle, "p99_ms": late, "worst_ms": worst}
    fields = {k: f"{v:.1f}" for k, v in figures.items()}
    limit = f"99 of 100 within {LATENCY_WARN_MS:g} ms of the quickest"
    return Finding(status, late, "ms", limit, fields, (), figures)


LATENCY = Check(
    name="latency",
    title="Delay on the way, beyond the shortest",
    needs=(Need.TIMING, Need.LIVE, Need.HOST_TIME),
    limit="99 of 100 messages within 25 ms of the quickest (fails at 250 ms)",
    reason="Foot contact is announced within 25 ms; a message that comes later makes the screen "
    "late, never the record wrong. Only differences can be measured one way: the shortest delay "
    "itself stays unknown.",
    source="25 ms: the product's own promise; one-way limits of RFC 5905 arithmetic",
    sentences={
        Status.PASS: "Messages arrive evenly: half within {p50_ms} ms of the quickest, 99 of 100 "
        "within {p99_ms} ms.",
        Status.WARN: "Messages arrive unevenly: 1 in 100 more than {p99_ms} ms late (worst "
        "{worst_ms} ms). The screen will lag; the record stays right. Use a cable, and close "
        "what else is busy on this computer.",
        Status.FAIL: "Messages arrive in bursts: 1 in 100 more than {p99_ms} ms late (worst "
        "{worst_ms} ms). Use a cable in place of wireless, or let the device send smaller "
        "blocks.",
    },
    judge=_latency,
)
