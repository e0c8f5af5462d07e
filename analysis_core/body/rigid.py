"""Pose of a rigid group of points, for all frames at once."""

from __future__ import annotations

import numpy as np

from ..take import Floats


def fit_rigid(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """Rotation (F, 3, 3), translation (F, 3) and residual (F,) that carry ``reference`` (M, 3) onto ``measured`` (F, M, 3).

    Weighted least squares with a guard against mirror images; weights (M,). Missing points (NaN) are left out frame by frame;
    frames with fewer than three points are NaN throughout. The residual is the weighted root mean square distance in the unit
    of the points. Source: Söderkvist and Wedin 1993; Arun and others 1987 (singular value decomposition).
    """
    points = measured.shape[1]
    there = np.isfinite(measured).all(axis=2)
    weight = there * (np.ones(points) if weights is None else np.asarray(weights, dtype=np.float64))
    enough = there.sum(axis=1) >= 3
    total = np.where(enough, weight.sum(axis=1), 1.0)
    known = np.where(there[:, :, None], measured, 0.0)
    centre_reference = weight @ reference / total[:, None]
    centre_measured = np.einsum("fm,fmi->fi", weight, known) / total[:, None]
    # Σ w (b - b̄)(a - ā)ᵀ = Σ w b aᵀ - W b̄ āᵀ, in one product for all frames.
    moment = np.einsum("fmi,mj->fij", weight[:, :, None] * known, reference)
    moment -= total[:, None, None] * centre_measured[:, :, None] * centre_reference[:, None, :]
    moment[~enough] = np.eye(3)
    left, _, right = np.linalg.svd(moment)
    left[:, :, 2] *= np.sign(np.linalg.det(left @ right))[:, None]
    rotation = left @ right
    translation = centre_measured - np.einsum("fij,fj->fi", rotation, centre_reference)
    fitted = np.einsum("fij,mj->fmi", rotation, reference) + translation[:, None]
    squared = (weight * np.where(there, ((fitted - known) ** 2).sum(axis=2), 0.0)).sum(axis=1) / total
    rotation[~enough], translation[~enough] = np.nan, np.nan
    return rotation, translation, np.where(enough, np.sqrt(squared), np.nan)
