"""Hip centres and knee axes from the movement, when it holds one that shows them (a leg lifted to the front and to the side)."""

from __future__ import annotations

import numpy as np

from ..take import CleanedTake, Floats
from .anatomy import SIDE_SUFFIXES
from .calibration import Calibration, Functional
from .functional import hinge_axis, joint_centre
from .geometry import relative
from .landmarks import Recognition
from .marker_model import pose_without_joints

#: So many poses a second are enough to learn from.
_RATE_HZ = 20.0
#: The leg has to swing this far in two planes. Source: catalogue 1.4 (30°, from memory there).
_LEAST_SWING_RAD = np.radians(30.0)
#: A centre that one direction leaves this much vaguer than the others is not used; nor one that pelvis and thigh see so far
#: apart, or that lies so far from where the regression puts it (Bell 1989: 95 % within 33 mm). Proposed defaults.
_WORST_CONDITION, _WORST_RESIDUAL_M, _FURTHEST_M = 15.0, 0.008, 0.033
#: A knee has to bend this far, and its axis to be this much clearer than any other direction. Proposed defaults.
_LEAST_BEND_RAD, _LEAST_CLEARNESS = np.radians(45.0), 20.0
#: Beyond this angle from the line between the epicondyles the axis is not believed. Source: catalogue 3.5 (10 mm of landmark
#: error over the knee's breadth turn its axis by 6.3°).
_FURTHEST_AXIS_RAD = np.radians(12.0)


def _range(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.diff(np.quantile(known, [0.02, 0.98]))[0]) if known.size else 0.0


def _hip(pelvis: tuple[Floats, Floats], thigh: tuple[Floats, Floats], usual: Floats) -> tuple[Floats, float] | None:
    """Hip centre in the pelvis and how far apart the two segments see it; None when this movement does not show it."""
    down = -relative(pelvis[0], thigh[0])[:, :, 1]
    x, y, z = down[:, 0], down[:, 1], down[:, 2]
    forward, outward = np.arctan2(x, -y), np.arctan2(z, np.hypot(x, y))
    if min(_range(forward), _range(outward)) < _LEAST_SWING_RAD:
        return None
    centre = joint_centre(*pelvis, *thigh)
    if not (centre.condition < _WORST_CONDITION and centre.residual_m < _WORST_RESIDUAL_M):
        return None
    return (centre.first, centre.residual_m) if np.linalg.norm(centre.first - usual) < _FURTHEST_M else None


def _knee(thigh: Floats, shank: Floats) -> Floats | None:
    """The knee's axis in the thigh, to the dancer's right; None when this movement does not show it."""
    between = relative(thigh, shank)
    cosine = between[:, 1, 1]
    bend = np.arccos(np.clip(cosine, -1.0, 1.0))
    if _range(bend) < _LEAST_BEND_RAD:
        return None
    axis = hinge_axis(thigh, shank)
    to_right: Floats = axis.first * np.sign(axis.first[2])
    return to_right if axis.clearness > _LEAST_CLEARNESS and to_right[2] > np.cos(_FURTHEST_AXIS_RAD) else None


def learn_joints(cleaned: CleanedTake, recognition: Recognition, calibration: Calibration, *, knees: bool) -> Functional:
    """What a take tells of hips and knees beyond a standing body; empty when it holds no movement that shows them.

    Poses come from each segment's own markers alone, so that no joint centre is believed beforehand. knees: whether to learn
    their axes too, which asks for a calibration take: in a dance the skin of a loaded, turned-out leg hides the hinge. Source:
    Ehrig 2006 and 2007; when to use them: catalogue 1.4.
    """
    every = max(1, round(cleaned.take.rate_hz / _RATE_HZ))
    pelvis = pose_without_joints(cleaned, recognition, calibration, "pelvis", every)
    hips, axes, residuals = {}, {}, {}
    for suffix in SIDE_SUFFIXES:
        thigh, shank = (
            pose_without_joints(cleaned, recognition, calibration, part + suffix, every) for part in ("thigh", "shank")
        )
        together = np.isfinite(pelvis[1][:, 0]) & np.isfinite(thigh[1][:, 0])
        if together.sum() >= 3:
            found = _hip(pelvis, thigh, calibration.joints["pelvis"]["hip" + suffix])
            if found is not None:
                hips[suffix], residuals[suffix] = found
        if knees and (np.isfinite(thigh[1][:, 0]) & np.isfinite(shank[1][:, 0])).sum() >= 3:
            axis = _knee(thigh[0], shank[0])
            if axis is not None:
                axes[suffix] = axis
    return Functional(hips, axes, residuals)
