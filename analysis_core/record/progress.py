"""What may be said of one correction over sessions, and what may not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from ..wording import record as say
from .claims import Session, change, false_discovery, holm, together
from .followed import Claim, Key, Series
from .states import state_of
from .trend import trend

#: A goal set beforehand may err once in twenty; of all that was not, one claim in ten may be false. Common practice.
GOAL_LEVEL, OTHER_LEVEL = 0.05, 0.10


def as_json(series: Series) -> dict[str, Any]:
    """A series as plain values for scripts; null for what is unknown."""
    sessions = [
        {
            "day": item.day.isoformat(),
            "n": item.n,
            "value": item.value,
            "sd": None if item.n < 2 else item.sd,
            "plus_minus": item.plus_minus,
            "plus_minus_within_take": item.within,
            "band": [_finite(item.low), _finite(item.high)],
            "outside": item.outside,
        }
        for item in series.sessions
    ]
    change = None
    if series.change is not None and series.baseline is not None:
        change = {
            "from": series.baseline.value,
            "value": series.change.value,
            "smallest_detectable": series.change.sdc,
            "p": series.change.p,
            "adjusted": series.adjusted,
            "means": series.change.means,
            "same_placement": series.change.same_placement,
        }
    trend = None
    if series.trend is not None:
        trend = {
            "per_30_days": series.trend.per_month,
            "plus_minus": series.trend.plus_minus,
            "robust": series.trend.robust,
            "beyond": series.trend.beyond,
        }
    key = series.key
    return {
        "fault": key.fault, "measure": key.measure, "side": key.side or None, "step": key.step, "phrase": key.phrase,
        "title": series.title, "unit": series.unit, "state": series.state, "claim": series.claim,
        "goal": series.goal_on is not None, "sessions": sessions, "change": change, "trend": trend,
        "says": say.outcome(series), "remarks": list(say.remarks(series)),
    }  # fmt: skip


def _finite(value: float) -> float | None:
    return value if abs(value) != float("inf") else None


def _baseline(sessions: Sequence[Session], goal_on: date | None) -> Session | None:
    """What the last session is compared with; None when there is nothing.

    A goal is not compared with the very take that chose it: the worst of many is worst partly by chance, and the next try
    would look better though nothing changed (regression to the mean; Barnett 2005, Int J Epidemiol 34:215). So it is the mean of
    two sessions or more until the goal was set, else the first one after it.
    """
    if goal_on is None:
        return sessions[0] if len(sessions) > 1 else None
    until = [item for item in sessions if item.day <= goal_on]
    after = [item for item in sessions if item.day > goal_on]
    if len(until) >= 2:
        return together(until) if after else None
    return after[0] if len(after) > 1 else None


def follow(
    key: Key, title: str, says_what: str, unit: str, sessions: Sequence[Session], day_sd: float | None, goal_on: date | None
) -> Series:
    """A series with its state, change and trend; what may be claimed is decided over all series together (``claimed``)."""
    ordered = tuple(sorted(sessions, key=lambda item: item.day))
    baseline = _baseline(ordered, goal_on)
    return Series(
        key=key,
        title=title,
        says_what=says_what,
        unit=unit,
        sessions=ordered,
        state=state_of(ordered, day_sd or 0.0),
        day_sd=day_sd,
        goal_on=goal_on,
        baseline=baseline,
        change=None if baseline is None else change(baseline, ordered[-1], day_sd or 0.0),
        trend=trend(ordered),
    )


def claimed(series: Sequence[Series]) -> tuple[Series, ...]:
    """The same series with claims: Holm over the goals, Benjamini-Hochberg over the rest. The claims first, then the rest."""
    result = list(series)
    for goals, adjust, level in ((True, holm, GOAL_LEVEL), (False, false_discovery, OTHER_LEVEL)):
        places = [
            place
            for place, item in enumerate(series)
            if item.change is not None and (item.goal_on is not None) == goals and _may_be_claimed(item)
        ]
        for place, adjusted in zip(places, adjust([_p(series[place]) for place in places]), strict=True):
            result[place] = replace(series[place], adjusted=adjusted, claim=_claim(series[place], adjusted, level, goals))
    return tuple(sorted(result, key=lambda item: (item.claim is None, item.goal_on is None, item.adjusted or 1.0, item.title)))


def _p(series: Series) -> float:
    assert series.change is not None
    return series.change.p


def _may_be_claimed(series: Series) -> bool:
    """Inside the band both times there is nothing to say."""
    return series.baseline is not None and (series.baseline.off_band > 0 or series.sessions[-1].off_band > 0)


def _claim(series: Series, adjusted: float, level: float, goal: bool) -> Claim | None:
    found, baseline = series.change, series.baseline
    if found is None or baseline is None or not found.beyond or adjusted >= level:
        return None
    if not found.means:
        return "changed on these two tries"
    better = series.sessions[-1].off_band < baseline.off_band
    if goal:
        return "better" if better else "worse"
    return "may be better" if better else "may be worse"
