"""Whether two sessions of one measure differ by more than measuring, the dancer's own spread and chance can make.

Smallest detectable change: Bland & Altman 1999, Stat Methods Med Res 8:135 (repeatability); Weir 2005, J Strength Cond Res
19:231.
Means: Welch 1947, Biometrika 34:28, and Satterthwaite 1946, Biometrics 2:110. Many claims at once: Holm 1979, Scand J Stat 6:65;
Benjamini & Hochberg 1995, J R Stat Soc B 57:289.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy import special

#: 95 % of a normal distribution lie within so many standard deviations.
Z = 1.959963984540054
#: Between so many days of two sessions a dancer's day-to-day spread is read off; from so many pairs on. Proposed defaults.
DAY_PAIR_DAYS, LEAST_DAY_PAIRS = 14, 10


@dataclass(frozen=True)
class Session:
    """One measure in one session: the mean of n repetitions and their SD (NaN for one), with both ± (95 %) of a single value.

    within: None where the recording does not tell it apart. low, high: the band, infinite where open. outside: how many
    of n lie beyond the band; as_fault: one of them was graded a fault. placement: how the markers were stuck on, None unknown.
    """

    day: date
    n: int
    value: float
    sd: float
    plus_minus: float
    within: float | None
    low: float
    high: float
    outside: int
    as_fault: bool = False
    placement: str | None = None

    @property
    def within_u(self) -> float:
        """1 SD of a repetition within a take."""
        return (self.plus_minus if self.within is None else min(self.within, self.plus_minus)) / Z

    @property
    def placement_u(self) -> float:
        """1 SD of what is the same throughout a take: markers stuck on, how the dancer stood."""
        return math.sqrt(max((self.plus_minus / Z) ** 2 - self.within_u**2, 0.0))

    @property
    def off_band(self) -> float:
        """How far the mean lies beyond the band; 0 inside."""
        return max(self.low - self.value, self.value - self.high, 0.0)


@dataclass(frozen=True)
class Change:
    """From one session to another. sdc: smallest detectable change (95 %). p: two-sided. df: infinite for single values.

    means: both sessions have two repetitions or more. same_placement: the markers were not stuck on anew between them.
    """

    value: float
    sdc: float
    p: float
    df: float
    means: bool
    same_placement: bool

    @property
    def beyond(self) -> bool:
        """Whether the change is larger than the smallest detectable one."""
        return abs(self.value) > self.sdc


def change(before: Session, after: Session, day_sd: float = 0.0) -> Change:
    """The change of a measure between two sessions. day_sd: the dancer's own 1-SD spread from day to day, 0 when not known."""
    same = before.placement is not None and before.placement == after.placement
    fixed = 2 * day_sd**2 + (0.0 if same else before.placement_u**2 + after.placement_u**2)
    means = before.n >= 2 and after.n >= 2
    delta = after.value - before.value
    if not means:
        error = math.sqrt(before.within_u**2 + after.within_u**2 + fixed)
        p = 2 * float(special.ndtr(-abs(delta) / error)) if error else float(delta == 0)
        return Change(delta, Z * error, p, math.inf, False, same)
    parts = [max(_squared(item.sd), item.within_u**2) / item.n for item in (before, after)]
    variance = sum(parts) + fixed
    spread = sum(part**2 / (item.n - 1) for part, item in zip(parts, (before, after), strict=True))
    df = variance**2 / spread if spread else math.inf
    error = math.sqrt(variance)
    p = 2 * float(special.stdtr(df, -abs(delta) / error)) if error else float(delta == 0)
    return Change(delta, _half_width(df) * error, p, df, True, same)


def _half_width(df: float) -> float:
    """Of 95 % of Student's t, in standard errors. The special functions are a hundred times quicker than the distributions."""
    return Z if math.isinf(df) else float(special.stdtrit(df, 0.975))


def _squared(sd: float) -> float:
    return 0.0 if math.isnan(sd) else sd**2


def together(sessions: Sequence[Session]) -> Session:
    """Several sessions, or takes of one session, as one: all repetitions pooled; the last day; placement where it is one."""
    n = sum(item.n for item in sessions)
    mean = sum(item.n * item.value for item in sessions) / n
    squares = sum((item.n - 1) * _squared(item.sd) + item.n * (item.value - mean) ** 2 for item in sessions)
    placements = {item.placement for item in sessions}
    last = sessions[-1]
    withins = [item.within for item in sessions]
    return Session(
        day=last.day,
        n=n,
        value=mean,
        sd=math.sqrt(squares / (n - 1)) if n > 1 else math.nan,
        plus_minus=math.sqrt(sum(item.n * item.plus_minus**2 for item in sessions) / n),
        within=None if None in withins else math.sqrt(sum(item.n * (item.within or 0.0) ** 2 for item in sessions) / n),
        low=last.low,
        high=last.high,
        outside=sum(item.outside for item in sessions),
        as_fault=any(item.as_fault for item in sessions),
        placement=placements.pop() if len(placements) == 1 else None,
    )


def day_to_day_sd(series: Sequence[Sequence[Session]]) -> float | None:
    """1-SD spread of one measure from day to day, over dancers who were recorded twice within 14 days; None below ten pairs.

    What measuring and repetitions explain is taken away; 0 when they explain all of it.
    """
    excess = []
    for sessions in series:
        for before, after in itertools.pairwise(sessions):
            if 0 < (after.day - before.day).days <= DAY_PAIR_DAYS:
                known = change(before, after)
                # The variance of the difference that is known already, from the half-width at its own df.
                factor = Z if not known.means else _half_width(known.df)
                excess.append((known.value**2 - (known.sdc / factor) ** 2) / 2)
    if len(excess) < LEAST_DAY_PAIRS:
        return None
    return math.sqrt(max(float(np.mean(excess)), 0.0))


def holm(p_values: Sequence[float]) -> list[float]:
    """Adjusted p of claims that were set beforehand: the chance of any false one stays below the limit."""
    order = sorted(range(len(p_values)), key=lambda place: p_values[place])
    adjusted, highest = [1.0] * len(p_values), 0.0
    for rank, place in enumerate(order):
        highest = max(highest, min((len(p_values) - rank) * p_values[place], 1.0))
        adjusted[place] = highest
    return adjusted


def false_discovery(p_values: Sequence[float]) -> list[float]:
    """q of claims that nobody had set beforehand: the share of false ones among those made (Benjamini & Hochberg 1995)."""
    # Not the library's: it takes more than a second to load, and every panel with a dancer's earlier takes waits for it.
    count = len(p_values)
    adjusted, lowest = [1.0] * count, 1.0
    for rank, place in enumerate(sorted(range(count), key=lambda place: p_values[place], reverse=True)):
        lowest = min(lowest, p_values[place] * count / (count - rank))
        adjusted[place] = lowest
    return adjusted
