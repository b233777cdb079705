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
    """
    if cutoff_hz is None or cutoff_hz >= rate_hz / 2.0:
        return values
    from scipy.signal import sosfiltfilt  # noqa: PLC0415  (half a second that --help need not pay)

    return np.asarray(sosfiltfilt(_sections(cutoff_hz, rate_hz), values, axis=0))


@lru_cache(maxsize=16)
def _sections(cutoff_hz: float, rate_hz: float) -> Array:
    from scipy.signal import butter  # noqa: PLC0415

    return np.asarray(butter(2, design_cutoff(cutoff_hz, rate_hz), fs=rate_hz, output="sos"))
