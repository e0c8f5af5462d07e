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
        symmetric = np.einsum("nm,nmi,nmj->nij", weight, seen, inside)
        stiff = np.trace(symmetric, axis1=1, axis2=2)[:, None, None] * np.eye(3) - symmetric
        stiff[~known.any(axis=1)] = np.eye(3)

        moved = np.where(known.T[point][..., None], measured_by, 0.0)
        of_inside, of_seen = (values[:, point].swapaxes(0, 1) for values in (inside, seen))
        skew = cross(of_inside, np.einsum("nij,uni->unj", rotation, moved)) + cross(reference_by[:, None], of_seen)
        turn = np.einsum("nij,unj->uni", np.linalg.inv(stiff), weight.T[point][..., None] * skew)
        turned = np.einsum("nij,unj->uni", rotation, turn)
        shift = moved - np.einsum("nij,uj->uni", rotation, reference_by)
        mean_shift = share.T[point][..., None] * shift
        left = cross(np.einsum("nij,nmj->nmi", rotation, inside), turned[:, :, None]) - mean_shift[:, :, None]
        left[np.arange(point.size), :, point] += shift
        origin = mean_shift - cross(turned, np.einsum("nij,nj->ni", rotation, middle))
        return Followed(turn, origin, left * known[..., None])
