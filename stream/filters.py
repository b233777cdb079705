"""Zero-phase low-pass of a whole window."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from stream.layout import Array

#: Two passes of a 2nd-order Butterworth: (sqrt 2 - 1)^(1/4), so that the two together are
#: 3 dB down at the wanted cut-off (Winter, Biomechanics and Motor Control of Human Movement,
#: 4th ed.; Robertson et al., Research Methods in Biomechanics, 2nd ed.).
TWO_PASS_CORRECTION = (math.sqrt(2.0) - 1.0) ** 0.25

#: How far a window is carried on at its ends: three times the filter's length.
_REACH = 9


def design_cutoff(cutoff_hz: float, rate_hz: float) -> float:
    """Return the cut-off (Hz) to design one pass for, so that two passes cut at ``cutoff_hz``.

    The correction applies to the tangent-warped frequency, not to the
    frequency itself. Raise ValueError where the cut-off is not below half the
    rate.
    """
    if not 0.0 < cutoff_hz < rate_hz / 2.0:
        raise ValueError(f"a cut-off of {cutoff_hz:g} Hz needs more than {2 * cutoff_hz:g} Hz")
    warped = math.tan(math.pi * cutoff_hz / rate_hz) / TWO_PASS_CORRECTION
    return rate_hz / math.pi * math.atan(warped)


def low_pass(values: Array, cutoff_hz: float | None, rate_hz: float) -> Array:
    """Return ``values`` (n, k) low-passed along the first axis without phase shift.

    Zero-phase 4th order: two passes of a 2nd-order Butterworth with odd
    extension at the ends, ``cutoff_hz`` being the overall -3 dB point. None,
    or a cut-off at or above half the rate, returns the values as they are.
    Raise ValueError where n is not above 9, the length of the extension.
    """
    if cutoff_hz is None or cutoff_hz >= rate_hz / 2.0:
        return values
    from scipy.signal import lfilter  # noqa: PLC0415  (half a second that --help need not pay)

    # What the library's filtfilt does, without working out the pass's settled state each time.
    b, a, settled = _one_pass(cutoff_hz, rate_hz)
    filtered = _extended(values)
    for _ in range(2):
        start = settled[:, None] * filtered[0]
        filtered = lfilter(b, a, filtered, axis=0, zi=start)[0][::-1]
    return np.asarray(filtered[_REACH:-_REACH])


@lru_cache(maxsize=16)
def _one_pass(cutoff_hz: float, rate_hz: float) -> tuple[Array, Array, Array]:
    """Return one pass's coefficients (b, a), and its state once settled on a steady 1."""
    from scipy.signal import butter, lfilter_zi  # noqa: PLC0415

    b, a = butter(2, design_cutoff(cutoff_hz, rate_hz), fs=rate_hz)
    return b, a, lfilter_zi(b, a)


def _extended(values: Array) -> Array:
    """Return ``values`` (n, k) carried on at both ends, turned around the end value (odd)."""
    if len(values) <= _REACH:
        raise ValueError(f"{len(values)} samples are too few to be filtered")
    before = 2.0 * values[0] - values[_REACH:0:-1]
    after = 2.0 * values[-1] - values[-2 : -_REACH - 2 : -1]
    return np.concatenate([before, values, after])
