"""Markers that were stuck back in another place: found by their place among their companions, and put back by calculation."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .gaps import find_gaps, present
from .ghosts import Step
from .rigidity import Carrier, Survey, carry, is_wide, quantile, same_segment, shape_of

#: A marker stuck back elsewhere: two of its distances to the nearest markers changed by more than this and than so many times
#: what they wander on either side, and each side is known for so long. Proposed defaults.
_MOVED_M, _TIMES_WANDER, _TIMES_PLACE, _LEAST_SIDE_S, _NEAREST = 0.008, 2.0, 2.0, 0.4, 8
#: So plain a change of the distances (in limits) is believed even where no group of companions confirms it.
_PLAIN = 2.0
#: Companions may wander among themselves by this (80 % of the frames); so many at most.
_GROUP_SPREAD_M, _GROUP = 0.012, 5
#: Markers of other body parts are taken only where the place wanders by so much less among them.
_BETTER = 0.5
#: A gap shorter than this is no time to stick a marker back.
_LEAST_GAP_S = 0.05
_PLACES_HZ = 30.0
#: Samples of each side that are enough for its medians.
_ENOUGH = 300


@dataclass(frozen=True)
class Moved:
    """A marker that sits elsewhere from frame ``end`` on (to ``until``); it was off, or not seen, from ``start``.

    shift (3,): by how much, in the frame of its companions ``group`` of shape ``shape`` (M, 3); no group: there are none that
    tell by how much. wander_m: of its place.
    """

    marker: int
    start: int
    end: int
    until: int
    group: tuple[int, ...]
    shape: Floats
    shift: Floats
    wander_m: float


def find_moved(
    positions: Floats, surveyed: Survey, steps: list[Step], rate_hz: float, segment_of: Mapping[int, str]
) -> list[Moved]:
    """Markers of positions (F, N, 3) whose place among their companions changed for good at a gap or a step of their path."""
    there = present(positions)
    breaks: dict[int, list[tuple[int, int]]] = {}
    for gap in find_gaps(there):
        if gap.length >= _LEAST_GAP_S * rate_hz and gap.start > 0 and gap.end < there.shape[0]:
            breaks.setdefault(gap.marker, []).append((gap.start, gap.end))
    for step in steps:
        breaks.setdefault(step.marker, []).append((step.frame + 1, step.frame + 1))
    found = []
    for marker, places in breaks.items():
        found += _moved_at(positions, marker, sorted(places), rate_hz, segment_of, surveyed)
    return found


def put_back(positions: Floats, moved: Moved) -> Floats:
    """Samples (n, 3) of a moved marker from ``end`` to ``until``, put back to where it sat; NaN where companions do not tell."""
    part = slice(moved.end, moved.until)
    if not moved.group:
        return np.full((moved.until - moved.end, 3), np.nan)
    return np.asarray(positions[part, moved.marker] - _carrier(positions[part], moved.group, moved.shape).rotation @ moved.shift)


def _telling_breaks(
    apart: Floats, place: Floats, times: NDArray[np.int64], frames: int, breaks: list[tuple[int, int]], rate_hz: float
) -> tuple[list[tuple[int, int]], float]:
    """The breaks at which a marker moved, in order, and the most telling change: distances apart (K, C) or place (K, 3) change.

    The most telling break first, then each side of it by itself. times (K,): frames of the rows.
    """
    cuts: list[tuple[int, int]] = []
    telling = 0.0
    stretches = [(0, frames)]
    while stretches:
        begin, stop = stretches.pop()
        best: tuple[float, tuple[int, int]] | None = None
        for start, end in breaks:
            if not begin < start <= end < stop or (start, end) in cuts:
                continue
            before, after = (times >= begin) & (times < start), (times >= end) & (times < stop)
            told = _change(apart[before], apart[after], rate_hz)
            told = max(told, _change_of_place(place[before], place[after], rate_hz))
            if told > 1.0 and (best is None or told > best[0]):
                best = told, (start, end)
        if best is not None:
            telling = max(telling, best[0])
            cuts.append(best[1])
            stretches += [(begin, best[1][0]), (best[1][1], stop)]
    return sorted(cuts), telling


def _moved_at(
    positions: Floats, marker: int, breaks: list[tuple[int, int]], rate_hz: float, segment_of: Mapping[int, str], surveyed: Survey
) -> list[Moved]:
    """Moves of one marker at its breaks."""
    step = max(1, round(rate_hz / _PLACES_HZ))
    thin = positions[::step]
    times = np.arange(0, positions.shape[0], step)
    near = np.argsort(np.nan_to_num(surveyed.usual_m[marker], nan=np.inf))[:_NEAREST]
    apart = np.linalg.norm(thin[:, near] - thin[:, marker, None], axis=2)
    groups = list(_steady_groups(thin, marker, segment_of, surveyed))
    place = _carrier(thin, *groups[0]).local_point(thin[:, marker]) if groups else np.full((thin.shape[0], 3), np.nan)
    cuts, telling = _telling_breaks(apart, place, times, positions.shape[0], breaks, rate_hz / step)
    if not cuts:
        return []
    best_group: tuple[float, list[Moved]] | None = None
    bounds = [*cuts, (positions.shape[0], 0)]
    for group, shape in groups:
        local = _carrier(thin, group, shape).local_point(thin[:, marker])
        known = np.isfinite(local[:, 0])
        sides = [local[(times < cuts[0][0]) & known]]
        sides += [local[(times >= end) & (times < until) & known] for (_, end), (until, _) in pairwise(bounds)]
        if min(side.shape[0] for side in sides) == 0:
            continue
        middles = [np.median(side, axis=0) for side in sides]
        wander = [_wander(side, middle) for side, middle in zip(sides, middles, strict=True)]
        moves = [
            Moved(marker, start, end, until, group, shape, middle - middles[0], own)
            for ((start, end), (until, _)), middle, own in zip(pairwise(bounds), middles[1:], wander[1:], strict=True)
            if np.linalg.norm(middle - middles[0]) > max(_MOVED_M, _TIMES_PLACE * max(own, wander[0]))
        ]
        if best_group is None or max(wander) < _BETTER * best_group[0]:
            best_group = max(wander), moves
    if best_group is not None and best_group[1]:
        return best_group[1]
    if best_group is None or telling > _PLAIN:
        start, end = cuts[0]
        return [Moved(marker, start, end, positions.shape[0], (), np.empty((0, 3)), np.zeros(3), 0.0)]
    return []


def _change_of_place(before: Floats, after: Floats, rate_hz: float) -> float:
    """How tellingly the place (K, 3) among the companions differs before and after; 0 where a side is not known long enough."""
    known = [side[np.isfinite(side[:, 0])] for side in (before, after)]
    if min(side.shape[0] for side in known) < _LEAST_SIDE_S * rate_hz:
        return 0.0
    known = [side[:: max(1, side.shape[0] // _ENOUGH)] for side in known]
    middles = [np.median(side, axis=0) for side in known]
    wander = max(_wander(side, middle) for side, middle in zip(known, middles, strict=True))
    return float(np.linalg.norm(middles[1] - middles[0])) / max(2 * _MOVED_M, _TIMES_PLACE * wander)


def _wander(places: Floats, middle: Floats) -> float:
    """Within which distance of the middle 80 % of places (K, 3) lie."""
    return float(quantile(np.linalg.norm(places - middle, axis=1)[:, None], 0.8)[0])


def _carrier(points: Floats, group: tuple[int, ...], shape: Floats) -> Carrier:
    """The frame of a group in points (F, N, 3), only where all of it is there: a part of it may lie on one line."""
    members = points[:, group]
    return carry(np.where(np.isfinite(members).all(axis=(1, 2), keepdims=True), members, np.nan), shape)


def _change(before: Floats, after: Floats, rate_hz: float) -> float:
    """How tellingly distances (K, C) to companions differ before and after: beyond 1 two of them say that the marker moved."""
    sides = []
    for every in (before, after):
        # Medians need no more: a long take has as many gaps as it is long.
        side = every[:: max(1, every.shape[0] // _ENOUGH)]
        share = np.isfinite(side).sum(axis=0) / max(1, side.shape[0])
        known = share * every.shape[0] >= _LEAST_SIDE_S * rate_hz
        middle = quantile(side, 0.5)
        wander = quantile(np.abs(side - middle), 0.8)
        sides.append((np.where(known, middle, np.nan), wander))
    changed = np.abs(sides[1][0] - sides[0][0])
    telling = changed / np.maximum(_MOVED_M, _TIMES_WANDER * np.fmax(sides[0][1], sides[1][1]))
    telling = np.sort(np.nan_to_num(telling))
    return float(telling[-2]) if telling.size > 1 else 0.0


def _steady_groups(
    thin: Floats, marker: int, segment_of: Mapping[int, str], surveyed: Survey
) -> Iterator[tuple[tuple[int, ...], Floats]]:
    """Groups of three to five markers, with their shape, that keep their distances to each other and sit near the marker.

    First of its body part alone, then of it and the nearest others, then of the nearest whatever they are stuck to.
    """
    near = surveyed.usual_m[marker]
    order = sorted(np.flatnonzero(np.isfinite(near)).tolist(), key=lambda other: float(near[other]))
    own = [other for other in order if other in same_segment(marker, segment_of)]
    told: set[tuple[int, ...]] = set()
    for among in (own, [*own, *(other for other in order if other not in own)], order):
        group: list[int] = []
        for other in among:
            if other != marker and all(surveyed.spread_m[other, member] <= _GROUP_SPREAD_M for member in group):
                group.append(other)
            if len(group) == _GROUP:
                break
        for members in (tuple(sorted(group)), tuple(sorted(group[:3]))):
            if len(members) < 3 or members in told:
                continue
            told.add(members)
            shape = shape_of(thin[:, members])
            if shape is not None and is_wide(shape):
                yield members, shape
