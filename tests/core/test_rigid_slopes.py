"""How a fitted pose follows its points, against fits of points that were moved."""

from __future__ import annotations

import numpy as np
from in_the_round.analysis_core.body.rigid import fit_rigid
from in_the_round.analysis_core.body.rigid_slopes import FittedGroup

_STEP_M = 1e-6


def test_a_pose_follows_its_points_as_fits_of_moved_points_do() -> None:
    """Would catch a wrong sign or axis in the turn, in the origin or in what is left, and a missing point that pulls.

    Against differences between fits of points that were moved; no source: calculus.
    """
    random = np.random.default_rng(3)
    body, weights = random.normal(size=(5, 3)) * 0.2, np.array([1.0, 2.0, 0.5, 1.0, 3.0])
    turns, _, _ = fit_rigid(body, random.normal(size=(4, 5, 3)))
    measured = np.einsum("nij,mj->nmi", turns, body) + random.normal(size=(4, 1, 3)) + 0.02 * random.normal(size=(4, 5, 3))
    measured[1, 2], measured[2, 1:4] = np.nan, np.nan
    fitted = FittedGroup(body, measured, weights)
    # Each coordinate of each point: of the body's first, then of the measured ones.
    unknowns = [(point, axis, own) for own in (True, False) for point in range(5) for axis in range(3)]
    direction = np.eye(3)[[axis for _, axis, _ in unknowns]]
    own = np.array([own for _, _, own in unknowns])[:, None]
    followed = fitted.followed(
        np.array([point for point, _, _ in unknowns]),
        np.where(own, direction, 0.0),
        np.repeat(np.where(own, 0.0, direction)[:, None], 4, axis=1),
    )
    for number, (point, axis, of_body) in enumerate(unknowns):
        moved_body, moved = body.copy(), measured.copy()
        (moved_body if of_body else moved)[..., point, axis] += _STEP_M
        other = FittedGroup(moved_body, moved, weights)
        (rotation, origin), (other_rotation, other_origin) = fitted.pose, other.pose
        skew = np.einsum("nji,njk->nik", rotation, other_rotation) / _STEP_M
        turn = np.stack([skew[:, 2, 1], skew[:, 0, 2], skew[:, 1, 0]], axis=1)
        for told, differs in (
            (followed.turn[number], turn),
            (followed.origin[number], (other_origin - origin) / _STEP_M),
            (followed.left[number], (other.left - fitted.left) / _STEP_M),
        ):
            np.testing.assert_allclose(told, np.nan_to_num(differs), atol=2e-4)
    assert not followed.turn[:, 2].any(), "two points hold no pose"
