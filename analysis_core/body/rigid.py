"""Pose of a rigid group of points, for all frames at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ..take import Floats

#: Of three singular values that sum to one, the product of the sums of two by two: below this (points nearly in a line) the
#: closed form keeps fewer than ten digits, and the slower decomposition serves.
_LEAST_SPREAD = 2e-3
#: So many frames are fitted at once: what is reckoned of them stays near the processor.
_PIECE = 1024
_MOST_STEPS = 16
#: Rows and columns of a matrix that goes on behind its edges.
_AROUND = np.ix_([0, 1, 2, 0, 1], [0, 1, 2, 0, 1])
#: Newton's method doubles the digits that are right with each step: after one of this share of the root it stands to rounding.
_LAST_STEP = 1e-9
#: Points that spread less than this share of their length to either side of a line do not tell how they are turned about it.
_NARROW = 0.01


def nearest_rotation(moment: Floats) -> Floats:
    """Rotations (F, 3, 3) that maximise tr(Rᵀ M) for moments M (F, 3, 3), never a mirror image.

    The greatest root of the characteristic polynomial by Newton's method from above, then the rotation in closed form; the
    singular value decomposition where the points lie too near a line for that. Source: Markley 1993 (from memory), the same
    rotation as by Arun 1987, several times quicker on arrays.
    """
    return _frames_first(_nearest(_frames_last(moment)))


def _frames_last(values: Floats) -> Floats:
    """Values (..., F) of (F, ...): what belongs to one entry of many small matrices lies in one piece, which is much quicker."""
    return np.ascontiguousarray(np.moveaxis(values, 0, -1))


def _frames_first(values: Floats) -> Floats:
    return np.ascontiguousarray(np.moveaxis(values, -1, 0))


def _nearest(moment: Floats) -> Floats:
    """``nearest_rotation`` with the frames last (3, 3, F)."""
    # Minors by neighbours to the right and below, as if the matrix went on behind its edges.
    around = moment[_AROUND]
    cofactors = around[1:4, 1:4] * around[2:5, 2:5] - around[1:4, 2:5] * around[2:5, 1:4]
    norm, areas = (np.einsum("ijf,ijf->f", part, part) for part in (moment, cofactors))
    determinant = np.einsum("if,if->f", moment[0], cofactors[0])
    # The sum of three singular values is at most √3 times the root of the sum of their squares. Its square is that sum and twice
    # the sum of their products, which follows from areas, determinant and itself: that comes nearer, and stays above.
    root = np.sqrt(3.0 * norm)
    for _ in range(2):
        root = np.sqrt(norm + 2.0 * np.sqrt(areas + 2.0 * np.maximum(determinant, 0.0) * root))
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(_MOST_STEPS):
            beyond = root * root - norm
            step = (beyond * beyond - 8 * root * determinant - 4 * areas) / (4 * root * beyond - 8 * determinant)
            root = root - step
            if not np.any(np.abs(step) > _LAST_STEP * root):
                break
        half = 0.5 * (root * root - norm)
        # The product of the sums of two by two singular values.
        spread = half * root - determinant
        rotation: Floats = (half + norm) * moment
        rotation += root * cofactors
        rotation -= np.einsum("ikf,kjf->ijf", np.einsum("ijf,kjf->ikf", moment, moment), moment)
        rotation /= spread
    lost = ~(spread > _LEAST_SPREAD * root**3)
    if lost.any():
        left, _, right = np.linalg.svd(_frames_first(moment[:, :, lost]))
        left[:, :, 2] *= np.sign(np.linalg.det(left @ right))[:, None]
        rotation[:, :, lost] = _frames_last(left @ right)
    return rotation


def _spread_out(mean: Floats, centre: Floats) -> NDArray[np.bool_]:
    """Whether (F,) points lie beside a line, not on one: of their mean products (3, 3, F) about the origin and centre (3, F)."""
    scatter = mean - centre[:, None] * centre[None, :]
    trace = np.einsum("iif->f", scatter)
    # The second invariant over the squared trace is near the ratio of the second principal spread (squared) to the first.
    minors = 0.5 * (trace**2 - np.einsum("ijf,ijf->f", scatter, scatter))
    beside: NDArray[np.bool_] = minors > _NARROW**2 * trace**2
    return beside


class _Shape(Protocol):
    """Points that are carried onto measured ones, with weights (M, F), or (M, 1) where all frames have the same."""

    def mean(self, share: Floats) -> Floats:
        """Weighted sum (3, F) of the points."""

    def products(self, share: Floats) -> Floats:
        """Weighted sum (3, 3, F) of their products."""

    def pulled(self, weighted: Floats) -> Floats:
        """Sum (3, 3, F) of weighted measured points (M, 3, F) times these."""

    def turned(self, rotation: Floats) -> Floats:
        """The points (M, 3, F) turned by rotations (3, 3, F)."""


@dataclass(frozen=True)
class _OneShape:
    """One body (M, 3) for all frames."""

    points: Floats

    def mean(self, share: Floats) -> Floats:
        return self.points.T @ share

    def products(self, share: Floats) -> Floats:
        rows, columns = self.points[:, :, None], self.points[:, None, :]
        return np.tensordot(rows * columns, share, axes=(0, 0))

    def pulled(self, weighted: Floats) -> Floats:
        by_point = self.points.T @ weighted.reshape(len(weighted), -1)
        return by_point.reshape(3, *weighted.shape[1:]).swapaxes(0, 1)

    def turned(self, rotation: Floats) -> Floats:
        return np.asarray(np.einsum("ijf,mj->mif", rotation, self.points))


@dataclass(frozen=True)
class _ShapeOfEachFrame:
    """A body of its own (M, 3, F) for every frame."""

    points: Floats

    def mean(self, share: Floats) -> Floats:
        return np.asarray(np.einsum("mf,mif->if", share, self.points))

    def products(self, share: Floats) -> Floats:
        return self.pulled(share[:, None] * self.points)

    def pulled(self, weighted: Floats) -> Floats:
        return np.asarray(np.einsum("mif,mjf->ijf", weighted, self.points))

    def turned(self, rotation: Floats) -> Floats:
        return np.asarray(np.einsum("ijf,mjf->mif", rotation, self.points))


def fit_rigid(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """Rotation (F, 3, 3), translation (F, 3) and residual (F,) that carry ``reference`` (M, 3) onto ``measured`` (F, M, 3).

    Weighted least squares with a guard against mirror images;
    weights (M,). Missing points (NaN) are left out frame by frame; frames with fewer than three points, or with points in a
    line, are NaN throughout. The residual is the weighted root mean square distance in the unit of the points. Source:
    Söderkvist and Wedin 1993; Arun and others 1987.
    """
    rotation, translation, residual = fit_paths(reference, _frames_last(measured), weights)
    return _frames_first(rotation), _frames_first(translation), residual


def fit_rigid_of_each_frame(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """The same for a reference (F, M, 3) that every frame has of its own."""
    rotation, translation, residual = fit_paths_of_each_frame(_frames_last(reference), _frames_last(measured), weights)
    return _frames_first(rotation), _frames_first(translation), residual


def fit_paths(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """``fit_rigid``, frames last: for measured points (M, 3, F) rotation (3, 3, F), translation (3, F), residual (F,)."""
    shape = _OneShape(reference)
    return _fitted(lambda piece: shape, measured, weights)


def fit_paths_of_each_frame(reference: Floats, measured: Floats, weights: Floats | None = None) -> tuple[Floats, Floats, Floats]:
    """The same for a reference (M, 3, F) that every frame has of its own."""
    bodies = np.ascontiguousarray(reference)
    return _fitted(lambda piece: _ShapeOfEachFrame(bodies[..., piece]), measured, weights)


def _fitted(shape_in: Callable[[slice], _Shape], measured: Floats, weights: Floats | None) -> tuple[Floats, Floats, Floats]:
    measured = np.ascontiguousarray(measured)
    pieces = [slice(start, start + _PIECE) for start in range(0, max(measured.shape[-1], 1), _PIECE)]
    fitted = [_fit(shape_in(piece), measured[..., piece], weights) for piece in pieces]
    if len(fitted) == 1:
        return fitted[0]
    rotation, translation, residual = (np.concatenate(parts, axis=-1) for parts in zip(*fitted, strict=True))
    return rotation, translation, residual


def _fit(shape: _Shape, measured: Floats, weights: Floats | None) -> tuple[Floats, Floats, Floats]:
    known = measured
    weight = np.ones((len(known), 1)) if weights is None else np.asarray(weights, dtype=np.float64)[:, None]
    there = np.isfinite(known).all(axis=1)
    if not there.all():
        # Only then do frames weigh differently: else what is asked of weights is asked once for all frames.
        weight, known = there * weight, np.where(there[:, None], known, 0.0)
    enough = there.sum(axis=0) >= 3
    total = np.where(enough, weight.sum(axis=0), 1.0)
    centre_reference = shape.mean(weight / total)
    enough &= _spread_out(shape.products(weight / total), centre_reference)
    weighted = weight[:, None] * known
    centre_measured = weighted.sum(axis=0) / total
    # Σ w (b - b̄)(a - ā)ᵀ = Σ w b aᵀ - W b̄ āᵀ, in one product for all frames.
    moment = shape.pulled(weighted) - (total * centre_measured)[:, None] * centre_reference[None, :]
    moment[:, :, ~enough] = np.eye(3)[:, :, None]
    rotation = _nearest(moment)
    translation = centre_measured - np.einsum("ijf,jf->if", rotation, np.broadcast_to(centre_reference, centre_measured.shape))
    apart = shape.turned(rotation)
    apart += translation
    apart -= known
    residual = np.sqrt(np.einsum("mf,mif,mif->f", np.broadcast_to(weight, there.shape), apart, apart) / total)
    rotation[:, :, ~enough], translation[:, ~enough], residual[~enough] = np.nan, np.nan, np.nan
    return rotation, translation, residual
