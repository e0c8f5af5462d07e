"""Pose of a rigid group of points, for all frames at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ..take import Floats

#: A matrix further than this from a rotation lost digits (points nearly in a line): the slower decomposition serves then.
_LEAST_ORTHOGONAL = 1e-10
_MOST_STEPS = 16
#: Points that spread less than this share of their length to either side of a line do not tell how they are turned about it.
_NARROW = 0.01


def nearest_rotation(moment: Floats) -> Floats:
    """Rotations (F, 3, 3) that maximise tr(Rᵀ M) for moments M (F, 3, 3), never a mirror image.

    The greatest root of the characteristic polynomial by Newton's method from above, then the rotation in closed form; the
    singular value decomposition where the points lie too near a line for that. Source: Markley 1993 (from memory), the same
    rotation as by Arun 1987, five times faster on arrays.
    """
    norm = np.einsum("fij,fij->f", moment, moment)
    rows = moment[:, 0], moment[:, 1], moment[:, 2]
    cofactors = np.stack([np.cross(rows[1], rows[2]), np.cross(rows[2], rows[0]), np.cross(rows[0], rows[1])], axis=1)
    determinant = np.einsum("fi,fi->f", rows[0], cofactors[:, 0])
    areas = np.einsum("fij,fij->f", cofactors, cofactors)
    # The sum of three singular values is at most √3 times the root of the sum of their squares.
    root = np.sqrt(3.0 * norm)
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(_MOST_STEPS):
            step = ((root**2 - norm) ** 2 - 8 * root * determinant - 4 * areas) / (4 * root * (root**2 - norm) - 8 * determinant)
            root = root - step
            if not np.any(np.abs(step) > 1e-15 * root):
                break
        half = 0.5 * (root**2 - norm)
        whole = (half + norm)[:, None, None] * moment + root[:, None, None] * cofactors - moment @ moment.swapaxes(1, 2) @ moment
        rotation: Floats = whole / (half * root - determinant)[:, None, None]
        off = np.abs(rotation @ rotation.swapaxes(1, 2) - np.eye(3)).max(axis=(1, 2), initial=0.0)
    lost = ~(off < _LEAST_ORTHOGONAL)
    if lost.any():
        left, _, right = np.linalg.svd(moment[lost])
        left[:, :, 2] *= np.sign(np.linalg.det(left @ right))[:, None]
        rotation[lost] = left @ right
    return rotation


def _spread_out(mean: Floats, centre: Floats) -> NDArray[np.bool_]:
    """Whether (F,) points lie beside a line, not on one: of their mean products (F, 3, 3) about the origin and centre (F, 3)."""
    scatter = mean - centre[:, :, None] * centre[:, None, :]
    trace = np.einsum("fii->f", scatter)
    # The second invariant over the squared trace is near the ratio of the second principal spread (squared) to the first.
    minors = 0.5 * (trace**2 - np.einsum("fij,fij->f", scatter, scatter))
    beside: NDArray[np.bool_] = minors > _NARROW**2 * trace**2
    return beside


class _Shape(Protocol):
    """Points that are carried onto measured ones, with weights (F, M)."""

    def mean(self, share: Floats) -> Floats:
        """Weighted sum (F, 3) of the points."""

    def products(self, share: Floats) -> Floats:
        """Weighted sum (F, 3, 3) of their products."""

    def pulled(self, weighted: Floats) -> Floats:
        """Sum (F, 3, 3) of weighted measured points (F, M, 3) times these."""

    def turned(self, rotation: Floats) -> Floats:
        """The points (F, M, 3) turned by rotations (F, 3, 3)."""


@dataclass(frozen=True)
class _OneShape:
    """One body (M, 3) for all frames."""

    points: Floats

    def mean(self, share: Floats) -> Floats:
        return share @ self.points

    def products(self, share: Floats) -> Floats:
        return np.tensordot(share, self.points[:, :, None] * self.points[:, None, :], 1)

    def pulled(self, weighted: Floats) -> Floats:
        return np.asarray(np.einsum("fmi,mj->fij", weighted, self.points))

    def turned(self, rotation: Floats) -> Floats:
        return np.asarray(np.einsum("fij,mj->fmi", rotation, self.points))


@dataclass(frozen=True)
class _ShapeOfEachFrame:
    """A body of its own (F, M, 3) for every frame."""

    points: Floats

    def mean(self, share: Floats) -> Floats:
        return np.asarray(np.einsum("fm,fmi->fi", share, self.points))

    def products(self, share: Floats) -> Floats:
        return np.asarray(np.einsum("fm,fmi,fmj->fij", share, self.points, self.points))

    def pulled(self, weighted: Floats) -> Floats:
        return np.asarray(weighted.swapaxes(1, 2) @ self.points)

    def turned(self, rotation: Floats) -> Floats:
        return np.asarray(self.points @ rotation.swapaxes(1, 2))


def fit_rigid(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """Rotation (F, 3, 3), translation (F, 3) and residual (F,) that carry ``reference`` (M, 3) onto ``measured`` (F, M, 3).

    Weighted least squares with a guard against mirror images;
    weights (M,). Missing points (NaN) are left out frame by frame; frames with fewer than three points, or with points in a
    line, are NaN throughout. The residual is the weighted root mean square distance in the unit of the points. Source:
    Söderkvist and Wedin 1993; Arun and others 1987.
    """
    return _fit(_OneShape(reference), measured, weights)


def fit_rigid_of_each_frame(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """The same for a reference (F, M, 3) that every frame has of its own."""
    return _fit(_ShapeOfEachFrame(reference), measured, weights)


def _fit(shape: _Shape, measured: Floats, weights: Floats | None) -> tuple[Floats, Floats, Floats]:
    points = measured.shape[1]
    there = np.isfinite(measured).all(axis=2)
    weight = there * (np.ones(points) if weights is None else np.asarray(weights, dtype=np.float64))
    enough = there.sum(axis=1) >= 3
    total = np.where(enough, weight.sum(axis=1), 1.0)
    known = np.where(there[:, :, None], measured, 0.0)
    centre_reference = shape.mean(weight) / total[:, None]
    enough &= _spread_out(shape.products(weight / total[:, None]), centre_reference)
    centre_measured = np.einsum("fm,fmi->fi", weight, known) / total[:, None]
    # Σ w (b - b̄)(a - ā)ᵀ = Σ w b aᵀ - W b̄ āᵀ, in one product for all frames.
    moment = shape.pulled(weight[:, :, None] * known)
    moment -= total[:, None, None] * centre_measured[:, :, None] * centre_reference[:, None, :]
    moment[~enough] = np.eye(3)
    rotation = nearest_rotation(moment)
    translation = centre_measured - np.einsum("fij,fj->fi", rotation, centre_reference)
    fitted = shape.turned(rotation) + translation[:, None]
    squared = (weight * np.where(there, ((fitted - known) ** 2).sum(axis=2), 0.0)).sum(axis=1) / total
    rotation[~enough], translation[~enough] = np.nan, np.nan
    return rotation, translation, np.where(enough, np.sqrt(squared), np.nan)
