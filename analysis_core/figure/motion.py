"""What the bones of a figure do in every frame, as arrays: turns at the joints, and the place of the pelvis.

Every bone but the pelvis hangs where the one before it ends, at the length it has at rest: the figure cannot come apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS, LEG_SEGMENTS
from ..body.lengths import soles_believed
from ..body.movement import SEGMENTS, Movement
from ..body.rotations import continuous, filled_places, matrices_of, quaternions_of
from ..smoothed import bell
from ..take import Floats
from .limbs import turns_of
from .on_ground import IN_ORDER, MOST_M, on_the_ground, origins_of, soles_of
from .proportions import PARENTS, Rest

#: The lower a foot is, the more it says where the body is: weight falls to a third at this height. The pelvis itself counts this
#: much beside a foot on the floor. Proposed defaults.
_FOOT_COUNTS_TO_M, _PELVIS_COUNTS = 0.04, 0.03
#: What is put right between feet and pelvis changes no faster than over about this time (and is never more than MOST_M).
_EVEN_S = 0.05


@dataclass(frozen=True)
class Motion:
    """quaternions (F, S, 4) w, x, y, z of SEGMENTS in each bone's own rest axes (``bone_axes``), against its parent; shift_m
    (F, 3): how far the pelvis is from its place at rest, in the laboratory. known (F, S): False where a pose is bridged or
    held, or of rest where nothing was ever known.
    """

    quaternions: Floats
    shift_m: Floats
    known: NDArray[np.bool_]


@dataclass(frozen=True)
class Poses:
    """turned: turns (F, 3, 3) away from rest of each of SEGMENTS, in the laboratory; shift_m and known as in Motion."""

    turned: dict[str, Floats]
    shift_m: Floats
    known: NDArray[np.bool_]


def bone_axes(rest: Rest) -> Floats:
    """Rest axes (S, 3, 3) of the bones: a bone points along its Y, which is down the limbs."""
    axes = rest.rotations.copy()
    for index, name in enumerate(SEGMENTS):
        if points_down(name):
            axes[index] = axes[index] @ np.diag([1.0, -1.0, -1.0])
    return axes


def points_down(name: str) -> bool:
    """Whether a bone runs against the Y axis of its segment: arms and legs do, the trunk does not."""
    return name.partition(".")[0] in (*ARM_SEGMENTS, *LEG_SEGMENTS)


def _soles_wanted(movement: Movement, rest: Rest) -> Floats:
    """Where the points of the feet (F, 2, 4, 3) should be: as high above their place on the ground as the dancer's own are above
    theirs when the foot stands. So a foot in a heeled shoe, or with markers on its upper, stands on the floor."""
    wanted = movement.foot_points_m.copy()
    own = movement.ground_m[:, :, None] + movement.foot_heights_m + rest.feet[..., 2]
    wanted[..., 2] = np.where(np.isfinite(own), own, wanted[..., 2])
    return wanted


def _shift(movement: Movement, rest: Rest, turned: dict[str, Floats]) -> Floats:
    """Where the pelvis is put (F, 3): where it was, moved so that the feet that are low stand where they stood."""
    hips = movement.joint("pelvis")
    known = np.isfinite(hips).all(axis=1)
    shift = filled_places(np.nan_to_num(hips), known) - rest.head_of("pelvis")
    origins = origins_of(turned, rest) + shift[:, None]
    points = soles_of(turned, origins, rest)
    ankles = np.stack([movement.joint("ankle.L"), movement.joint("ankle.R")], axis=1)
    wanted = _soles_wanted(movement, rest)
    apart = np.where(
        soles_believed(movement)[:, None],
        (wanted - points).mean(axis=2),
        ankles - origins[:, [SEGMENTS.index("foot.L"), SEGMENTS.index("foot.R")]],
    )
    heights = movement.foot_heights_m
    lifted = np.where(np.isfinite(heights), heights, np.inf).min(axis=2)
    weight = np.exp(-np.maximum(lifted, 0.0) / _FOOT_COUNTS_TO_M)
    seen = np.isfinite(apart).all(axis=2)
    weight = np.where(seen, weight, 0.0)
    moved = (weight[..., None] * np.nan_to_num(apart)).sum(axis=1) / (weight.sum(axis=1) + _PELVIS_COUNTS)[:, None]
    moved = filled_places(moved, seen.any(axis=1))
    length = np.linalg.norm(moved, axis=1, keepdims=True)
    moved *= np.minimum(1.0, MOST_M / np.maximum(length, 1e-9))
    moved_to: Floats = shift + bell(moved, _EVEN_S * movement.rate_hz)
    return moved_to


def poses_of(movement: Movement, rest: Rest) -> Poses:
    """How the figure at rest lies when it follows a movement; sample i of the movement is row i."""
    turns = turns_of(movement, rest)
    turned, shift = on_the_ground(movement, rest, turns.turned, _shift(movement, rest, turns.turned))
    return Poses(turned, shift, turns.known)


def motion_of(movement: Movement, rest: Rest) -> Motion:
    """The same as what its bones do, each against its parent."""
    poses, axes = poses_of(movement, rest), bone_axes(rest)
    quaternions = np.empty((movement.frames, len(SEGMENTS), 4))
    for index, name in enumerate(SEGMENTS):
        turned = poses.turned[name]
        against = np.swapaxes(poses.turned[PARENTS[name]], 1, 2) @ turned if name in PARENTS else turned
        quaternions[:, index] = quaternions_of(axes[index].T @ against @ axes[index])
    return Motion(continuous(quaternions), poses.shift_m, poses.known)


def placed(motion: Motion, rest: Rest) -> tuple[Floats, Floats]:
    """Turns away from rest (F, S, 3, 3) and beginnings (F, S, 3) of all segments in the laboratory."""
    axes = bone_axes(rest)
    against = axes @ matrices_of(motion.quaternions) @ np.swapaxes(axes, 1, 2)
    turned = {name: against[:, SEGMENTS.index(name)] for name in SEGMENTS}
    for name in IN_ORDER:
        if name in PARENTS:
            turned[name] = turned[PARENTS[name]] @ turned[name]
    origins = origins_of(turned, rest) + motion.shift_m[:, None]
    return np.stack([turned[name] for name in SEGMENTS], axis=1), origins


def chosen(motion: Motion, frames: NDArray[np.int64]) -> Motion:
    """The motion at whole samples (N,)."""
    return Motion(motion.quaternions[frames], motion.shift_m[frames], motion.known[frames])


def at_samples(motion: Motion, samples: Floats) -> Motion:
    """The motion at fractional samples (N,), between two of them by their shares."""
    low = np.clip(np.floor(samples).astype(np.int64), 0, len(motion.known) - 1)
    high = np.minimum(low + 1, len(motion.known) - 1)
    share = np.clip(samples - low, 0.0, 1.0)[:, None]
    blended = motion.quaternions[low] * (1.0 - share[..., None]) + motion.quaternions[high] * share[..., None]
    quaternions = continuous(blended / np.linalg.norm(blended, axis=-1, keepdims=True))
    shift = motion.shift_m[low] * (1.0 - share) + motion.shift_m[high] * share
    return Motion(quaternions, shift, motion.known[low] & motion.known[high])
