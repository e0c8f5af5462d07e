"""A trend over sessions, only where there are enough of them to say how sure it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .claims import Session, Z

#: Below so many sessions only the first and the last are compared: with three, the usual interval of a robust slope covers 66 %
#: instead of 95 %, and the least possible p of a rank correlation is 0.33 (simulated for this program).
LEAST_SESSIONS = 4
#: From so many sessions on a slope that one odd session cannot turn stands beside it (Theil 1950; Sen 1968, JASA 63:1379).
ROBUST_FROM = 6
_MONTH_DAYS = 30.0


@dataclass(frozen=True)
class Trend:
    """Slope per 30 days with its ± (95 %): the wider of what the sessions scatter and what measuring alone would make.

    robust: slope with its lower and upper end (95 %), None below six sessions.
    """

    per_month: float
    plus_minus: float
    by_scatter: float
    by_measuring: float
    robust: tuple[float, float, float] | None

    @property
    def beyond(self) -> bool:
        """Whether there is a trend."""
        return abs(self.per_month) > self.plus_minus


def trend_of(days: Sequence[float], values: Sequence[float], u: float) -> Trend | None:
    """The trend of session means; None below four sessions or when all are of one day. u: 1 SD of one mean, from measuring."""
    if len(values) < LEAST_SESSIONS or len(set(days)) < 2:
        return None
    # Takes the better part of a second to load: only where there are so many sessions.
    from scipy import stats

    months, means = np.asarray(days, dtype=float) / _MONTH_DAYS, np.asarray(values, dtype=float)
    fit = stats.linregress(months, means)
    scatter = float(stats.t.ppf(0.975, len(means) - 2) * fit.stderr)
    measuring = Z * u / math.sqrt(float(np.sum((months - months.mean()) ** 2)))
    robust = robust_slope(days, values) if len(values) >= ROBUST_FROM else None
    return Trend(float(fit.slope), max(scatter, measuring), scatter, measuring, robust)


def robust_slope(days: Sequence[float], values: Sequence[float]) -> tuple[float, float, float]:
    """The median of the slopes between all pairs, per 30 days, with its lower and upper end (95 %; Theil 1950, Sen 1968)."""
    from scipy import stats

    found = stats.theilslopes(np.asarray(values, dtype=float), np.asarray(days, dtype=float) / _MONTH_DAYS)
    return float(found.slope), float(found.low_slope), float(found.high_slope)


def trend(sessions: Sequence[Session]) -> Trend | None:
    """The trend of a measure over its sessions."""
    if len(sessions) < LEAST_SESSIONS:
        return None
    placements = {item.placement for item in sessions}
    fixed = 0.0 if len(placements) == 1 and None not in placements else 1.0
    u = math.sqrt(sum(item.within_u**2 / item.n + fixed * item.placement_u**2 for item in sessions) / len(sessions))
    first = sessions[0].day
    return trend_of([(item.day - first).days for item in sessions], [item.value for item in sessions], u)
