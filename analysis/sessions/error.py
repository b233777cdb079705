"""How much pitches scatter by themselves, and the smallest change that is more than that.

Typical error: the pooled SD of pitches about each pitcher's own mean, the
root of the within mean square of a one-way analysis of variance; in the
reliability literature the standard error of measurement (Weir 2005, Journal
of Strength and Conditioning Research 19:231-240) or within-subject SD (Bland
& Altman 1996, BMJ 313:744). It holds what the pitcher varies and what the
mound errs, and a trend over the session as well. Its interval is from the
chi-square distribution.

Smallest detectable change between two single pitches: 1.96 sqrt(2) times the
typical error (Weir 2005; repeatability in Bland & Altman 1996). Between two
means of k pitches each it is smaller by sqrt(k).

Both are of one session. Between days the error is larger, which
:func:`between_sessions` estimates where there are enough sessions.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from stream.layout import Array

METHOD = (
    "typical error: root of the within-pitcher mean square, interval by chi-square; smallest "
    "detectable change: 1.96 √2 times the typical error (Weir 2005)"
)
#: Fewest degrees of freedom: below, the typical error itself is known to 25 % at best.
LEAST_DF = 10
_Z = float(stats.norm.ppf(0.975))


@dataclass(frozen=True, slots=True)
class TypicalError:
    """Typical error ``sd`` with its 95 % interval ``low`` to ``high``, units of the quantity.

    ``count`` values in ``groups`` pitchers leave ``df`` degrees of freedom.
    """

    groups: int
    count: int
    df: int
    sd: float
    low: float
    high: float

    def detectable(self, pitches: int = 1) -> float:
        """Return the smallest detectable change between two means of ``pitches`` each."""
        return _Z * math.sqrt(2.0 / pitches) * self.sd


def typical_error(groups: Iterable[Array], at_least: int = LEAST_DF) -> TypicalError | None:
    """Return the typical error of ``groups`` (one (n,) array a pitcher); None where too few."""
    known = [values for values in groups if len(values) >= 2]
    count = sum(len(values) for values in known)
    df = count - len(known)
    if df < at_least:
        return None
    squares = sum(float(np.sum((values - values.mean()) ** 2)) for values in known)
    sd = math.sqrt(squares / df)
    low, high = (sd * math.sqrt(df / float(stats.chi2.ppf(q, df))) for q in (0.975, 0.025))
    return TypicalError(len(known), count, df, sd, low, high)


def between_sessions(
    pitchers: Iterable[Sequence[Array]], at_least: int = LEAST_DF
) -> TypicalError | None:
    """Return the typical error of a session's median between sessions; None where too few.

    ``pitchers`` gives one (n,) array of values for each session of each pitcher.
    """
    medians = [np.array([np.median(v) for v in own if len(v)]) for own in pitchers]
    return typical_error(medians, at_least)
