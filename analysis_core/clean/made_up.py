"""Samples that no camera has seen: what whoever made the file filled in by straight lines, or held at the last place.

A marker on a body wavers from frame to frame, by its noise and by the body's own movement. One that stands exactly still, or goes
along an exactly straight line at one speed, while the others go on as usual, was not seen there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..known import nothing_known_gives_nan
from ..runs import runs
from ..take import Floats, Take
from ..wording import capture as say
from .rigidity import quantile

#: A path is straight while it bends from frame to frame by no more than this, metres, or than the step places are rounded to; for
#: so long, and in so many frames. Proposed defaults.
_STRAIGHT_M, _LEAST_S, _LEAST_FRAMES = 2e-6, 0.08, 6
#: A line must go by so many times what it may bend in a frame, or last so long: what goes slower is a foot that stands. A longer
#: one is told of a marker that bends by so many times that three quarters of the time, also where it rests; or when the place is
#: the same to the last digit. Proposed defaults.
_GOES, _LONG_S, _TIMES_QUIET = 10.0, 0.25, 4.0
#: It is told of markers that usually bend by so many times that, while the middle one of the others does, and by so much, metres:
#: who stands still may be recorded so.
_TIMES_USUAL, _USUAL_M = 5.0, 2e-4
#: So many coordinates tell to what places are rounded, and which of their steps does.
_MOST_COORDINATES, _STEP = 20_000, 0.05


def find_made_up(positions: Floats, rate_hz: float) -> NDArray[np.bool_]:
    """Which samples of positions (F, N, 3) lie on straight lines between two that were seen; those two are not among them."""
    result = np.zeros(positions.shape[:2], dtype=np.bool_)
    if len(positions) < 2 * _LEAST_FRAMES:
        return result
    bends = np.abs(np.diff(positions, 2, axis=0)).max(axis=2)
    straight_m = max(_STRAIGHT_M, 1.01 * _rounded_to_m(positions))
    least_m = max(_USUAL_M, _TIMES_USUAL * straight_m)
    with nothing_known_gives_nan():
        usual, others = np.nanmedian(bends, axis=0), np.nanmedian(bends, axis=1)
    goes = np.abs(np.diff(positions, axis=0)).max(axis=2)
    quiet = np.nan_to_num(quantile(bends, 0.25))
    least, long = (max(_LEAST_FRAMES, round(seconds * rate_hz)) for seconds in (_LEAST_S, _LONG_S))
    for marker in np.flatnonzero(usual > least_m).tolist():
        for start, end in runs(bends[:, marker] <= straight_m):
            steps = goes[start : end + 1, marker]
            line = end - start >= least and np.median(steps) >= _GOES * straight_m
            same = end - start >= long and (quiet[marker] > _TIMES_QUIET * straight_m or steps.max() == 0.0)
            if (line or same) and np.median(others[start:end]) > least_m:
                # A bend is that of the middle one of three samples.
                result[start + 1 : end + 1, marker] = True
    return result


def _rounded_to_m(positions: Floats) -> float:
    """The step between neighbouring values of the coordinates, metres: that of integers, or next to nothing."""
    known = positions[np.isfinite(positions)]
    steps = np.diff(np.unique(known[:: max(1, known.size // _MOST_COORDINATES)]))
    return float(np.quantile(steps, _STEP)) if steps.size else 0.0


def without_made_up(take: Take) -> Take:
    """The take without samples that were filled in before: they count as missing, and a warning says so."""
    if take.kind == "skeleton":
        return take
    made_up = find_made_up(take.positions_m, take.rate_hz)
    if not made_up.any():
        return take
    markers = [label for label, some in zip(take.labels, made_up.any(axis=0), strict=True) if some]
    warning = say.made_up(markers, float(made_up.sum() / take.rate_hz))
    return replace(take, positions_m=np.where(made_up[..., None], np.nan, take.positions_m), warnings=(*take.warnings, warning))
