"""The only converter: everything inside is metres, seconds, radians, Z up; degrees and millimetres at the edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Standard gravity as used in the catalogue's worked values, m/s².
GRAVITY = 9.81

#: Metres in one unit, by the unit's name in lower case.
METRES_PER_UNIT = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254}

#: Rotations that turn a laboratory with the named axis up into Z up; proper rotations only, so that left stays left.
_TO_Z_UP = {
    "z": np.eye(3),
    "y": np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]),
    "x": np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]),
    "-z": np.diag([1.0, -1.0, -1.0]),
    "-y": np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]),
    "-x": np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]]),
}

UP_AXES = tuple(_TO_Z_UP)


def to_z_up(up_axis: str) -> NDArray[np.float64]:
    """Rotation matrix (3, 3) that brings vectors of a laboratory with ``up_axis`` up into Z up.

    Raises KeyError for a name that is not in UP_AXES.
    """
    return _TO_Z_UP[up_axis].copy()


def degrees(radians: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """Radians to degrees; NaN stays NaN."""
    return np.degrees(np.asarray(radians, dtype=np.float64))


def millimetres(metres: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """Metres to millimetres; NaN stays NaN."""
    return np.asarray(metres, dtype=np.float64) * 1000.0
