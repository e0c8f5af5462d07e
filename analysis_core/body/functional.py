"""Joint centres and axes from movement: two rigid segments that turn about a common point, or about a common line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..take import Floats


@dataclass(frozen=True)
class JointCentre:
    """A centre that two segments share. first, second (3,): in the axes of each; residual_m: how far apart the two see it (1 SD).

    condition: how many times worse the least determined direction is than the best; large when the movement was nearly flat.
    """

    first: Floats
    second: Floats
    residual_m: float
    condition: float


@dataclass(frozen=True)
class HingeAxis:
    """A direction that two segments share. first, second (3,): unit vectors in the axes of each, pointing the same way.

    clearness: second smallest singular value over the smallest; near 1 when no direction is more of an axis than another.
    """

    first: Floats
    second: Floats
    clearness: float


def _known(*arrays: Floats) -> list[Floats]:
    there = np.all([np.isfinite(a).reshape(a.shape[0], -1).all(axis=1) for a in arrays], axis=0)
    return [a[there] for a in arrays]


def _stacked(first: Floats, second: Floats) -> Floats:
    """[R1 −R2] of all frames (3F, 6)."""
    both: Floats = np.concatenate([first, -second], axis=2).reshape(-1, 6)
    return both


def joint_centre(first_rotation: Floats, first_origin: Floats, second_rotation: Floats, second_origin: Floats) -> JointCentre:
    """The point that stays put in both segments, by least squares over all frames; rotations (F, 3, 3), origins (F, 3), metres.

    Frames with a missing pose are left out. Raises ValueError with fewer than three frames. Source: Ehrig 2006, in the form of
    catalogue 1.4.
    """
    r1, t1, r2, t2 = _known(first_rotation, first_origin, second_rotation, second_origin)
    if r1.shape[0] < 3:
        raise ValueError("a joint centre needs at least three frames in which both segments are known")
    matrix, right = _stacked(r1, r2), (t2 - t1).reshape(-1)
    # The two places are told apart from 6 unknowns; the normal equations keep ten minutes as small as ten frames.
    normal = matrix.T @ matrix
    values = np.linalg.eigvalsh(normal)
    found = np.linalg.solve(normal, matrix.T @ right) if values[0] > 1e-9 * values[-1] else np.full(6, np.nan)
    left_over = (matrix @ found - right).reshape(-1, 3)
    residual = float(np.sqrt(np.mean((left_over**2).sum(axis=1)) / 2))
    return JointCentre(found[:3], found[3:], residual, float(np.sqrt(values[-1] / max(values[0], 1e-300))))


def hinge_axis(first_rotation: Floats, second_rotation: Floats) -> HingeAxis:
    """The direction that stays put in both segments, over all frames; rotations (F, 3, 3).

    Frames with a missing pose are left out. Raises ValueError with fewer than three frames. Source: Ehrig 2007 (directions of the
    common axis), catalogue 1.4.
    """
    r1, r2 = _known(first_rotation, second_rotation)
    if r1.shape[0] < 3:
        raise ValueError("a joint axis needs at least three frames in which both segments are known")
    matrix = _stacked(r1, r2)
    values, vectors = np.linalg.eigh(matrix.T @ matrix)
    both = vectors[:, 0]
    first, second = both[:3] / np.linalg.norm(both[:3]), both[3:] / np.linalg.norm(both[3:])
    return HingeAxis(first, second, float(np.sqrt(max(values[1], 0.0) / max(values[0], 1e-300))))
