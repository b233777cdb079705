"""Device clock against host clock, held to RFC 5905 and to two independent implementations."""

from __future__ import annotations

import ntplib
import numpy as np
import pytest
from pyxdf.pyxdf import _robust_fit

from stream.clock import fit_clock, shortest_delays


def test_a_one_way_reading_is_offset_plus_half_the_delay_of_rfc_5905() -> None:
    # RFC 5905, section 8, with T1..T4 = 100, 100.75, 100.80, 100.25: offset 0.65, delay 0.20.
    four = ntplib.NTPStats()
    four.orig_timestamp, four.recv_timestamp = 100.0, 100.75
    four.tx_timestamp, four.dest_timestamp = 100.80, 100.25
    assert four.offset == pytest.approx(0.65)
    assert four.delay == pytest.approx(0.20)
    sent = (np.arange(200) * 50_000_000) + 100_000_000_000
    fit = fit_clock(sent, sent + 750_000_000)
    assert fit is not None
    assert fit.offset_s == pytest.approx(four.offset + four.delay / 2)
    assert fit.drift_ppm == pytest.approx(0.0, abs=1e-6)


def test_the_clock_filter_keeps_the_shortest_delay_of_eight() -> None:
    # RFC 5905, section 10: of the last eight samples the one of smallest delay is used.
    readings = [5, 3, 9, 4, 8, 7, 6, 5, 2, 9, 9, 9, 9, 9, 9, 1, 7, 7, 7]
    assert shortest_delays(readings).tolist() == [1, 15]
    assert shortest_delays([*readings, 6]).tolist() == [1, 15, 19]


@pytest.mark.parametrize("seed", range(8))
def test_outliers_do_not_move_the_fit_and_an_independent_robust_fit_agrees(seed: int) -> None:
    # Truth 0.250 s + 40 ppm, 0.2 ms noise, a 20 ms outlier each 15th. Least squares is off by
    # milliseconds; pyxdf's Huber fit and ours are not.
    rng = np.random.default_rng(seed)
    device = np.arange(1200) * 50_000_000
    delay = np.abs(rng.normal(0.0, 0.2e-3, device.size))
    delay[::15] += 0.020
    host = device * (1 + 40e-6) + (0.250 + delay) * 1e9
    fit = fit_clock(device, np.round(host).astype(np.int64))
    assert fit is not None
    assert fit.drift_low_ppm <= 40.0 <= fit.drift_high_ppm or abs(fit.drift_ppm - 40.0) < 0.5
    assert fit.offset_s == pytest.approx(0.250, abs=1e-4)
    seconds, reading = device * 1e-9, (host - device) * 1e-9
    # In units of its own default threshold (winsor_threshold, 0.1 ms), as pyxdf's loader calls it.
    design = np.column_stack([np.ones(device.size), seconds]) / 1e-4
    level, slope = _robust_fit(design, reading / 1e-4)
    assert fit.drift_ppm == pytest.approx(slope * 1e6, abs=1.5)
    assert fit.offset_s == pytest.approx(level, abs=3e-4)
    plain_level = np.polynomial.Polynomial.fit(seconds, reading, 1).convert().coef[0]
    assert abs(plain_level - 0.250) > 5 * abs(fit.offset_s - 0.250)


def test_a_clock_of_nanoseconds_since_1970_loses_nothing() -> None:
    sent = 1_700_000_000_000_000_123 + np.arange(400, dtype=np.int64) * 5_000_000
    fit = fit_clock(sent, sent - 123_456_789)
    assert fit is not None
    assert fit.offset_s == pytest.approx(-0.123456789, abs=1e-12)


def test_too_few_messages_or_a_standing_clock_give_no_fit() -> None:
    few = np.arange(39) * 1_000_000
    assert fit_clock(few, few) is None
    still = np.zeros(100, dtype=np.int64)
    assert fit_clock(still, np.arange(100) * 1_000_000) is None
