"""Vectors, frames and angle sequences on whole arrays; angles in radians, NaN in gives NaN out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..paths import side_by_side
from ..take import Floats

UP = np.array([0.0, 0.0, 1.0])


def unit(vectors: Floats) -> Floats:
    """Vectors (..., 3) divided by their length; a vector of no length becomes NaN."""
    length = np.sqrt(dot(vectors, vectors))
    scaled: Floats = vectors / np.where(length > 1e-9, length, np.nan)[..., None]
    return scaled


def dot(first: Floats, second: Floats) -> Floats:
    """Scalar products (...,) of vectors (..., 3)."""
    product: Floats = np.einsum("...i,...i->...", first, second)
    return product


def cross(first: Floats, second: Floats) -> Floats:
    """Cross products (..., 3) of vectors (..., 3), number for number those of numpy, which takes four times as long for a few
    hundred frames to find out which axis holds the three."""
    larger = first if first.ndim >= second.ndim else second
    product = np.empty_like(larger, dtype=np.float64, shape=np.broadcast_shapes(first.shape, second.shape))
    for axis in range(3):
        one, other = (axis + 1) % 3, (axis + 2) % 3
        np.multiply(first[..., one], second[..., other], out=product[..., axis])
        product[..., axis] -= first[..., other] * second[..., one]
    return product


def reject(vectors: Floats, axis: Floats) -> Floats:
    """Part of the vectors (..., 3) at right angles to a unit axis (..., 3)."""
    return vectors - dot(vectors, axis)[..., None] * axis


def horizontal(vectors: Floats) -> Floats:
    """Vectors (..., 3) without their vertical part."""
    flat: Floats = vectors * np.array([1.0, 1.0, 0.0])
    return flat


def angle_between(first: Floats, second: Floats) -> Floats:
    """Angle (...,) in 0..π between vectors (..., 3); exact for small angles too, unlike the arc cosine."""
    return np.arctan2(np.linalg.norm(cross(first, second), axis=-1), dot(first, second))


def frame_from_y(y: Floats, z_hint: Floats) -> Floats:
    """Rotation matrices (..., 3, 3) with Y along ``y`` and Z as near to ``z_hint`` as that allows; X = Y × Z."""
    y_axis = unit(y)
    z_axis = unit(reject(z_hint, y_axis))
    return side_by_side((cross(y_axis, z_axis), y_axis, z_axis), -1)


def frame_from_y_and_x(y: Floats, x_hint: Floats) -> Floats:
    """Rotation matrices (..., 3, 3) with Y along ``y`` and X as near to ``x_hint`` as that allows; Z = X × Y."""
    y_axis = unit(y)
    x_axis = unit(reject(x_hint, y_axis))
    return side_by_side((x_axis, y_axis, cross(x_axis, y_axis)), -1)


def frame_from_z(z: Floats, x_hint: Floats) -> Floats:
    """Rotation matrices (..., 3, 3) with Z along ``z`` and X as near to ``x_hint`` as that allows; Y = Z × X."""
    z_axis = unit(z)
    x_axis = unit(reject(x_hint, z_axis))
    return side_by_side((x_axis, cross(z_axis, x_axis), z_axis), -1)


def relative(proximal: Floats, distal: Floats) -> Floats:
    """Rotation (..., 3, 3) of the distal segment seen from the proximal one: R_proxᵀ R_dist."""
    first, second = (np.ascontiguousarray(np.moveaxis(rotation, (-2, -1), (0, 1))) for rotation in (proximal, distal))
    # Each entry of all matrices in one piece, which is several times as quick as one small product after another.
    return np.moveaxis(np.einsum("ji...,jk...->ik...", first, second), (0, 1), (-2, -1))


def cardan_zxy(rotation: Floats) -> Floats:
    """Intrinsic Z-X-Y angles (..., 3) of rotations (..., 3, 3): alpha about Z, beta about the floating axis, gamma about Y.

    On ISB axes, right side: alpha is flexion at the hip (extension at the knee, dorsiflexion at the ankle), beta adduction,
    gamma internal rotation. Degenerate at beta = ±90°. Source: Grood and Suntay 1983 in the form of catalogue 1.2.
    """
    alpha = np.arctan2(-rotation[..., 0, 1], rotation[..., 1, 1])
    beta = np.arcsin(np.clip(rotation[..., 2, 1], -1.0, 1.0))
    gamma = np.arctan2(-rotation[..., 2, 0], rotation[..., 2, 2])
    return side_by_side((alpha, beta, gamma), -1)


#: Beyond this second angle a leg may pass through the singularity; nearer to rest the plain angles are the only sensible ones.
_NEAR_SINGULAR = np.radians(45.0)


def without_jumps(angles: Floats) -> Floats:
    """Z-X-Y angles (F, 3) of one joint in time without jumps where the second passes ±90°.

    The same rotations are told by (α + π, π − β, γ + π); where the plain angles jump by half a turn, as in a leg that is lifted
    through the horizontal to the side, the other triple goes on: abduction beyond 90° is then told as such. Whole turns of α and
    γ are unwrapped. Missing samples stay missing. Angles within 45° of rest are never replaced.
    """
    result = angles.copy()
    known = np.isfinite(angles).all(axis=1)
    alpha, beta, gamma = angles[known].T
    if alpha.size < 2:
        return result
    step = np.abs(np.angle(np.exp(1j * np.diff(alpha))))
    near = np.abs(beta) > _NEAR_SINGULAR
    jumps = np.concatenate([[False], (step > np.pi / 2) & near[1:] & near[:-1]])
    # The count of jumps begins anew in every stretch near the singularity.
    begins = near & ~np.concatenate([[False], near[:-1]])
    total = np.cumsum(jumps)
    before = np.maximum.accumulate(np.where(begins, total - jumps, 0))
    flipped = near & ((total - before) % 2 == 1)
    other = np.stack([alpha + np.pi, np.sign(beta) * np.pi - beta, gamma + np.pi], axis=1)
    chosen = np.where(flipped[:, None], other, np.stack([alpha, beta, gamma], axis=1))
    for column in (0, 2):
        chosen[:, column] = np.unwrap(chosen[:, column])
        chosen[:, column] -= 2 * np.pi * np.round(np.median(chosen[:, column]) / (2 * np.pi))
    result[known] = chosen
    return result


def mirror_left(rotation: Floats) -> Floats:
    """Rotations (..., 3, 3) between segments of the left side as the right side would show them (Z mirrored)."""
    flip = np.array([1.0, 1.0, -1.0])
    mirrored: Floats = rotation * flip[:, None] * flip[None, :]
    return mirrored


def azimuth_out(vectors: Floats, forward: Floats, side_sign: float) -> Floats:
    """Outward azimuth (...,) of the horizontal part of vectors (..., 3) from ``forward`` (..., 3); + = turned out.

    side_sign: +1 right, -1 left. Source: catalogue 0.3.
    """
    ahead = unit(horizontal(forward))
    right = cross(ahead, UP)
    return np.asarray(np.arctan2(side_sign * dot(vectors, right), dot(vectors, ahead)))


def interpolated(at: Floats | NDArray[np.int64], known_at: Floats | NDArray[np.int64], values: Floats) -> Floats:
    """Values (N, K) at N places along a course of which values (M, K) are known at M places, held at both ends."""
    return np.stack([np.interp(at, known_at, course) for course in values.T], axis=1)


def unwrap(angles: Floats) -> Floats:
    """Angles (F,) without jumps of a full turn; NaN samples stay NaN and the angle goes on behind them."""
    result = angles.copy()
    known = np.isfinite(angles)
    result[known] = np.unwrap(angles[known])
    return result


def apply(rotation: Floats, vectors: Floats) -> Floats:
    """Rotations (..., 3, 3) applied to vectors (..., 3)."""
    turned: Floats = np.einsum("...ij,...j->...i", rotation, vectors)
    return turned


#: Points whose hull is a smaller share of the square around them lie on one line.
_A_LINE = 1e-9


def hull(points: Floats) -> Floats:
    """Convex hull of points (N, 2), counter-clockwise; empty when they lie on one line. Monotone chain (Andrew 1979)."""
    ordered = np.unique(points, axis=0).tolist()

    def chain(along: list[list[float]]) -> list[list[float]]:
        kept: list[list[float]] = []
        for x, y in along:
            # The last point goes when the way to this one does not turn left at it.
            while len(kept) > 1 and not (
                (kept[-1][0] - kept[-2][0]) * (y - kept[-2][1]) > (kept[-1][1] - kept[-2][1]) * (x - kept[-2][0])
            ):
                kept.pop()
            kept.append([x, y])
        return kept[:-1]

    around = np.array(chain(ordered) + chain(ordered[::-1])).reshape(-1, 2)
    # Twice the area, against that of the box around the points: rounding leaves a sliver of points on a line.
    x, y = around[:, 0], around[:, 1]
    area = np.abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
    return around if around.size and area > _A_LINE * np.ptp(points, axis=0).max() ** 2 else np.empty((0, 2))
