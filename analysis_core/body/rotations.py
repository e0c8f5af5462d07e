"""Rotations as matrices and quaternions (w, x, y, z), whole arrays at a time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .geometry import interpolated

#: From this share of a limit on, what goes further is slowed down until it stops at the limit.
_FREE_SHARE = 0.8
#: A sine of half a turn below this is no turn.
_SMALL = 1e-12


def quaternions_of(matrices: Floats) -> Floats:
    """Unit quaternions (…, 4) w, x, y, z of rotation matrices (…, 3, 3); the largest component divides (Shepperd 1978)."""
    # Each entry of all matrices in one piece, which is several times as quick.
    (m00, m01, m02), (m10, m11, m12), (m20, m21, m22) = np.ascontiguousarray(np.moveaxis(matrices, (-2, -1), (0, 1)))
    trace = m00 + m11 + m22
    largest = np.stack([trace, m00, m11, m22]).argmax(axis=0)
    a, b, c, d, e, f = m21 - m12, m02 - m20, m10 - m01, m01 + m10, m02 + m20, m12 + m21
    by_largest = (
        (1.0 + trace, a, b, c),
        (a, 1.0 + 2.0 * m00 - trace, d, e),
        (b, d, 1.0 + 2.0 * m11 - trace, f),
        (c, e, f, 1.0 + 2.0 * m22 - trace),
    )
    chosen = np.stack(by_largest[0])
    for number, row in enumerate(by_largest[1:], start=1):
        for index, value in enumerate(row):
            # With the dots a single matrix, too, is a place to write to.
            np.copyto(chosen[index, ...], value, where=largest == number)
    chosen /= np.sqrt(np.einsum("q...,q...->...", chosen, chosen))
    unit: Floats = np.moveaxis(chosen, 0, -1)
    return unit


def matrices_of(quaternions: Floats) -> Floats:
    """Rotation matrices (…, 3, 3) of quaternions (…, 4) w, x, y, z of any length; NaN where one is not known."""
    with np.errstate(invalid="ignore"):
        length = np.sqrt(np.einsum("...q,...q->...", quaternions, quaternions))
        w, x, y, z = np.ascontiguousarray(np.moveaxis(quaternions, -1, 0)) / length
    x2, y2, z2 = 2 * x, 2 * y, 2 * z
    # Each entry of all matrices in one piece, which is twice as quick.
    entries = np.empty((3, 3, *w.shape))
    entries[0] = 1 - (y2 * y + z2 * z), x2 * y - z2 * w, x2 * z + y2 * w
    entries[1] = x2 * y + z2 * w, 1 - (x2 * x + z2 * z), y2 * z - x2 * w
    entries[2] = x2 * z - y2 * w, y2 * z + x2 * w, 1 - (x2 * x + y2 * y)
    return np.ascontiguousarray(np.moveaxis(entries, (0, 1), (-2, -1)))


def vectors_of(matrices: Floats) -> Floats:
    """Rotation vectors (…, 3) of matrices (…, 3, 3), radians about their axes, 0 to π."""
    # Not the library's: it takes a fifth of a second to load, and every command that shows the dancer waits for it.
    quaternions = quaternions_of(matrices)
    parts = quaternions[..., 1:] * np.where(quaternions[..., :1] < 0.0, -1.0, 1.0)
    sine = np.linalg.norm(parts, axis=-1, keepdims=True)
    angle = 2.0 * np.arctan2(sine, np.abs(quaternions[..., :1]))
    vectors: Floats = parts * np.where(sine > _SMALL, angle / np.maximum(sine, _SMALL), 2.0)
    return vectors


def turned_by(vectors: Floats) -> Floats:
    """Matrices (…, 3, 3) of rotation vectors (…, 3)."""
    angle = np.linalg.norm(vectors, axis=-1, keepdims=True)
    # sin(a / 2) / a, which is a half where there is no turn.
    share = 0.5 * np.sinc(angle / (2.0 * np.pi))
    return matrices_of(np.concatenate([np.cos(0.5 * angle), share * vectors], axis=-1))


def continuous(quaternions: Floats) -> Floats:
    """The same rotations (F, …, 4) without changes of sign from frame to frame."""
    flips = np.where((quaternions[1:] * quaternions[:-1]).sum(axis=-1) < 0, -1.0, 1.0)
    signs = np.concatenate([np.ones((1, *flips.shape[1:])), np.cumprod(flips, axis=0)])
    same: Floats = quaternions * signs[..., None]
    return same


def between(first: Floats, second: Floats, share: float) -> Floats:
    """The rotations (F, 3, 3) that lie at a share of the way from the first to the second."""
    way = vectors_of(np.swapaxes(first, -1, -2) @ second)
    turned: Floats = first @ turned_by(share * way)
    return turned


def about(axis: Floats, angles: Floats) -> Floats:
    """Rotation matrices (F, 3, 3) about one axis (3,) or one for each (F, 3), by angles (F,)."""
    return turned_by(np.broadcast_to(axis, (len(angles), 3)) * angles[:, None])


def softly_limited(angles: Floats, limit: float) -> Floats:
    """Angles that never go beyond ±limit, and are left alone well within it."""
    free = _FREE_SHARE * limit
    beyond = np.abs(angles) - free
    slowed = free + (limit - free) * np.tanh(np.maximum(beyond, 0.0) / (limit - free))
    limited: Floats = np.where(beyond > 0.0, np.sign(angles) * slowed, angles)
    return limited


def turned_at_most(rotations: Floats, limit: float) -> Floats:
    """Rotations (F, 3, 3) about the same axes by no more than a limit, radians."""
    vectors = vectors_of(rotations)
    angle = np.linalg.norm(vectors, axis=1)
    scale = softly_limited(angle, limit) / np.maximum(angle, 1e-12)
    return turned_by(vectors * np.where(angle > 1e-9, scale, 1.0)[:, None])


def twisted_at_most(rotations: Floats, axis: Floats, limit: float) -> Floats:
    """Rotations (F, 3, 3) that swing as before but turn about an axis (3,) of before the swing by no more than a limit."""
    quaternions = quaternions_of(rotations)
    twist = 2.0 * np.arctan2(quaternions[:, 1:] @ axis, quaternions[:, 0])
    twist = np.arctan2(np.sin(twist), np.cos(twist))
    limited: Floats = rotations @ about(axis, softly_limited(twist, limit) - twist)
    return limited


def mean_of(rotations: Floats) -> Floats:
    """The rotation (3, 3) nearest to the mean of many (F, 3, 3)."""
    left, _, right = np.linalg.svd(rotations.mean(axis=0))
    nearest: Floats = left @ np.diag([1.0, 1.0, np.linalg.det(left @ right)]) @ right
    return nearest


def without_offset(rotations: Floats, known: NDArray[np.bool_], allowed: float) -> Floats:
    """Rotations (F, 3, 3) without what their mean over the known frames lies beyond ``allowed`` radians from no rotation.

    A segment that is turned by more than that throughout a whole take is not so: its axes are.
    """
    mean = vectors_of(mean_of(rotations[known]))
    angle = float(np.linalg.norm(mean))
    if angle <= allowed:
        return rotations
    excess = turned_by(mean * (1.0 - allowed / angle))
    corrected: Floats = rotations @ excess.T
    return corrected


def filled(rotations: Floats, known: NDArray[np.bool_]) -> Floats:
    """Rotations (F, 3, 3) with gaps bridged from the last known one to the next, held at both ends; none known: no rotation."""
    if known.all():
        return rotations
    if not known.any():
        return np.broadcast_to(np.eye(3), rotations.shape).copy()
    at = np.flatnonzero(known)
    quaternions = continuous(quaternions_of(rotations[at]))
    frames = np.arange(len(rotations))
    bridged = interpolated(frames, at, quaternions)
    found: Floats = matrices_of(bridged)
    return found


def filled_places(places: Floats, known: NDArray[np.bool_]) -> Floats:
    """Places (F, N) with gaps bridged by straight lines, held at both ends; none known: zeros."""
    if not known.any():
        return np.zeros_like(places)
    at, frames = np.flatnonzero(known), np.arange(len(places))
    bridged = interpolated(frames, at, places[at])
    return bridged
