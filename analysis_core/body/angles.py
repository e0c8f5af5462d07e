"""Angles of joints and segments in every frame, by the conventions of ``Movement``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..paths import side_by_side
from ..take import Floats
from .anatomy import ARM_JOINTS, LEG_JOINTS, SIDE_SUFFIXES
from .geometry import (
    UP,
    angle_between,
    azimuth_out,
    cardan_zxy,
    cross,
    dot,
    horizontal,
    mirror_left,
    reject,
    relative,
    unit,
    unwrap,
    without_jumps,
)
from .heading import facing, followed, whole_body_steps
from .movement import ANGLES, SIDE_SIGNS, foot_line
from .posed import Posed

#: Below this bend the knee says nothing about where the leg is turned (catalogue: direction of the knee).
LEAST_KNEE_BEND = np.radians(25.0)
#: A leg that hangs nearer to the vertical than this points nowhere on the floor.
LEAST_ELEVATION = np.radians(10.0)
#: Angles about the hip's first and last axis err by this share's inverse more near the singularity: trusted fully up to 60°.
_FULL_TRUST_COS = 0.5
#: Above this pitch the heel-to-toe line has no direction on the floor and what lies square to it in the sole is used instead.
STEEP_FOOT = np.radians(60.0)


@dataclass(frozen=True)
class KneeDirection:
    """Where a bent knee points. azimuth (F,): outward, radians; distance_m (F,): of the knee from the line hip to ankle."""

    azimuth: Floats
    distance_m: Floats


def knee_direction(hip: Floats, knee: Floats, ankle: Floats, forward: Floats, side_sign: float) -> KneeDirection:
    """Direction of the knee from the line hip-ankle, from three joint centres (F, 3); catalogue, knee direction.

    Valid whatever the bend; who uses it decides how small a distance still says something.
    """
    line = unit(ankle - hip)
    offset = reject(knee - hip, line)
    return KneeDirection(azimuth_out(offset, forward, side_sign), np.linalg.norm(offset, axis=-1))


def knee_bend(hip: Floats, knee: Floats, ankle: Floats) -> Floats:
    """Unsigned knee flexion (F,): 0 = straight, from three joint centres (F, 3)."""
    return np.pi - angle_between(hip - knee, ankle - knee)


def medial_knee_displacement(knee: Floats, ankle: Floats, foot_axis: Floats, side_sign: float) -> Floats:
    """How far the knee (F, 3) lies inside the vertical plane through the ankle along the foot (F,), metres, + = inside."""
    medial = -side_sign * cross(unit(horizontal(foot_axis)), UP)
    return dot(knee - ankle, medial)


def foot_direction(axis: Floats, foot: Floats) -> Floats:
    """Where a foot points over the floor (F, 3), from its line (F, 3), see ``foot_line``, and its rotation (F, 3, 3).

    On high demi-pointe from what lies square to the line in the sole, not from the outer heads of the metatarsals themselves: the
    fifth lies behind the first and lower, which shows to the side as the foot is pitched, and a foot that is only stretched would
    seem to turn by 7° and more.
    """
    pitch = np.arctan2(-axis[:, 2], np.linalg.norm(axis[:, :2], axis=1))
    return np.where((np.abs(pitch) > STEEP_FOOT)[:, None], cross(UP, cross(axis, foot[:, :, 1])), axis)


def _leg(posed: Posed, index: int, suffix: str, forward: Floats, angles: dict[str, Floats]) -> None:
    sign = SIDE_SIGNS[index]
    hip, knee, ankle = (posed.joints[name + suffix] for name in LEG_JOINTS)
    pelvis, thigh, shank, foot = (
        posed.rotations[name] for name in ("pelvis", "thigh" + suffix, "shank" + suffix, "foot" + suffix)
    )

    def joint_angles(proximal: Floats, distal: Floats) -> Floats:
        rotation = relative(proximal, distal)
        return cardan_zxy(mirror_left(rotation) if sign < 0 else rotation)

    hip_angles = without_jumps(joint_angles(pelvis, thigh))
    angles["hip_flexion" + suffix] = hip_angles[:, 0]
    angles["hip_abduction" + suffix] = -hip_angles[:, 1]
    bend = knee_bend(hip, knee, ankle)
    angles["knee_flexion" + suffix] = -joint_angles(thigh, shank)[:, 0]
    angles["ankle_dorsiflexion" + suffix] = joint_angles(shank, foot)[:, 0]
    points = posed.foot_points[:, index]
    angles["foot_turnout" + suffix] = azimuth_out(foot_direction(foot_line(points, foot), foot), forward, sign)
    angles["knee_turnout" + suffix] = np.where(
        bend > LEAST_KNEE_BEND, knee_direction(hip, knee, ankle, forward, sign).azimuth, np.nan
    )
    leg = ankle - hip
    angles["leg_elevation" + suffix] = angle_between(leg, np.broadcast_to(-UP, leg.shape))
    angles["leg_azimuth" + suffix] = np.where(
        angles["leg_elevation" + suffix] > LEAST_ELEVATION, unwrap(azimuth_out(leg, forward, sign)), np.nan
    )
    long_axis = foot[:, :, 0]
    angles["plantarflexion" + suffix] = np.pi / 2 - angle_between(-shank[:, :, 1], long_axis)
    lateral = sign * shank[:, :, 2]
    middle = 0.5 * (points[:, 1] + points[:, 2])
    angles["foot_deviation" + suffix] = np.arcsin(np.clip(dot(unit(middle - ankle), lateral), -1, 1))
    to_right = pelvis[:, :, 2]
    frontal = [reject(part, pelvis[:, :, 0]) for part in (hip - knee, ankle - knee)]
    inside = -sign * dot(knee - (hip + ankle) * 0.5, to_right)
    angles["frontal_knee" + suffix] = np.sign(inside) * (np.pi - angle_between(frontal[0], frontal[1]))
    arm = [posed.joints[name + suffix] for name in ARM_JOINTS]
    angles["elbow_flexion" + suffix] = np.pi - angle_between(arm[0] - arm[1], arm[2] - arm[1])


def _seen(rotation: Floats) -> NDArray[np.bool_]:
    known: NDArray[np.bool_] = np.isfinite(rotation).all(axis=(1, 2))
    return known


def measure_angles(posed: Posed, *, in_time: bool = True) -> Floats:
    """All angles (F, A) in the order of ANGLES; NaN where a segment is not known.

    in_time: the frames follow each other, so that headings can be followed where a segment has none (``heading``).
    """
    pelvis, thorax, head = (posed.rotations[name] for name in ("pelvis", "thorax", "head"))
    forward = pelvis[:, :, 0]
    ahead = facing(pelvis)
    right = cross(ahead, UP)
    steps = whole_body_steps(posed.joints) if in_time else np.full(max(posed.frames - 1, 0), np.nan)
    angles: dict[str, Floats] = {}
    for index, suffix in enumerate(SIDE_SUFFIXES):
        _leg(posed, index, suffix, ahead, angles)
    angles["pelvis_yaw"] = followed(ahead, steps, _seen(pelvis))
    forward_up, sideways_up = forward[:, 2], pelvis[:, 2, 2]
    angles["pelvis_tilt"] = -np.arcsin(np.clip(forward_up, -1, 1))
    angles["pelvis_obliquity"] = np.arcsin(np.clip(sideways_up, -1, 1))
    trunk = posed.joints["neck"] - posed.joints["pelvis"]
    angles["trunk_pitch"] = np.arctan2(dot(trunk, ahead), trunk[:, 2])
    angles["trunk_roll"] = np.arctan2(dot(trunk, right), trunk[:, 2])
    across = posed.joints["shoulder.R"] - posed.joints["shoulder.L"]
    across_up = unit(across)[:, 2]
    angles["shoulder_roll"] = np.arcsin(np.clip(across_up, -1, 1))
    angles["thorax_yaw"] = followed(facing(thorax), steps, _seen(thorax))
    thorax_angles = cardan_zxy(relative(pelvis, thorax))
    angles["thorax_extension"] = thorax_angles[:, 0]
    angles["thorax_side_bend"] = thorax_angles[:, 1]
    angles["thorax_twist"] = thorax_angles[:, 2]
    head_angles = cardan_zxy(relative(thorax, head))
    angles["head_pitch"] = head_angles[:, 0]
    angles["head_roll"] = head_angles[:, 1]
    angles["head_yaw"] = head_angles[:, 2]
    angles["head_heading"] = followed(facing(head), steps, _seen(head))
    return side_by_side(angles[name] for name in ANGLES)


def angle_trust(angles: Floats) -> Floats:
    """How far each angle (F, A, radians) may be believed for where the joint is, 0 to 1, beside the trust in its joints.

    Flexion and abduction of the hip lose their meaning as the leg nears the horizontal to the side (catalogue 1.2, M09): the
    error of flexion grows with the inverse cosine of abduction. All other angles are 1; NaN where the angle is not known.
    """
    trust = np.where(np.isfinite(angles), 1.0, np.nan)
    for suffix in SIDE_SUFFIXES:
        near = np.abs(np.cos(angles[:, ANGLES.index("hip_abduction" + suffix)])) / _FULL_TRUST_COS
        for name in ("hip_flexion", "hip_abduction"):
            trust[:, ANGLES.index(name + suffix)] = np.minimum(near, 1.0)
    return trust
