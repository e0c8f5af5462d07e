"""Sentences about one correction over sessions: what may be claimed, and what limits the claim."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from . import names, numbers

if TYPE_CHECKING:
    from ..record.followed import Series

#: What limits many claims at once: a list says it once, with how many it is true of.
DAYS_VARY = "on these days: how much a dancer varies from day to day is not known yet (ten pairs of sessions tell it)"
ONE_REPETITION = "one repetition each says nothing about the dancer's habit: record the step again in one take"
BY_CHANCE = "not a goal set beforehand: one such claim in ten is chance"
BARS = "Bars: ± 95 %."
BAND = "band"


def title(fault: str, side: str, step: str) -> str:
    """A correction with its side and step: "Heel lifts early, left (turn en dehors)"."""
    return f"{names.on_side(names.fault_title(fault), side)}{f' ({step})' if step else ''}"


def outcome(series: Series) -> str:
    """What became of a correction, in one sentence."""
    last, unit = series.sessions[-1], series.unit
    if series.change is None or series.baseline is None:
        return f"{numbers.measured(last.value, last.plus_minus, unit)}, one session: nothing to compare ({series.state})"
    error = series.change.sdc
    moved = numbers.from_to(series.baseline.value, last.value, min(error, last.plus_minus), unit)
    least = numbers.number(error, unit)
    if series.claim is not None:
        change = numbers.changed(series.change.value, error, unit)
        return f"{series.claim}: {moved}, change {change}; from {least} on it shows ({series.state})"
    if series.baseline.off_band == 0 and last.off_band == 0:
        return f"{moved}, inside the band both times: no claim ({series.state})"
    why = "less than" if not series.change.beyond else "among so many measures no more than chance, though beyond"
    return f"{moved}: no change that can be claimed, {why} the smallest that would show, {least} ({series.state})"


def remarks(series: Series) -> tuple[str, ...]:
    """What limits the claim."""
    found = []
    if series.change is not None and series.change.means and series.day_sd is None:
        found.append(DAYS_VARY)
    if series.claim == "changed on these two tries":
        found.append(ONE_REPETITION)
    if series.claim in ("may be better", "may be worse"):
        found.append(BY_CHANCE)
    counts = [f"{item.outside} of {item.n}" for item in series.sessions[-2:]]
    if sum(item.n for item in series.sessions[-2:]) and any(item.outside for item in series.sessions[-2:]):
        found.append(f"outside the band: {' times, then '.join(counts)} times (not a claim by itself)")
    if series.trend is not None:
        verdict = "a trend" if series.trend.beyond else "no trend that can be claimed"
        found.append(f"{verdict}: {numbers.changed(series.trend.per_month, series.trend.plus_minus, series.unit)} per 30 days")
    return tuple(found)


def _worth_telling(series: Sequence[Mapping[str, Any]]) -> tuple[list[Mapping[str, Any]], int]:
    """What changed, is a goal, or lay outside its band in some session; and how many others there are."""
    told = [item for item in series if item["claim"] or item["goal"] or any(one["outside"] for one in item["sessions"])]
    return told, len(series) - len(told)


def progress(data: Mapping[str, Any]) -> str:
    """What was measured of a dancer: what changed first, then what cannot be claimed; what was never outside is counted."""
    told, inside = _worth_telling(data["series"])
    lines = [f"{data['dancer']}: {numbers.counted(len(data['series']), 'measure', 'measures')} followed"]
    often = Counter(remark for item in told for remark in item["remarks"] if remark in (DAYS_VARY, ONE_REPETITION, BY_CHANCE))
    for item in told:
        lines.append(f"  {item['title']}: {item['says']}")
        lines += [f"      {remark}" for remark in item["remarks"] if often[remark] <= 1]
    lines += [f"  {count} of these: {remark}" for remark, count in often.items() if count > 1]
    if inside:
        lines.append(f"  {inside} more lay inside their band in every session: nothing to claim (--json lists them)")
    if data["review_again"]:
        lines.append(f"not compared, since other measures were used; review these again: {', '.join(data['review_again'])}")
    return "\n".join([*lines, *(f"written: {path}" for path in data["charts"])])


def two_terms(before: str, now: str, data: Mapping[str, Any]) -> str:
    """The same of two terms, and what of it may be told to the dancer."""
    better = [f"may be told to the dancer: better than in {before}: {title}" for title in data["better"]]
    return "\n".join([f"{now} against {before}", progress(data), *better])


def axis(what: str, unit: str) -> str:
    """Beside a chart: what was measured, and its unit."""
    return f"{what}, {numbers.unit_words(unit).strip()}".rstrip(", ")


def outside(count: int, of: int) -> str:
    """At a point of a chart: how often outside the band."""
    return f"{count} of {of}"


def below_chart(says: str) -> str:
    """Under a chart: what became of it, and what its bars are."""
    return f"{says}. {BARS}"
