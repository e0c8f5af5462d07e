"""The dancer as animators expect her: a T- or A-pose that faces −Y, bones of constant length, world rotations away from rest."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS, LEG_SEGMENTS, NEXT, SIDE_SIGNS, SIDE_SUFFIXES
from ..body.movement import FOOT_POINTS, SEGMENTS
from ..figure.motion import Poses
from ..figure.proportions import PARENTS, Rest
from ..take import Floats
from .wishes import RestPose

#: Parent of each segment of SEGMENTS, -1 for the pelvis.
PARENT_OF: NDArray[np.int64] = np.array([SEGMENTS.index(PARENTS[name]) if name in PARENTS else -1 for name in SEGMENTS])


def _depth(index: int) -> int:
    parent = int(PARENT_OF[index])
    return 0 if parent < 0 else 1 + _depth(parent)


#: Segments with every parent before its children.
TOP_DOWN = tuple(sorted(range(len(SEGMENTS)), key=_depth))
#: Axes (columns forward, up, right) of an upright segment of a dancer who faces −Y with Z up; her left is +X.
FACING = np.array([[0.0, 0.0, -1.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
#: How far the arms hang below the horizontal at rest. T-pose and A-pose as rigs of the trade have them (common practice).
ARM_BELOW_HORIZONTAL_RAD = {"t-pose": 0.0, "a-pose": float(np.radians(45.0))}
#: Metres from a segment's head to its tip where no segment goes on.
_LEAST_LENGTH_M = 0.02


@dataclass(frozen=True)
class RestSkeleton:
    """The body at rest, facing −Y, Z up, soles at 0, the middle of the hips above the origin; metres.

    heads (S, 3) in the order of SEGMENTS; axes (S, 3, 3): columns are each segment's anatomical axes (forward, up along the
    segment, right) in this pose; bones (S, 3, 3): columns are the bone's own axes: Y down the limb or up the trunk, X the
    hinge of knee and elbow. lengths_m (S,). feet (2, 4, 3): FOOT_POINTS. stature_m. pose: which rest pose this is.
    """

    pose: RestPose
    heads: Floats
    axes: Floats
    bones: Floats
    lengths_m: Floats
    feet: Floats
    stature_m: float


@dataclass(frozen=True)
class Skeleton:
    """The dancer in motion on bones of constant length.

    rest. turned (F, S, 3, 3): world rotation of every segment away from rest; pelvis_m (F, 3): head of the pelvis (the middle
    of the hips). rate_hz. known (F, S): False where the last known pose is held, since the recording does not show it.
    on_floor (F, 2): whether the left and the right foot is in contact with the floor.
    """

    rest: RestSkeleton
    turned: Floats
    pelvis_m: Floats
    rate_hz: float
    known: NDArray[np.bool_]
    on_floor: NDArray[np.bool_]

    @property
    def frames(self) -> int:
        """Number of samples."""
        return int(self.pelvis_m.shape[0])

    @cached_property
    def heads_m(self) -> Floats:
        """Where every segment begins (F, S, 3), metres; not to be written to."""
        before = np.maximum(PARENT_OF, 0)
        heads: Floats = np.einsum("fsij,sj->fsi", self.turned[:, before], self.rest.heads - self.rest.heads[before])
        for index in TOP_DOWN:
            heads[:, index] += self.pelvis_m if PARENT_OF[index] < 0 else heads[:, PARENT_OF[index]]
        heads.flags.writeable = False
        return heads


def _about(axis: Floats, angle: float) -> Floats:
    """Rotation (3, 3) about a unit axis (Rodrigues)."""
    x, y, z = axis
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turned: Floats = np.eye(3) + np.sin(angle) * skew + (1.0 - np.cos(angle)) * (skew @ skew)
    return turned


def _arm_axes(pose: RestPose) -> dict[str, Floats]:
    """Axes of the arm at rest: raised to the side, elbows hinging forward, palms down.

    The upper arm is the hanging arm (forward, up, right of the dancer) raised about her forward axis; forearm and hand are
    turned on by a quarter so that the palm, which faces forward in the anatomical position, faces the floor.
    """
    axes: dict[str, Floats] = {}
    raised = np.pi / 2 - ARM_BELOW_HORIZONTAL_RAD[pose]
    for suffix, sign in zip(SIDE_SUFFIXES, SIDE_SIGNS, strict=True):
        # Raising a right arm turns it about the forward axis from down to the dancer's right (−X); forward is −Y.
        lift = _about(FACING[:, 0], -sign * raised)
        upper = lift @ FACING
        along = upper[:, 1]
        fore = _about(along, sign * np.pi / 2) @ upper
        axes |= {f"upper_arm{suffix}": upper, f"forearm{suffix}": fore, f"hand{suffix}": fore}
    return axes


def _bone_axes(axes: Floats) -> Floats:
    """The bones' own axes (S, 3, 3): Y along the bone, X the hinge, on limbs to the dancer's left."""
    bones = np.empty_like(axes)
    for index, name in enumerate(SEGMENTS):
        base = name.partition(".")[0]
        forward, up, right = axes[index].T
        if base in LEG_SEGMENTS[2:]:
            # A foot's bone runs forward; its hinge is the same axis as the knee's.
            bones[index] = np.column_stack([-right, forward, np.cross(-right, forward)])
        elif base in (*LEG_SEGMENTS[:2], *ARM_SEGMENTS):
            bones[index] = np.column_stack([-right, -up, np.cross(-right, -up)])
        else:
            bones[index] = np.column_stack([-right, up, np.cross(-right, up)])
    return bones


def _clavicle_bones(bones: Floats, heads: Floats) -> None:
    """A clavicle's bone points at its shoulder, its X staying as near to the old one as that allows; changed in place."""
    for suffix in SIDE_SUFFIXES:
        index = SEGMENTS.index(f"clavicle{suffix}")
        along = heads[SEGMENTS.index(f"upper_arm{suffix}")] - heads[index]
        length = np.linalg.norm(along)
        if length < _LEAST_LENGTH_M:
            continue
        y = along / length
        z = np.array([0.0, 0.0, 1.0]) - y[2] * y
        z /= np.linalg.norm(z)
        bones[index] = np.column_stack([np.cross(y, z), y, z])


def rest_skeleton(rest: Rest, pose: RestPose = "t-pose") -> RestSkeleton:
    """The figure's rest, with the same lengths, in a T- or A-pose that faces −Y.

    Segments of trunk and legs stand upright; a clavicle keeps its place against the thorax; feet are parallel, soles at 0.
    """
    arms = _arm_axes(pose)
    thorax = rest.rotations[SEGMENTS.index("thorax")]
    axes, heads = np.empty((len(SEGMENTS), 3, 3)), np.zeros((len(SEGMENTS), 3))
    for index in TOP_DOWN:
        name, parent = SEGMENTS[index], PARENT_OF[index]
        if name.startswith("clavicle"):
            axes[index] = FACING @ thorax.T @ rest.rotations[index]
        else:
            axes[index] = arms.get(name, FACING)
        if parent >= 0:
            offset = rest.rotations[parent].T @ (rest.heads[index] - rest.heads[parent])
            heads[index] = heads[parent] + axes[parent] @ offset
    feet = np.empty((2, len(FOOT_POINTS), 3))
    for side, suffix in enumerate(SIDE_SUFFIXES):
        index = SEGMENTS.index(f"foot{suffix}")
        feet[side] = heads[index] + (rest.feet[side] - rest.heads[index]) @ rest.rotations[index] @ axes[index].T
    # The figure stands with its soles at 0; points of the foot lie on skin or shoe and may lie above the sole.
    foot = SEGMENTS.index("foot.R")
    floor = np.array([0.0, 0.0, heads[foot, 2] - rest.heads[foot, 2]])
    bones = _bone_axes(axes)
    _clavicle_bones(bones, heads)
    heads, feet = heads - floor, feet - floor
    return RestSkeleton(pose, heads, axes, bones, _lengths(rest, heads, axes, bones), feet, rest.stature_m)


def _lengths(rest: Rest, heads: Floats, axes: Floats, bones: Floats) -> Floats:
    """Length of every bone (S,): to where the next begins, or to the tip, measured along the bone."""
    lengths = np.empty(len(SEGMENTS))
    for index, name in enumerate(SEGMENTS):
        base, dot, side = name.partition(".")
        after = NEXT.get(base)
        if after is not None:
            end = heads[SEGMENTS.index(after + dot + side)]
        else:
            tip = rest.ends[name] - rest.heads[index]
            end = heads[index] + axes[index] @ rest.rotations[index].T @ tip
        lengths[index] = max(float((end - heads[index]) @ bones[index, :, 1]), _LEAST_LENGTH_M)
    return lengths


def skeleton_of(rest: Rest, poses: Poses, rate_hz: float, on_floor: NDArray[np.bool_], pose: RestPose = "t-pose") -> Skeleton:
    """The figure's poses (sample i is row i) on bones of constant length, away from a T- or A-pose."""
    resting = rest_skeleton(rest, pose)
    # From "away from the figure's rest" to "away from this rest": the segments themselves lie as they lay.
    other = rest.rotations @ np.swapaxes(resting.axes, -1, -2)
    turned = np.empty((len(poses.known), len(SEGMENTS), 3, 3))
    for index, name in enumerate(SEGMENTS):
        # All rows of all frames at once: many times as quick as a small product for each frame.
        turned[:, index] = (poses.turned[name].reshape(-1, 3) @ other[index]).reshape(-1, 3, 3)
    return Skeleton(resting, turned, rest.head_of("pelvis") + poses.shift_m, rate_hz, poses.known, on_floor)
