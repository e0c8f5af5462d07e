"""Where a marker's path is torn: steps that no dancer and no marker makes between two frames."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import LEG_SEGMENTS
from ..take import Floats
from .rigidity import quantile

#: Least tear that counts, metres, and how many times a marker's usual roughness. Proposed defaults (catalogue 3.4).
LEAST_TEAR_M, _TIMES_USUAL = 0.005, 8.0
#: Accelerations of a marker on a dancer stay below this from one frame to the next, m/s²; legs that land take more. Proposed
#: default (catalogue 3.4, which says it of the foot; the knee gives way as suddenly); a part that is not known may be a leg.
_MOST_ACCELERATION, _MOST_ACCELERATION_OF_LEGS = 150.0, 300.0
#: So many markers, and this share of them, torn at one moment are a cut in the recording and no mishaps. Proposed default.
_LEAST_OF_A_CUT, _SHARE_OF_A_CUT = 8, 0.3
#: Frames that are worked on at once.
_PIECE = 2000
_LEGS = (*LEG_SEGMENTS, "")


@dataclass(frozen=True)
class Tears:
    """How far each path is torn between neighbouring frames.

    size_m (F − 1, N): distance, in the middle between frame k and k + 1, between the path carried on from behind and the
    path carried back from ahead; NaN where one of the four samples is missing. limit_m (N,): beyond it no movement is meant.
    """

    size_m: Floats
    limit_m: Floats

    def torn(self) -> NDArray[np.bool_]:
        """Where (F − 1, N) the limit is passed, but for where much of the body is torn at once: there the recording was cut."""
        torn = np.nan_to_num(self.size_m) > self.limit_m
        cut = torn.sum(axis=1) > max(_LEAST_OF_A_CUT, _SHARE_OF_A_CUT * torn.shape[1])
        # A tear shows in the places beside it as well.
        near = cut.copy()
        near[1:] |= cut[:-1]
        near[:-1] |= cut[1:]
        return np.asarray(torn & ~near[:, None])


def carried_apart(before: Floats, behind: Floats, ahead: Floats, after: Floats) -> Floats:
    """Tear (…,) between samples ``behind`` and ``ahead``, each (…, 3), of which ``before`` and ``after`` are the neighbours.

    Equal speed-ups on both sides cancel, so that only jerk and noise are left (2.2 times the noise of one sample).
    """
    apart = 1.5 * (ahead - behind) - 0.5 * (after - before)
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", apart, apart)))


def find_tears(positions: Floats, rate_hz: float, segment_of: Mapping[int, str]) -> Tears:
    """Tears of every path in positions (F, N, 3). segment_of: body part by marker, may be empty."""
    frames, markers = positions.shape[:2]
    size = np.full((max(frames - 1, 0), markers), np.nan)
    if frames >= 4:
        # In pieces that stay near the processor: whole takes of many minutes would be fetched from memory again and again.
        for start in range(0, frames - 3, _PIECE):
            part = positions[start : start + _PIECE + 3]
            size[start + 1 : start + part.shape[0] - 2] = carried_apart(part[:-3], part[1:-2], part[2:-1], part[3:])
    parts = [segment_of.get(marker, "").partition(".")[0] for marker in range(markers)]
    most = np.array([_MOST_ACCELERATION_OF_LEGS if part in _LEGS else _MOST_ACCELERATION for part in parts])
    usual = np.nan_to_num(quantile(size, 0.5)) if frames >= 4 else np.zeros(markers)
    return Tears(size, np.maximum(np.maximum(LEAST_TEAR_M, _TIMES_USUAL * usual), most / rate_hz**2))
