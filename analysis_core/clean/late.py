"""Markers that come later, or earlier, than the rest of the body: told by distances on one bone, which hold once it is in time.

A marker that comes 50 ms late is half a hand behind on a leg that swings: all its distances to the others of its bone go up and
down, and all hold at one and the same lag. A limb that is late as a whole is told by the distances across the joint it hangs on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS, HELD_ACROSS, LEG_SEGMENTS, SIDE_SUFFIXES
from ..known import nothing_known_gives_nan
from ..take import Floats

Numbers = NDArray[np.int64]
#: Body parts that may be late together, each from the joint that it hangs on to the end of the limb.
_LIMBS = (*(LEG_SEGMENTS[start:] for start in (1, 2)), *(ARM_SEGMENTS[start:] for start in (0, 1)))
#: Frames that are looked at, evenly spread: at first, and where something is suspected.
_GLANCED_AT, _LOOKED_AT = 80, 200
#: Lags that are looked at, seconds, first in such steps, then in finer ones around the best. What comes later than the longest is
#: no marker of this dance. Proposed defaults.
_LONGEST_S, _STEP_S, _FINE_S = 0.105, 0.015, 0.0025
#: Which markers are looked at: two of their distances go up and down by so much less when one end is taken so much later
#: (seconds). Proposed defaults.
_GLANCE_S, _GLANCE = 0.020, 0.9
#: Two distances of a marker must go up and down by more than this (1 SD, metres): a lag that does less does no harm.
_WANDER_M = 0.005
#: Late is what lets two distances go up and down by no more than this share of it once it is in time (in 17 real and 25 simulated
#: takes at least 0.84; with a marker 50 ms late 0.2 in the middle), none by more than that, and comes so much late at least.
#: Proposed defaults.
_LEFT, _WORSE, _LATE_S = 0.65, 1.2, 0.018
#: Less of a take tells nothing, seconds, nor fewer samples of a distance.
_LEAST_S, _LEAST_KNOWN = 1.0, 20


@dataclass(frozen=True)
class Late:
    """Markers that come ``lag_s`` later than the rest of the body; earlier when it is negative."""

    markers: tuple[int, ...]
    lag_s: float


class _Paths:
    """Places of markers in the frames that are looked at, as recorded and at other times."""

    def __init__(self, positions: Floats, rate_hz: float, frames: int) -> None:
        self._positions, self._rate_hz = positions, rate_hz
        around = int(np.ceil(_LONGEST_S * rate_hz)) + 1
        self._frames = np.unique(np.linspace(around, len(positions) - 1 - around, frames).astype(np.int64))

    def wander(self, own: Numbers, other: Numbers, lags_s: Floats) -> Floats:
        """How far (1 SD) distances (T, E) of pairs go up and down when the first (E,) of each is taken later by lags (T,)."""
        markers, place = np.unique(own, return_inverse=True)
        still = self._positions[self._frames][:, other]
        result = np.empty((lags_s.size, own.size))
        for row, lag in enumerate(lags_s.tolist()):
            at = self._frames + lag * self._rate_hz
            first = np.floor(at).astype(np.int64)
            before, after = (self._positions[first + step][:, markers] for step in (0, 1))
            between = (before + (at - first)[:, None, None] * (after - before))[:, place] - still
            apart = np.sqrt(np.einsum("kei,kei->ke", between, between))
            result[row] = _spread(apart)
        return result


def _spread(values: Floats) -> Floats:
    """Standard deviation (E,) of values (K, E), missing ones left out; NaN where there are too few."""
    known = np.isfinite(values)
    if known.all():
        return np.asarray(values.std(axis=0))
    count = known.sum(axis=0)
    enough = np.where(count >= _LEAST_KNOWN, count, np.nan)
    from_middle = np.where(known, values - np.where(known, values, 0.0).sum(axis=0) / enough, 0.0)
    return np.asarray(np.sqrt((from_middle**2).sum(axis=0) / enough))


def find_late(positions: Floats, rate_hz: float, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> list[Late]:
    """Markers of positions (F, N, 3), labels put right and strays taken out, that come later or earlier than the rest.

    Missing samples are passed over. landmark_of, segment_of: by marker index; nothing is told of markers that bear no name.
    """
    if len(positions) < max(_LEAST_S, 4 * _LONGEST_S) * rate_hz:
        return []
    paths, held = _Paths(positions, rate_hz, _LOOKED_AT), _held(positions.shape[1], landmark_of, segment_of)
    found: list[Late] = []
    with np.errstate(invalid="ignore"), nothing_known_gives_nan():
        suspected = _suspected(_Paths(positions, rate_hz, _GLANCED_AT), held)
        for group in (*([marker] for marker in landmark_of), *_limbs(segment_of)):
            # What is told of late ones is no evidence against others.
            known = [marker for late in found for marker in late.markers]
            if max((suspected[group] == way).sum() for way in (-1, 1)) < 2:
                continue
            outside = np.setdiff1d(np.arange(len(held)), [*group, *known])
            across = np.ix_(np.asarray(group, dtype=np.int64), outside)
            if not set(group) & set(known) and max((suspected[across] == way).sum() for way in (-1, 1)) > 1:
                own, other = np.nonzero(held[across])
                late = _judged(paths, np.asarray(group, dtype=np.int64)[own], outside[other], group)
                found += [late] if late is not None else []
    return found


def _suspected(paths: _Paths, held: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Pairs (N, N) that hold their distance better when the first is taken later (1), or earlier (−1); else 0."""
    first, second = np.nonzero(np.triu(held))
    earlier, now, later = (paths.wander(first, second, np.array([lag]))[0] for lag in (-_GLANCE_S, 0.0, _GLANCE_S))
    told = np.where(later < earlier, 1, -1) * ((np.fmin(earlier, later) < _GLANCE * now) & (now > _WANDER_M))
    result = np.zeros(held.shape, dtype=np.int64)
    result[first, second], result[second, first] = told, -told
    return result


def in_time(positions: Floats, late: Sequence[Late], rate_hz: float) -> Floats:
    """Positions (F, N, 3) with late markers put in time, between frames along a curve through four of them.

    NaN where the recording ends too soon, or begins too late.
    """
    result = positions.copy() if late else positions
    for one in late:
        at = np.arange(len(positions)) + one.lag_s * rate_hz
        first = np.floor(at).astype(np.int64)
        share = float(at[0] - first[0])
        weights = (
            -share * (1 - share) * (2 - share) / 6,
            (1 - share**2) * (2 - share) / 2,
            share * (1 + share) * (2 - share) / 2,
            -share * (1 - share**2) / 6,
        )
        some = list(one.markers)
        known = np.pad(positions[:, some], ((1, 2), (0, 0), (0, 0)), constant_values=np.nan)
        shifted = np.sum([w * known[np.clip(first + k, 0, len(known) - 1)] for k, w in enumerate(weights)], axis=0)
        inside = (first >= 0) & (first < len(positions))
        result[:, some] = np.where(inside[:, None, None], shifted, np.nan)
    return result


def _held(markers: int, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> NDArray[np.bool_]:
    """Which markers (N, N) hold their distance to which: of one body part, and across a joint its own landmarks."""
    held = np.zeros((markers, markers), dtype=np.bool_)
    parts: dict[str, list[int]] = {}
    for index, part in segment_of.items():
        parts.setdefault(part, []).append(index)
    index_of = {name: index for index, name in landmark_of.items()}
    for members in parts.values():
        held[np.ix_(members, members)] = True
    for side in SIDE_SUFFIXES:
        for part, landmarks in HELD_ACROSS.items():
            joint = [index_of[name] for stem in landmarks for name in (stem + side, stem) if name in index_of]
            held[np.ix_(joint, parts.get(part + side, []))] = True
    held |= held.T
    np.fill_diagonal(held, val=False)
    return held


def _limbs(segment_of: Mapping[int, str]) -> Iterator[list[int]]:
    """Markers of what may be late together, more than one each."""
    for parts in _LIMBS:
        for side in SIDE_SUFFIXES:
            group = [index for index, segment in segment_of.items() if segment in {part + side for part in parts}]
            if len(group) > 1:
                yield group


def _judged(paths: _Paths, own: Numbers, other: Numbers, group: Sequence[int]) -> Late | None:
    """Whether a group is late, by pairs (E,) of one of its markers with one that it should keep its distance to."""
    if own.size < 2:
        return None
    before = paths.wander(own, other, np.zeros(1))[0]
    told = np.isfinite(before)
    if told.sum() < 2 or np.sort(before[told])[-2] < _WANDER_M:
        return None
    own, other, before = own[told], other[told], before[told]
    lag = 0.0
    for around, step in ((_LONGEST_S - _STEP_S, _STEP_S), (_STEP_S, _FINE_S)):
        tried = np.clip(lag + np.arange(-around, around + 0.5 * step, step), -_LONGEST_S, _LONGEST_S)
        left = paths.wander(own, other, tried) / before
        second = np.sort(left, axis=1)[:, 1]
        best = int(np.nan_to_num(second, nan=np.inf).argmin())
        lag = float(tried[best])
        if abs(lag) < _LATE_S - step or second[best] > (_LEFT + 1) / 2:
            return None
    if second[best] > _LEFT or np.nanmax(left[best]) > _WORSE or not 0 < best < tried.size - 1:
        return None
    # Variances are parabolas in the lag; the sum of those that tell it has its bottom there.
    low, mid, high = (left[best - 1 : best + 2, left[best] <= _LEFT] ** 2).sum(axis=1)
    lag += 0.5 * _FINE_S * (low - high) / (low - 2 * mid + high)
    return Late(tuple(group), lag) if abs(lag) > _LATE_S else None
