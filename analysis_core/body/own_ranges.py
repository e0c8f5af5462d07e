"""How deep, how high and how far stretched a dancer has shown to be able to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .anatomy import SIDE_SUFFIXES
from .movement import ANGLES

#: A grand plié bends the knees beyond the first, a bend begins beyond the second, rad. Proposed defaults.
GRAND_PLIE_RAD, _BENT_RAD = np.radians(100.0), np.radians(20.0)
#: Heel and ball count as down within these heights when the dancer's own greatest plié and relevé are looked for.
_HEEL_DOWN_M = 0.010
_BALL_DOWN_M = 0.020
#: A heel that moves less than this over so long is held where it is. Proposed defaults; a relevé's plateau moves by less than
#: 20 mm/s (catalogue 6.4), a push into a jump by a metre a second.
_HELD_M_S, _RATE_S = 0.10, 0.05


@dataclass(frozen=True)
class OwnRanges:
    """Greatest plié with the heel down, relevé with the ball down, and pointed foot, each (2,) left, right.

    NaN where the take does not show one.
    """

    demi_plie_rad: Floats
    releve_m: Floats
    pointed_rad: Floats


def own_ranges(angles: Floats, heights: Floats, rate_hz: float) -> OwnRanges:
    """The dancer's own ranges in a take.

    angles (F, A) in radians, heights (F, 2, 4) in metres as in Movement; NaN where the take shows no such range. A heel that
    passes a height on its way into a jump is no relevé: it counts where it hardly moves.
    """
    plie, releve, pointed = np.full(2, np.nan), np.full(2, np.nan), np.full(2, np.nan)
    ball = np.fmin(heights[:, :, 1], heights[:, :, 2])
    for foot, suffix in enumerate(SIDE_SUFFIXES):
        bend = angles[:, ANGLES.index("knee_flexion" + suffix)]
        point = angles[:, ANGLES.index("plantarflexion" + suffix)]
        heel = heights[:, foot, 0]
        down = (heel < _HEEL_DOWN_M) & np.isfinite(bend)
        down &= ~_in_grand_plie(bend, down)
        if down.any():
            plie[foot] = np.quantile(bend[down], 0.99)
        loaded = (ball[:, foot] < _BALL_DOWN_M) & np.isfinite(heel) & (np.abs(_rate(heel, rate_hz)) < _HELD_M_S)
        if loaded.any():
            releve[foot] = np.quantile(heel[loaded], 0.99)
        if np.isfinite(point).any():
            pointed[foot] = np.nanquantile(point, 0.99)
    # A dancer who never bent, rose or pointed in this take has shown no range of her own.
    plie[plie < np.radians(20.0)] = np.nan
    releve[releve < 0.03] = np.nan
    pointed[pointed < np.radians(30.0)] = np.nan
    return OwnRanges(plie, releve, pointed)


def _rate(curve: Floats, rate_hz: float) -> Floats:
    """Change (F,) of a curve (F,) in a second, over _RATE_S; NaN beside what is missing."""
    half = max(1, round(0.5 * _RATE_S * rate_hz))
    padded = np.pad(curve, half, mode="edge")
    return np.asarray((padded[2 * half :] - padded[: -2 * half]) * rate_hz / (2 * half))


def _in_grand_plie(bend: Floats, down: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Frames (F,) of bends that go deeper than a demi-plié with the heel down: grand pliés in second, which show no demi-plié."""
    bent = np.concatenate([[False], np.nan_to_num(bend) > _BENT_RAD, [False]])
    edges = np.flatnonzero(np.diff(bent.astype(np.int8)))
    within = np.zeros(bend.size, dtype=bool)
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        within[start:stop] = bool((down[start:stop] & (bend[start:stop] > GRAND_PLIE_RAD)).any())
    return within
