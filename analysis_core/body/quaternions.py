"""Rotations as quaternions and back: four numbers instead of nine."""

from __future__ import annotations

import numpy as np

from ..take import Floats


def quaternions_of(matrices: Floats) -> Floats:
    """Unit quaternions (…, 4) w, x, y, z of rotation matrices (…, 3, 3); the largest component divides (Shepperd 1978)."""
    m = matrices
    trace = m[..., 0, 0] + m[..., 1, 1] + m[..., 2, 2]
    squares = np.stack([trace, m[..., 0, 0], m[..., 1, 1], m[..., 2, 2]], axis=-1)
    largest = squares.argmax(axis=-1)
    a, b, c = m[..., 2, 1] - m[..., 1, 2], m[..., 0, 2] - m[..., 2, 0], m[..., 1, 0] - m[..., 0, 1]
    d, e, f = m[..., 0, 1] + m[..., 1, 0], m[..., 0, 2] + m[..., 2, 0], m[..., 1, 2] + m[..., 2, 1]
    one = 1.0 + 2.0 * squares[..., 1:] - trace[..., None]
    rows = np.stack(
        [
            np.stack([1.0 + trace, a, b, c], axis=-1),
            np.stack([a, one[..., 0], d, e], axis=-1),
            np.stack([b, d, one[..., 1], f], axis=-1),
            np.stack([c, e, f, one[..., 2]], axis=-1),
        ],
        axis=-2,
    )
    chosen = np.take_along_axis(rows, largest[..., None, None], axis=-2)[..., 0, :]
    unit: Floats = chosen / np.linalg.norm(chosen, axis=-1, keepdims=True)
    return unit


def rotations_of(quaternions: Floats) -> Floats:
    """Rotation matrices (…, 3, 3) of quaternions (…, 4) w, x, y, z of any length; NaN where one is not known."""
    with np.errstate(invalid="ignore"):
        unit = quaternions / np.linalg.norm(quaternions, axis=-1, keepdims=True)
    w, x, y, z = np.moveaxis(unit, -1, 0)
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)
