"""The pose as it is compared: against the dancer's own place and heading, in leg lengths. Leaning and tilting stay in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_JOINTS, SIDE_SUFFIXES
from ..body.geometry import UP
from ..body.movement import JOINTS, Movement
from ..take import Floats

#: Joints whose places make the pose; hips and hands say little more than their neighbours.
_PARTS = (
    *(f"{name}{suffix}" for suffix in SIDE_SUFFIXES for name in ("knee", "ankle", "toe", *ARM_JOINTS)),
    "lumbar", "neck", "head",
)  # fmt: skip
#: Samples a second of the poses. Faster than this nobody dances; proposed default.
POSES_HZ = 50.0
#: A facing that differs by a quarter turn counts as so many leg lengths. Proposed default.
FACING = 0.3
_SMOOTH_S = 0.02


@dataclass(frozen=True)
class Poses:
    """A take as poses at POSES_HZ.

    time_s (K,). parts (K, Q, 3): joints against the pelvis with the heading taken out, and last the pelvis' height above the
    floor, in leg lengths; bridged where unknown. known (K, Q). heading (K,): of the pelvis, unwrapped, radians, bridged.
    """

    time_s: Floats
    parts: Floats
    known: NDArray[np.bool_]
    heading: Floats

    @property
    def flat(self) -> Floats:
        """Pose as one row (K, Q·3) whose Euclidean distance is the root mean square distance of the parts."""
        return np.asarray(self.parts.reshape(len(self.parts), -1) / np.sqrt(self.parts.shape[1]))


def leg_length_m(movement: Movement) -> float:
    """Length of a leg: hip to knee to ankle. From the movement itself, so that a static take changes nothing."""
    lengths = [
        np.linalg.norm(movement.joint(f"{one}{x}") - movement.joint(f"{other}{x}"), axis=1)
        for x in SIDE_SUFFIXES
        for one, other in (("hip", "knee"), ("knee", "ankle"))
    ]
    known = [float(np.median(length[np.isfinite(length)])) for length in lengths if np.isfinite(length).any()]
    return 2 * float(np.mean(known)) if known else 0.8


def rooted(movement: Movement) -> Floats:
    """Joint centres (F, J, 3) against the pelvis on the floor, forward along x, metres: heading and place are taken out, height
    and leaning stay."""
    forward = movement.segment("pelvis")[:, :, 0] * [1.0, 1.0, 0.0]
    forward = forward / np.linalg.norm(forward, axis=1, keepdims=True)
    axes = np.stack([forward, np.cross(UP, forward), np.broadcast_to(UP, forward.shape)], axis=1)
    away = movement.joint_centres_m - (movement.joint("pelvis") * [1.0, 1.0, 0.0])[:, None]
    return np.asarray(np.einsum("fij,fkj->fki", axes, away))


def _filled(values: Floats, known: NDArray[np.bool_]) -> Floats:
    """Columns (F, C) with unknown samples bridged by straight lines; zeros where nothing is known."""
    whole, index = values.copy(), np.arange(len(values))
    for column in np.flatnonzero(~known.all(axis=0)):
        have = known[:, column]
        whole[:, column] = np.interp(index, index[have], values[have, column]) if have.any() else 0.0
    return whole


def poses_of(movement: Movement) -> Poses:
    """The poses of a movement; joints that are not known are marked, and bridged."""
    from scipy.ndimage import gaussian_filter1d  # loaded when takes are compared

    leg = leg_length_m(movement)
    with np.errstate(invalid="ignore", divide="ignore"):
        places = rooted(movement)
    root = places[:, JOINTS.index("pelvis")]
    against = places[:, [JOINTS.index(name) for name in _PARTS]] - root[:, None]
    parts = np.concatenate([against, root[:, None]], axis=1) / leg
    known = np.isfinite(parts).all(axis=2)
    frames = len(known)
    whole = _filled(parts.reshape(frames, -1), np.repeat(known, 3, axis=1))
    yaw = movement.angle("pelvis_yaw")
    heading = _filled(yaw[:, None], np.isfinite(yaw)[:, None])[:, 0]
    # Smoothed to the rate of the poses, so that none of the movement folds back.
    width = movement.rate_hz * max(_SMOOTH_S, 0.35 / POSES_HZ)
    whole = gaussian_filter1d(whole, width, axis=0, mode="nearest", truncate=3.0)
    time_s = np.arange(int(np.floor(movement.time_s[-1] * POSES_HZ + 1e-6)) + 1) / POSES_HZ
    place = np.clip(time_s * movement.rate_hz, 0, frames - 1)
    low = np.minimum(place.astype(np.int64), max(frames - 2, 0))
    share = (place - low)[:, None]
    high = np.minimum(low + 1, frames - 1)
    sampled = whole[low] * (1 - share) + whole[high] * share
    return Poses(
        time_s,
        sampled.reshape(len(time_s), -1, 3),
        known[low] & known[high],
        heading[low] * (1 - share[:, 0]) + heading[high] * share[:, 0],
    )


def at_times(values: Floats, time_s: Floats) -> Floats:
    """Rows (N, …) of values (K, …), which are sampled at POSES_HZ, at times (N,), by straight lines; the ends go on."""
    place = np.clip(time_s * POSES_HZ, 0, len(values) - 1)
    low = np.minimum(place.astype(np.int64), max(len(values) - 2, 0))
    share = (place - low).reshape(-1, *(1,) * (values.ndim - 1))
    return np.asarray(values[low] * (1 - share) + values[np.minimum(low + 1, len(values) - 1)] * share)
