"""How the pose of a rigid group of points follows the points that it is fitted to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .geometry import cross
from .rigid import fit_rigid


@dataclass(frozen=True)
class Followed:
    """What a fit does with U unknowns that move its points, for a unit of each; 0 where a point or a pose is missing.

    turn (U, N, 3): rotation vector, in the axes of the body; origin (U, N, 3); left (U, N, M, 3): of the measured points.
    """

    turn: Floats
    origin: Floats
    left: Floats


@dataclass(frozen=True)
class FittedGroup:
    """Points (M, 3) of a body carried onto measured ones (N, M, 3), NaN where missing, by least squares with weights (M,)."""

    reference: Floats
    measured: Floats
    weights: Floats

    @cached_property
    def pose(self) -> tuple[Floats, Floats]:
        """Rotations (N, 3, 3) and origins (N, 3), NaN where too few points are there."""
        return fit_rigid(self.reference, self.measured, self.weights)[:2]

    @property
    def left(self) -> Floats:
        """How far (N, M, 3) measured points are from where the body has them, NaN where missing."""
        rotation, origin = self.pose
        return np.asarray(self.measured - origin[:, None] - np.einsum("nij,mj->nmi", rotation, self.reference))

    def followed(self, point: NDArray[np.int64], reference_by: Floats, measured_by: Floats) -> Followed:
        """How the fit changes with U unknowns, each of which moves one point (U,): the body's by (U, 3), the measured one by
        (U, N, 3).

        The rotation keeps S = Rᵀ M of the moment M symmetric. So its turn ω in the axes of the body solves (tr S - S) ω = κ with
        κ twice the skew part of Rᵀ dM (the derivative of that condition).
        """
        rotation = np.nan_to_num(self.pose[0])
        known = np.isfinite(self.measured).all(axis=2) & rotation.any(axis=(1, 2))[:, None]
        weight = known * self.weights
        share = weight / np.maximum(weight.sum(axis=1), np.finfo(float).tiny)[:, None]
        places = np.where(known[..., None], self.measured, 0.0)
        # In the axes of the body, about the middle of its points: where they are and where they are seen.
        middle = share @ self.reference
        inside = self.reference - middle[:, None]
        seen = (places - np.einsum("nm,nmi->ni", share, places)[:, None]) @ rotation
        symmetric = (weight[..., None] * seen).swapaxes(1, 2) @ inside
        stiff = np.trace(symmetric, axis1=1, axis2=2)[:, None, None] * np.eye(3) - symmetric
        stiff[~known.any(axis=1)] = np.eye(3)

        # The frames first: one small product of matrices for each.
        outward = rotation.swapaxes(1, 2)
        moved = np.where(known[:, point, None], measured_by.swapaxes(0, 1), 0.0)
        skew = cross(inside[:, point], moved @ rotation) + cross(reference_by, seen[:, point])
        turn = (weight[:, point, None] * skew) @ np.linalg.inv(stiff).swapaxes(1, 2)
        turned = turn @ outward
        shift = moved - reference_by @ outward
        mean_shift = share[:, point, None] * shift
        left = (turned @ _turning(inside @ outward)).reshape(*turned.shape[:2], *inside.shape[1:]) - mean_shift[:, :, None]
        left[:, np.arange(point.size), point] += shift
        if not known.all():
            left *= known[:, None, :, None]
        origin = mean_shift - cross(turned, middle[:, None] @ outward)
        return Followed(*(np.ascontiguousarray(part.swapaxes(0, 1)) for part in (turn, origin, left)))


def _turning(places: Floats) -> Floats:
    """Matrices (N, 3, 3 M) by which turns (..., 3) about the middle take M places (N, M, 3) away from where a fit has them."""
    x, y, z = np.moveaxis(places, -1, 0)
    matrix = np.zeros((len(places), 3, *places.shape[1:]))
    matrix[:, 1, :, 0], matrix[:, 2, :, 0] = -z, y
    matrix[:, 0, :, 1], matrix[:, 2, :, 1] = z, -x
    matrix[:, 0, :, 2], matrix[:, 1, :, 2] = -y, x
    return matrix.reshape(len(places), 3, -1)
