"""Rotation helpers on whole arrays; segment axes X forward, Y up, Z right, as columns in the laboratory (Z up)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Segment axes of a dancer who faces laboratory +x: forward, up, right as columns.
UPRIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])


def _about(axis: int, angle: Floats | float) -> Floats:
    angle = np.atleast_1d(np.asarray(angle, dtype=np.float64))
    first, second = (axis + 1) % 3, (axis + 2) % 3
    result = np.zeros((*angle.shape, 3, 3))
    result[..., axis, axis] = 1.0
    result[..., first, first] = result[..., second, second] = np.cos(angle)
    result[..., second, first] = np.sin(angle)
    result[..., first, second] = -np.sin(angle)
    return result


def about_x(angle: Floats | float) -> Floats:
    """Rotation matrices (F, 3, 3) about the first axis, angle (F,) in radians."""
    return _about(0, angle)


def about_y(angle: Floats | float) -> Floats:
    """Rotation matrices (F, 3, 3) about the second axis, angle (F,) in radians."""
    return _about(1, angle)


def about_z(angle: Floats | float) -> Floats:
    """Rotation matrices (F, 3, 3) about the third axis, angle (F,) in radians."""
    return _about(2, angle)


def heading(azimuth: Floats | float) -> Floats:
    """Upright segment axes (F, 3, 3) that face a laboratory azimuth (F,), radians, positive to the left."""
    return np.asarray(about_z(azimuth) @ UPRIGHT)


def apply(matrices: Floats, vectors: Floats) -> Floats:
    """Matrices (F, 3, 3) times one vector (3,) or vectors (F, 3)."""
    return np.asarray(np.einsum("...ij,...j->...i", matrices, vectors))


def dot(first: Floats, second: Floats) -> Floats:
    """Scalar products (...,) of vectors (..., 3); the library's sum over three takes twice as long."""
    product = first[..., 0] * second[..., 0]
    product += first[..., 1] * second[..., 1]
    product += first[..., 2] * second[..., 2]
    return np.asarray(product)


def unit(vectors: Floats) -> Floats:
    """Vectors (..., 3) scaled to length one."""
    return np.asarray(vectors / np.sqrt(dot(vectors, vectors))[..., None], dtype=np.float64)


def cross(first: Floats, second: Floats) -> Floats:
    """Cross products (F, 3); the library's own takes five times as long to find out which axis holds the three."""
    (x, y, z), (u, v, w) = first.T, second.T
    result = np.empty(first.shape)
    result[:, 0] = y * w - z * v
    result[:, 1] = z * u - x * w
    result[:, 2] = x * v - y * u
    return result


def blend(first: Floats, second: Floats, weight: Floats) -> Floats:
    """Rotations (F, 3, 3) on the shortest way from first (weight 0) to second (weight 1); exact at both ends."""
    result = np.where((weight >= 1.0)[:, None, None], second, first)
    between = (weight > 0.0) & (weight < 1.0)
    if between.any():
        turn = Rotation.from_matrix(np.swapaxes(first[between], -1, -2) @ second[between]).as_rotvec()
        result[between] = first[between] @ Rotation.from_rotvec(turn * weight[between, None]).as_matrix()
    return result


def shortest_arc_from_down(direction: Floats, vectors: Floats) -> Floats:
    """Vectors (F, 3) carried along by the shortest rotation that brings straight down to direction (F, 3)."""
    down = np.array([0.0, 0.0, -1.0])
    axis = cross(np.broadcast_to(down, direction.shape), direction)
    cosine = -direction[..., 2:3]
    across = cross(axis, vectors)
    return np.asarray(vectors + across + cross(axis, across) / (1.0 + np.maximum(cosine, -0.999)), dtype=np.float64)
