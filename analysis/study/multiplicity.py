"""Many tests, some false alarms: Holm's step-down adjustment.

Source: Holm 1979, Scandinavian Journal of Statistics 6:65-70. The adjusted p values hold the
chance of any false alarm among all tests at the nominal level, whatever their dependence.
"""

from __future__ import annotations

from collections.abc import Sequence

from statsmodels.stats.multitest import multipletests


def holm(p_values: Sequence[float]) -> list[float]:
    """Adjust p values (in the order given); each is the smallest level at which Holm rejects."""
    if not p_values:
        return []
    return [float(p) for p in multipletests(list(p_values), method="holm")[1]]
