"""Hip joint centres by regression from pelvis landmarks; frame: origin mid-ASIS, x forward, y up, z right; metres."""

from __future__ import annotations

import numpy as np

from ..take import Floats


def harrington(
    pelvis_width_m: Floats | float, pelvis_depth_m: Floats | float, leg_length_m: Floats | float | None, side_sign: float
) -> Floats:
    """Hip centre (..., 3) of pelves (...,) by Harrington 2007: several predictors, or a single one without a leg length.

    Coefficients as confirmed in catalogue 1.3 (error against CT 12.3 ± 5.9 mm). side_sign: +1 right, -1 left.
    """
    width, depth = pelvis_width_m * 1000, pelvis_depth_m * 1000
    forward = -0.24 * depth - 9.9
    if leg_length_m is None:
        return np.stack([forward, -0.30 * width - 10.9, side_sign * (0.33 * width + 7.3)], axis=-1) / 1000
    up = -0.16 * width - 0.04 * leg_length_m * 1000 - 7.1
    return np.stack([forward, up, side_sign * (0.28 * depth + 0.16 * width + 7.9)], axis=-1) / 1000


def hara(leg_length_m: Floats | float, side_sign: float) -> Floats:
    """Hip centre (..., 3) of legs (...,) by Hara 2016, from leg length alone: for a pelvis whose depth is doubtful.

    Coefficients as confirmed in catalogue 1.3 (cross-validation 5.2, 4.4, 3.8 mm per axis). side_sign: +1 right, -1 left.
    """
    leg = leg_length_m * 1000
    return np.stack([11 - 0.063 * leg, -9 - 0.078 * leg, side_sign * (8 + 0.086 * leg)], axis=-1) / 1000


def davis(pelvis_width_m: float, leg_length_m: float, marker_radius_m: float, side_sign: float) -> Floats:
    """Hip centre (3,) by Davis 1991; kept to compare with (error against CT 25.0 ± 6.7 mm, not used by default).

    θ = 28.4°, β = 18°, C = 0.115 L − 0.0153 m; ASIS to trochanter depth 0.1288 L − 0.04856 m from memory (catalogue 1.3).
    """
    theta, beta = np.radians(28.4), np.radians(18.0)
    constant = 0.115 * leg_length_m - 0.0153
    depth = 0.1288 * leg_length_m - 0.04856
    forward = (-depth - marker_radius_m) * np.cos(beta) + constant * np.cos(theta) * np.sin(beta)
    up = (-depth - marker_radius_m) * np.sin(beta) - constant * np.cos(theta) * np.cos(beta)
    return np.array([forward, up, side_sign * (pelvis_width_m / 2 - constant * np.sin(theta))])
