"""Distances between markers that should hold, and where they are broken."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..take import Floats
from .rigidity import Survey, same_segment

#: A distance is broken beyond this, or beyond so many times the spread it usually has. Proposed default (catalogue 3.4).
BROKEN_M, _TIMES_SPREAD = 0.015, 3.0
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
        self.broken_m = np.stack([np.nan_to_num(median_of_rows(one)) for one in off], axis=1)
        limits = [np.maximum(BROKEN_M, _TIMES_SPREAD * surveyed.spread_m[i, group]) for i, group in enumerate(self.groups)]
        self.is_broken = np.stack(
            [(np.nan_to_num(one) > limit).sum(axis=1) >= 2 for one, limit in zip(off, limits, strict=True)], axis=1
        )
        self.limit_m = np.array([np.sort(limit)[1] if limit.size > 1 else np.inf for limit in limits])

    def off(self, positions: Floats, marker: int) -> Floats:
        """By how much a marker in positions (F, N, 3) breaks the distance to each of its companions (F, C)."""
        group = self.groups[marker]
        return _off(positions[:, marker], positions, group, self._surveyed.usual_m[marker, group])

    def of_pair(self, positions: Floats, first: int, second: int) -> tuple[Floats, Floats]:
        """What is broken (F,) with the labels as they are and exchanged; NaN without evidence.

        Held against the companions that tell the two apart: most of a symmetric body lies as far from the left as from the right.
        """
        told: list[Floats] = []
        usual_m, spread_m = self._surveyed.usual_m, self._surveyed.spread_m
        for marker, other in ((first, second), (second, first)):
            telling = np.abs(usual_m[marker] - usual_m[other]) / (spread_m[marker] + _UNSURE_M)
            telling[(spread_m[marker] > _MOST_SPREAD_M) | ~np.isfinite(telling)] = 0.0
            telling[[marker, other]] = 0.0
            group = [i for i in np.argsort(-telling)[:_COMPANIONS].tolist() if telling[i] > 1.0]
            # As they are, and exchanged, in one array.
            off = [_off(positions[:, one], positions, group, usual_m[marker, group]) for one in (marker, other)]
            told.append(median_of_rows(np.concatenate(off)))
        given, exchanged = np.split(_sum_of_known(told), 2)
        return given, exchanged

    def beyond_m(self, positions: Floats, marker: int) -> float:
        """How far a marker gets beyond its usual distance from the nearest of its companions, in positions (F, N, 3)."""
        group = self.groups[marker]
        apart = np.linalg.norm(positions[:, group] - positions[:, marker, None], axis=2) - self._surveyed.usual_m[marker, group]
        nearest = np.where(np.isfinite(apart), apart, np.inf).min(axis=1)
        return float(nearest[np.isfinite(nearest)].max(initial=0.0))


def median_of_rows(values: Floats) -> Floats:
    """Median (F,) of each row of values (F, C), NaN left out; NaN with fewer than two."""
    if values.shape[1] < 2:
        return np.full(values.shape[0], np.nan)
    ordered = np.sort(values, axis=1)
    count = np.isfinite(ordered).sum(axis=1)
    if count.size and count.min() == values.shape[1]:
        return np.asarray(0.5 * (ordered[:, (values.shape[1] - 1) // 2] + ordered[:, values.shape[1] // 2]))
    rows = np.arange(values.shape[0])
    middle = 0.5 * (ordered[rows, np.maximum(count - 1, 0) // 2] + ordered[rows, np.minimum(count // 2, values.shape[1] - 1)])
    return np.asarray(np.where(count >= 2, middle, np.nan))


def _companions_of(marker: int, surveyed: Survey, segment_of: Mapping[int, str]) -> list[int]:
    """Markers that a marker is checked against: those of its body part first, then the steadiest."""
    own = surveyed.steadiest(marker, same_segment(marker, segment_of))
    others = surveyed.steadiest(marker, range(surveyed.usual_m.shape[0]))
    possible = dict.fromkeys([*own, *others])
    return [other for other in possible if surveyed.spread_m[marker, other] <= _MOST_SPREAD_M][:_COMPANIONS]


def _off(points: Floats, positions: Floats, companions: list[int], usual_m: Floats) -> Floats:
    """By how much points (F, 3) break their usual distances (C,) to companions in positions (F, N, 3); (F, C)."""
    apart = positions[:, companions] - points[:, None]
    return np.asarray(np.abs(np.sqrt(np.einsum("fci,fci->fc", apart, apart)) - usual_m))


def _sum_of_known(parts: list[Floats]) -> Floats:
    stacked = np.stack(parts)
    known = np.isfinite(stacked)
    return np.asarray(np.where(known.any(axis=0), np.where(known, stacked, 0.0).sum(axis=0), np.nan))
