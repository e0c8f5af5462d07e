"""Euler angles without jumps from frame to frame."""

from __future__ import annotations

import numpy as np

from ..take import Floats


def _without_jumps(first: Floats) -> Floats:
    """Triples (F, …, 3) of the same rotations, chosen so that they go on from frame to frame.

    Three angles about different axes have two triples, (a, b, c) and (a + π, π − b, c + π): of the two the one nearer to the
    frame before is taken, then whole turns are undone.
    """
    a, b, c = first[..., 0], first[..., 1], first[..., 2]
    second = np.stack([a + np.pi, np.pi - b, c + np.pi], axis=-1)

    def apart(one: Floats, other: Floats) -> Floats:
        step: Floats = np.abs(np.angle(np.exp(1j * (one - other)))).sum(axis=-1)
        return step

    # Whether "the other triple" is nearer is the same question from either one, so the choice is a running exclusive-or.
    changes = apart(second[1:], first[:-1]) < apart(first[1:], first[:-1])
    other = np.concatenate([np.zeros(first[:1, ..., 0].shape, dtype=bool), np.cumsum(changes, axis=0) % 2 == 1])
    unwrapped: Floats = np.unwrap(np.where(other[..., None], second, first), axis=0)
    return unwrapped


def euler_zxy(rotations: Floats) -> Floats:
    """Angles (F, …, 3) z, x, y, radians, of rotations (F, …, 3, 3) = Rz Rx Ry, as BVH writes them."""
    x = np.arcsin(np.clip(rotations[..., 2, 1], -1.0, 1.0))
    z = np.arctan2(-rotations[..., 0, 1], rotations[..., 1, 1])
    y = np.arctan2(-rotations[..., 2, 0], rotations[..., 2, 2])
    return _without_jumps(np.stack([z, x, y], axis=-1))


def euler_xyz(rotations: Floats) -> Floats:
    """Angles (F, …, 3) x, y, z, radians, of rotations (F, …, 3, 3) = Rz Ry Rx, as FBX writes them."""
    y = np.arcsin(np.clip(-rotations[..., 2, 0], -1.0, 1.0))
    x = np.arctan2(rotations[..., 2, 1], rotations[..., 2, 2])
    z = np.arctan2(rotations[..., 1, 0], rotations[..., 0, 0])
    return _without_jumps(np.stack([x, y, z], axis=-1))
