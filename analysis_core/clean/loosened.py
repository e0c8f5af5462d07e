"""Markers that came off: lost until the end, or astray from the body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..medians import median_of_known
from ..runs import runs
from ..take import Floats
from .distances import LEAST_THAT_SAY, Distances
from .gaps import find_gaps, present
from .rigidity import Survey
from .tears import Tears

#: A marker that is missing to the end of the take for so long, while markers beside it are there, has come off. Proposed default.
_LOST_S, _COMPANIONS_THERE = 0.5, 0.5
#: Further than this, and than so many times the usual spread, from where its companions say: no longer on the body. Nothing
#: that skin does comes near (at most 54 mm, catalogue 3.5). Proposed defaults.
_ASTRAY_M, _TIMES_LIMIT = 0.10, 1.5
#: Enough for a stretch whose path is torn, or out of sight, at both its ends.
_TORN_AWAY_M = 0.04
_LEAST_ASTRAY_S = 0.05
#: Further beyond its usual distance from every companion than this, no bend of the body explains it.
_OUT_OF_REACH_M = 0.25
#: A marker that left the body is taken out from where it left its usual distance.
_LEFT_M, _CALM_M, _ON_ITS_WAY_S = 0.020, 0.006, 0.15
#: Markers beside a lost one that have to be there.
_BESIDE = 5


@dataclass(frozen=True)
class Lost:
    """A marker that is not on the body in frames start … end − 1; for_good: it never comes back."""

    marker: int
    start: int
    end: int
    for_good: bool


def find_astray(positions: Floats, distances: Distances, tears: Tears, rate_hz: float) -> list[Lost]:
    """Stretches in which a marker in positions (F, N, 3) is seen but not on the body: fallen off, or a long ghost.

    A stretch counts when the marker came there, or left, by a torn path or out of sight; or when it is further from all its
    companions than any limb reaches.
    """
    least = max(2, round(_LEAST_ASTRAY_S * rate_hz))
    usual = np.maximum(_TORN_AWAY_M, _TIMES_LIMIT * distances.limit_m)
    far_off = distances.broken_m > usual
    found = []
    for marker in np.flatnonzero(far_off.sum(axis=0) * distances.step >= least).tolist():
        there = np.isfinite(positions[:, marker, 0])
        apart = distances.off(positions, marker)
        off, away = np.nan_to_num(median_of_known(apart, 1, LEAST_THAT_SAY)), np.sort(np.nan_to_num(apart), axis=1)[:, -2]
        torn = np.nan_to_num(tears.size_m[:, marker]) > tears.limit_m[marker]
        for start, end in runs((off > _LEFT_M) & there):
            inside = slice(start, end)
            # Where companions are off for longer it is they that went astray, not this marker.
            seen = far_off[start // distances.step : -(-end // distances.step)]
            blamed = seen[:, distances.groups[marker]].sum(axis=0) > seen[:, marker].sum()
            if (off[inside] > usual[marker]).sum() < least or blamed.any():
                continue
            came, left = (_is_broken_off(there, torn, edge) for edge in (start, end))
            far = (off[inside] > _ASTRAY_M).sum() >= least
            if not ((came and left) or (far and (came or left))) and (
                distances.beyond_m(positions[inside], marker) <= _OUT_OF_REACH_M
            ):
                continue
            if not came:
                # One that came off in sight was on its way before it was clearly off.
                calm = max(_CALM_M, 2 * float(np.median(away[there])))
                earliest = max(0, start - round(_ON_ITS_WAY_S * rate_hz))
                calm_frames = np.flatnonzero(~there[earliest:start] | (away[earliest:start] <= calm))
                start = earliest + int(calm_frames[-1]) + 1 if calm_frames.size else earliest
            found.append(Lost(marker, start, end, for_good=not there[end:].any()))
    return found


def _is_broken_off(there: NDArray[np.bool_], torn: NDArray[np.bool_], edge: int) -> bool:
    """Whether a path is torn or missing within two frames of an edge between frames; the take's own ends are no evidence."""
    if edge in (0, there.size):
        return False
    return bool(torn[max(0, edge - 3) : edge + 2].any() or not there[max(0, edge - 2) : edge + 2].all())


def find_lost(positions: Floats, surveyed: Survey, rate_hz: float) -> list[Lost]:
    """Markers of positions (F, N, 3) that are missing to the end while the markers beside them are there."""
    there = present(positions)
    frames = positions.shape[0]
    found = []
    for gap in find_gaps(there):
        if gap.end < frames or gap.start == 0 or gap.length < _LOST_S * rate_hz:
            continue
        beside = surveyed.steadiest(gap.marker, range(there.shape[1]))[:_BESIDE]
        if beside and there[gap.start :, beside].mean() >= _COMPANIONS_THERE:
            found.append(Lost(gap.marker, gap.start, frames, for_good=True))
    return found
