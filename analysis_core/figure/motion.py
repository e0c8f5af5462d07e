"""What the bones do on every frame, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.movement import SEGMENTS, Movement
from ..take import Floats
from .proportions import PARENTS, Rest

#: A bone that always stays this near to where its parent holds it gets no keys of place.
_HELD_M = 0.0005


@dataclass(frozen=True)
class Motion:
    """quaternions (F, S, 4) w, x, y, z and places (F, S, 3), metres, both in each bone's own rest axes, against its parent.

    moves (S,): whether a bone's place changes. known (F, S): False where the last known pose is held, or the rest pose where
    nothing was ever known.
    """

    quaternions: Floats
    places: Floats
    moves: NDArray[np.bool_]
    known: NDArray[np.bool_]


def bone_axes(rest: Rest) -> Floats:
    """Rest axes (S, 3, 3) of the bones: Blender's bones point along their Y, which is down the limbs."""
    axes = rest.rotations.copy()
    for index, name in enumerate(SEGMENTS):
        if points_down(name):
            axes[index] = axes[index] @ np.diag([1.0, -1.0, -1.0])
    return axes


def points_down(name: str) -> bool:
    """Whether a bone runs against the Y axis of its segment: arms and legs do, the trunk does not."""
    return name.partition(".")[0] in ("upper_arm", "forearm", "hand", "thigh", "shank", "foot", "toes")


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


def continuous(quaternions: Floats) -> Floats:
    """The same rotations (F, …, 4) without changes of sign from frame to frame."""
    flips = np.where((quaternions[1:] * quaternions[:-1]).sum(axis=-1) < 0, -1.0, 1.0)
    signs = np.concatenate([np.ones((1, *flips.shape[1:])), np.cumprod(flips, axis=0)])
    same: Floats = quaternions * signs[..., None]
    return same


def _held(values: Floats, known: NDArray[np.bool_]) -> Floats:
    """Values (F, …) with the last known one held where ``known`` (F,) is False; the first one before it."""
    place = np.maximum.accumulate(np.where(known, np.arange(len(known)), -1))
    place[place < 0] = int(np.argmax(known))
    held: Floats = values[place]
    return held


def motion_of(movement: Movement, rest: Rest) -> Motion:
    """The bones' motion; sample i of the movement is row i."""
    frames, count = movement.frames, len(SEGMENTS)
    axes = bone_axes(rest)
    known = np.isfinite(movement.segment_rotations).all(axis=(2, 3)) & np.isfinite(movement.segment_origins_m).all(axis=2)
    turned = np.empty((frames, count, 3, 3))
    quaternions, places = np.empty((frames, count, 4)), np.zeros((frames, count, 3))
    origins = np.empty((frames, count, 3))
    moves = np.zeros(count, dtype=bool)
    order = sorted(range(count), key=lambda index: _depth(SEGMENTS[index]))
    for index in order:
        name = SEGMENTS[index]
        parent = SEGMENTS.index(PARENTS[name]) if name in PARENTS else None
        above = np.broadcast_to(np.eye(3), (frames, 3, 3)) if parent is None else turned[:, parent]
        offset = rest.heads[index] - (0.0 if parent is None else rest.heads[parent])
        expected = offset if parent is None else origins[:, parent] + above @ offset
        if known[:, index].any():
            # What is not known keeps its pose against the body, not against the room.
            full = np.einsum("fji,fjk->fik", above, movement.segment_rotations[:, index] @ rest.rotations[index].T)
            relative = _held(full, known[:, index])
            shift = _held(np.einsum("fji,fj->fi", above, movement.segment_origins_m[:, index] - expected), known[:, index])
        else:
            relative, shift = np.broadcast_to(np.eye(3), (frames, 3, 3)), np.zeros((frames, 3))
        moves[index] = parent is None or bool((np.abs(shift).max(initial=0.0)) > _HELD_M)
        if not moves[index]:
            shift = np.zeros((frames, 3))
        turned[:, index] = above @ relative
        origins[:, index] = expected + np.einsum("fij,fj->fi", above, shift)
        quaternions[:, index] = quaternions_of(axes[index].T @ relative @ axes[index])
        places[:, index] = shift @ axes[index]
    return Motion(continuous(quaternions), places, moves, known)


def _depth(name: str) -> int:
    return 0 if name not in PARENTS else 1 + _depth(PARENTS[name])


def at_samples(motion: Motion, samples: Floats) -> Motion:
    """The motion at fractional samples (N,), between two of them by their shares."""
    low = np.clip(np.floor(samples).astype(np.int64), 0, len(motion.known) - 1)
    high = np.minimum(low + 1, len(motion.known) - 1)
    share = np.clip(samples - low, 0.0, 1.0)[:, None, None]
    blended = motion.quaternions[low] * (1.0 - share) + motion.quaternions[high] * share
    quaternions = continuous(blended / np.linalg.norm(blended, axis=-1, keepdims=True))
    places = motion.places[low] * (1.0 - share) + motion.places[high] * share
    return Motion(quaternions, places, motion.moves, motion.known[low] & motion.known[high])
