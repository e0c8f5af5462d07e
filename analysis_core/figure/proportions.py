"""This dancer at rest: where every segment begins and how it lies. A human body, whatever the take says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..body.anatomy import (
    ARM_SEGMENTS,
    CLAVICLE_DOWN,
    CLAVICLE_FORWARD,
    CLAVICLE_OUT,
    FOOT_SHAPE,
    HEAD_CENTRE_FORWARD,
    HEAD_CENTRE_UP,
    LUMBAR_AT,
    NECK_FORWARD,
    SHOULDER_BELOW_NECK,
    SIDE_SUFFIXES,
    SKULL_BASE_UP,
    THORAX_AT,
    TOES_AT,
)
from ..body.anatomy import PARENTS as PARENTS
from ..body.geometry import frame_from_y_and_x
from ..body.lengths import Lengths, lengths_of
from ..body.movement import FOOT_POINTS, SEGMENTS, Movement
from ..take import Floats

#: Arms at rest hang this far from the body, so that the skin of the armpit can open and close.
ARM_ANGLE_RAD = np.radians(42.0)
#: Axes of a segment of an upright dancer who faces +X: forward, up, to the right, as columns.
UPRIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])


@dataclass(frozen=True)
class Rest:
    """The dancer at rest, facing +X, the middle of the hips above the origin, the floor at 0; metres.

    stature_m; head_m: chin to crown. heads (S, 3): where each segment of SEGMENTS begins. rotations (S, 3, 3): columns are its
    axes. ends: tips of the segments that end the body: hand.L, hand.R, toes.L, toes.R and head (centre of the head).
    feet (2, 4, 3): FOOT_POINTS of the left and right foot.
    """

    stature_m: float
    head_m: float
    heads: Floats
    rotations: Floats
    ends: dict[str, Floats]
    feet: Floats

    def head_of(self, name: str) -> Floats:
        """Where a segment begins (3,)."""
        head: Floats = self.heads[SEGMENTS.index(name)]
        return head


def _arm_axes(sign: float) -> Floats:
    """Axes of the arm at rest; sign +1 right, -1 left."""
    sine, cosine = np.sin(ARM_ANGLE_RAD), np.cos(ARM_ANGLE_RAD)
    up = np.array([0.0, sign * sine, cosine])
    forward = np.array([1.0, 0.0, 0.0])
    return np.column_stack([forward, up, np.cross(forward, up)])


def _trunk(lengths: Lengths, hip_height: float) -> tuple[dict[str, Floats], Floats]:
    """Where the segments of the trunk begin, and the centre of the head."""
    size, neck = lengths.stature, hip_height + lengths.trunk
    heads = {
        "pelvis": np.array([0.0, 0.0, hip_height]),
        "lumbar": np.array([0.0, 0.0, hip_height + LUMBAR_AT * lengths.trunk]),
        "thorax": np.array([0.0, 0.0, hip_height + THORAX_AT * lengths.trunk]),
        "neck": np.array([NECK_FORWARD * size, 0.0, neck]),
        "head": np.array([NECK_FORWARD * size, 0.0, neck + SKULL_BASE_UP * size]),
    }
    centre = heads["head"] + np.array([HEAD_CENTRE_FORWARD, 0.0, HEAD_CENTRE_UP]) * lengths.head
    return heads, centre


def _arm(lengths: Lengths, neck: Floats, suffix: str) -> tuple[dict[str, Floats], dict[str, Floats], Floats]:
    """Where the segments of an arm begin, how they lie, and the tip of the hand."""
    sign = 1.0 if suffix == ".R" else -1.0
    size, axes = lengths.stature, _arm_axes(sign)
    inner = neck + np.array([CLAVICLE_FORWARD, -sign * CLAVICLE_OUT, -CLAVICLE_DOWN]) * size
    shoulder = np.array([0.0, -sign * lengths.shoulders / 2.0, neck[2] - SHOULDER_BELOW_NECK * size])
    elbow = shoulder - axes[:, 1] * lengths.upper_arm
    wrist = elbow - axes[:, 1] * lengths.forearm
    heads = {"clavicle": inner, "upper_arm": shoulder, "forearm": elbow, "hand": wrist}
    rotations = dict.fromkeys(ARM_SEGMENTS, axes)
    rotations["clavicle"] = frame_from_y_and_x(inner - shoulder, np.array([1.0, 0.0, 0.0]))
    tip = wrist - axes[:, 1] * lengths.hand
    return heads, rotations, tip


def _leg(lengths: Lengths, hip_height: float, suffix: str) -> tuple[dict[str, Floats], Floats]:
    """Where the segments of a leg begin, and the points (4, 3) of its foot."""
    outward = np.array([0.0, -1.0 if suffix == ".R" else 1.0, 0.0])
    hip = outward * lengths.hips / 2.0 + [0.0, 0.0, hip_height]
    knee = hip - [0.0, 0.0, lengths.thigh]
    ankle = knee - [0.0, 0.0, lengths.shank]
    forward, up, out = (np.array(FOOT_SHAPE) * lengths.foot).T
    points = np.stack([forward, out * outward[1], up], axis=1) + ankle * [1.0, 1.0, 0.0]
    toes = np.array([TOES_AT * lengths.foot, ankle[1], float(points[1:3, 2].mean())])
    return {"thigh": hip, "shank": knee, "foot": ankle, "toes": toes}, points


def rest_with(lengths: Lengths) -> Rest:
    """A dancer of given lengths at rest."""
    hip_height = lengths.thigh + lengths.shank + lengths.ankle_height
    heads, centre = _trunk(lengths, hip_height)
    rotations = {name: UPRIGHT for name in SEGMENTS}
    ends, feet = {"head": centre}, np.empty((2, len(FOOT_POINTS), 3))
    for side, suffix in enumerate(SIDE_SUFFIXES):
        arm, turned, ends[f"hand{suffix}"] = _arm(lengths, heads["neck"], suffix)
        leg, feet[side] = _leg(lengths, hip_height, suffix)
        heads |= {name + suffix: place for name, place in (arm | leg).items()}
        rotations |= {name + suffix: axes for name, axes in turned.items()}
        ends[f"toes{suffix}"] = feet[side, FOOT_POINTS.index("toe")]
    return Rest(
        stature_m=lengths.stature,
        head_m=lengths.head,
        heads=np.array([heads[name] for name in SEGMENTS]),
        rotations=np.array([rotations[name] for name in SEGMENTS]),
        ends=ends,
        feet=feet,
    )


def rest_of(movement: Movement) -> Rest:
    """The dancer of a movement at rest; what the take does not show is taken from usual proportions."""
    return rest_with(lengths_of(movement))
