"""Distances between markers that should hold, and where they are broken."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..medians import median_of_known
from ..take import Floats
from .rigidity import Survey, same_segment

Numbers = NDArray[np.int64]
#: A distance is broken beyond this, or beyond so many times the spread it usually has. Proposed default (catalogue 3.4).
BROKEN_M, _TIMES_SPREAD = 0.015, 3.0
#: One companion alone says nothing: it may be the one that is out of place.
LEAST_THAT_SAY = 2
#: Companions that a marker is checked against; one that wanders by more than this (80 % of the frames) says nothing.
_COMPANIONS, _MOST_SPREAD_M = 5, 0.040
#: Unsureness of a usual distance that is added to its spread, metres, when companions are chosen.
_UNSURE_M = 0.005
#: Broken distances are looked for at this rate, Hz; only where there are some is every frame looked at.
_LOOKED_AT_HZ = 60.0


class Distances:
    """Distances of every marker to its companions, held against the usual ones.

    step: frames between those that are looked at. broken_m (K, N): by how much, median over the companions, 0 without
    evidence. is_broken (K, N): two companions say so (catalogue 3.4), whatever those say that lie symmetrically.
    limit_m (N,): broken beyond it. groups: companions by marker.
    """

    def __init__(self, positions: Floats, surveyed: Survey, segment_of: Mapping[int, str], rate_hz: float) -> None:
        """positions (F, N, 3), NaN where missing."""
        self._surveyed = surveyed
        self.step = max(1, round(rate_hz / _LOOKED_AT_HZ))
        self.groups = [_companions_of(marker, surveyed, segment_of) for marker in range(positions.shape[1])]
        thin = positions[:: self.step]
        off = [self.off(thin, marker) for marker in range(positions.shape[1])]
        self.broken_m = np.stack([np.nan_to_num(median_of_known(one, 1, LEAST_THAT_SAY)) for one in off], axis=1)
        limits = [np.maximum(BROKEN_M, _TIMES_SPREAD * surveyed.spread_m[i, group]) for i, group in enumerate(self.groups)]
        self.is_broken = np.stack(
            [(np.nan_to_num(one) > limit).sum(axis=1) >= LEAST_THAT_SAY for one, limit in zip(off, limits, strict=True)], axis=1
        )
        self.limit_m = np.array([np.sort(limit)[1] if limit.size > 1 else np.inf for limit in limits])

    def off(self, positions: Floats, marker: int) -> Floats:
        """By how much a marker in positions (F, N, 3) breaks the distance to each of its companions (F, C)."""
        group = self.groups[marker]
        return _off(positions[:, marker], positions, group, self._surveyed.usual_m[marker, group])

    def of_pair(self, positions: Floats, first: int, second: int) -> tuple[Floats, Floats]:
        """What is broken (F,) with the labels as they are and exchanged; NaN without evidence."""
        frames = np.arange(positions.shape[0])
        return self.of_pairs(positions, np.array([[first, second]]), np.zeros_like(frames), frames)

    def of_pairs(self, positions: Floats, pairs: Numbers, pair: Numbers, frame: Numbers) -> tuple[Floats, Floats]:
        """What is broken (R,) with the labels of pairs (P, 2) as they are and exchanged; NaN without evidence.

        pair, frame: (R,), which of them is looked at in which frame of positions (F, N, 3).
        Held against the companions that tell the two apart: most of a symmetric body lies as far from the left as from the right.
        """
        given: list[Floats] = []
        exchanged: list[Floats] = []
        for marker, other in (pairs.T, pairs[:, ::-1].T):
            companions, usual = self._telling(marker, other)
            beside = positions[frame[:, None], companions[pair]]
            for broken, bearer in ((given, marker), (exchanged, other)):
                broken.append(median_of_known(_beyond(positions[frame, bearer[pair]], beside, usual[pair]), 1, LEAST_THAT_SAY))
        return _sum_of_known(given), _sum_of_known(exchanged)

    def _telling(self, marker: Numbers, other: Numbers) -> tuple[Numbers, Floats]:
        """Companions (P, C) that tell markers (P,) from others (P,), and their usual distances (P, C); NaN for none."""
        usual_m, spread_m = self._surveyed.usual_m, self._surveyed.spread_m[marker]
        telling = np.abs(usual_m[marker] - usual_m[other]) / (spread_m + _UNSURE_M)
        telling[(spread_m > _MOST_SPREAD_M) | ~np.isfinite(telling)] = 0.0
        rows = np.arange(marker.size)
        telling[rows, marker] = telling[rows, other] = 0.0
        companions = np.argsort(-telling, axis=1)[:, :_COMPANIONS]
        tells = np.take_along_axis(telling, companions, axis=1) > 1.0
        return companions, np.where(tells, usual_m[marker[:, None], companions], np.nan)

    def beyond_m(self, positions: Floats, marker: int) -> float:
        """How far a marker gets beyond its usual distance from the nearest of its companions, in positions (F, N, 3)."""
        group = self.groups[marker]
        apart = np.linalg.norm(positions[:, group] - positions[:, marker, None], axis=2) - self._surveyed.usual_m[marker, group]
        nearest = np.where(np.isfinite(apart), apart, np.inf).min(axis=1)
        return float(nearest[np.isfinite(nearest)].max(initial=0.0))


def _companions_of(marker: int, surveyed: Survey, segment_of: Mapping[int, str]) -> list[int]:
    """Markers that a marker is checked against: those of its body part first, then the steadiest."""
    own = surveyed.steadiest(marker, same_segment(marker, segment_of))
    others = surveyed.steadiest(marker, range(surveyed.usual_m.shape[0]))
    possible = dict.fromkeys([*own, *others])
    return [other for other in possible if surveyed.spread_m[marker, other] <= _MOST_SPREAD_M][:_COMPANIONS]


def _off(points: Floats, positions: Floats, companions: list[int], usual_m: Floats) -> Floats:
    """By how much points (F, 3) break their usual distances (C,) to companions in positions (F, N, 3); (F, C)."""
    return _beyond(points, positions[:, companions], usual_m)


def _beyond(points: Floats, companions: Floats, usual_m: Floats) -> Floats:
    """By how much points (F, 3) break their usual distances (C,) or (F, C) to companions (F, C, 3); (F, C)."""
    apart = companions - points[:, None]
    return np.asarray(np.abs(np.sqrt(np.einsum("fci,fci->fc", apart, apart)) - usual_m))


def _sum_of_known(parts: list[Floats]) -> Floats:
    stacked = np.stack(parts)
    known = np.isfinite(stacked)
    return np.asarray(np.where(known.any(axis=0), np.where(known, stacked, 0.0).sum(axis=0), np.nan))
