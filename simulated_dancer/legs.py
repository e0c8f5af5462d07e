"""Legs: two-link inverse kinematics, the foot that pivots over its ball, and the ways a leg can be held in the air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .body import Body
from .rotations import Floats, about_x, about_y, about_z, apply, blend, cross, dot, heading, shortest_arc_from_down, unit

#: A straight leg in this model still bends by this much, so that the plane of the leg is always known.
STRAIGHT_RAD = np.radians(2.0)


@dataclass(frozen=True)
class LegPose:
    """One leg in the laboratory: joints (F, 3), rotations (F, 3, 3), foot points (F, 4, 3) heel, ball inner, outer, toe."""

    hip: Floats
    knee: Floats
    ankle: Floats
    ball: Floats
    thigh: Floats
    shank: Floats
    foot: Floats
    toes: Floats
    points: Floats


def leg_length(body: Body, knee_flexion: Floats | float) -> Floats:
    """Hip to ankle (F,) for a knee flexion (F,), radians, by the law of cosines."""
    a, b = body.thigh_m, body.shank_m
    return np.asarray(np.sqrt(a**2 + b**2 + 2.0 * a * b * np.cos(np.asarray(knee_flexion, dtype=np.float64))))


def knee_position(body: Body, hip: Floats, ankle: Floats, pole: Floats, sign: Floats) -> tuple[Floats, Floats, Floats]:
    """Knee (F, 3), the ankle that the leg can reach (F, 3) and the knee's direction away from the line hip to ankle (F, 3)."""
    a, b = body.thigh_m, body.shank_m
    line = ankle - hip
    distance = np.sqrt(dot(line, line))
    along = line / distance[:, None]
    distance = np.clip(distance, 0.05, (a + b) * (1.0 - 1e-7))
    share = (a**2 - b**2 + distance**2) / (2.0 * distance)
    away = np.sqrt(np.maximum(a**2 - share**2, 0.0))
    direction = unit(pole - dot(pole, along)[:, None] * along)
    knee = hip + share[:, None] * along + (sign * away)[:, None] * direction
    return knee, hip + distance[:, None] * along, direction


def pole_with_azimuth(along: Floats, azimuth: Floats) -> Floats:
    """Knee direction (F, 3), square to the leg line ``along`` (F, 3), whose part on the floor has the azimuth (F,)."""
    flat = np.stack([np.cos(azimuth), np.sin(azimuth), np.zeros_like(azimuth)], axis=1)
    flat[:, 2] = -(flat[:, 0] * along[:, 0] + flat[:, 1] * along[:, 1]) / np.where(np.abs(along[:, 2]) < 0.2, -0.2, along[:, 2])
    return unit(flat)


def planted_foot(body: Body, ball: Floats, azimuth: Floats, pitch: Floats, roll: Floats, tip: Floats) -> tuple[Floats, Floats]:
    """Rotation (F, 3, 3) and ankle (F, 3) of a foot that stands on its ball; pitch lifts the heel, roll turns it about its own
    line, tip carries the lifted heel to the dancer's right."""
    foot = heading(azimuth) @ about_x(tip) @ about_z(-pitch) @ about_x(roll)
    return foot, ball + apply(foot, body.foot.ankle)


def foot_points(body: Body, side: float, ball: Floats, foot: Floats, toes: Floats) -> Floats:
    """Heel, inner ball, outer ball and toe tip (F, 4, 3) in the laboratory."""
    mirror = np.array([1.0, 1.0, side])
    geometry = body.foot
    points = [ball + apply(foot, mirror * p) for p in (geometry.heel, geometry.ball_medial, geometry.ball_lateral)]
    return np.stack([*points, ball + apply(toes, mirror * geometry.toe)], axis=1)


@dataclass(frozen=True)
class LegControls:
    """What one leg is asked to do at each frame; every field (F,) in metres and radians.

    ball_*: the ball on the floor, azimuth and heel pitch of the planted foot. aloft: 1 while the foot hangs in a jump.
    line, retire: how far the leg is held straight in a direction, or with the toe at the other leg. toes: how far they
    are pointed in a jump (flat to the floor at 0). Turnout of the knee is measured outward from the pelvis' forward for
    a leg in the air, and follows the foot for a planted one.
    """

    ball_x: Floats
    ball_y: Floats
    ball_z: Floats
    azimuth: Floats
    pitch: Floats
    roll: Floats
    tip: Floats
    knee_in: Floats
    aloft: Floats
    toes: Floats
    line: Floats
    retire: Floats
    elevation: Floats
    direction: Floats
    air_knee: Floats
    turnout: Floats
    point: Floats
    deviation: Floats
    retire_height: Floats
    retire_gap: Floats
    knee_sign: Floats


@dataclass(frozen=True)
class PlantedFoot:
    """A foot as it stands, wherever the pelvis is: rotation of foot and of toes (F, 3, 3), ankle (F, 3)."""

    foot: Floats
    toes: Floats
    ankle: Floats


def plant(body: Body, side: float, c: LegControls) -> PlantedFoot:
    """The foot of a leg that stands; side +1 right, -1 left."""
    ball = np.stack([c.ball_x, c.ball_y, body.foot.ball_height_m + c.ball_z], axis=1)
    foot, ankle = planted_foot(body, ball, c.azimuth, c.pitch, side * c.roll, side * c.tip)
    return PlantedFoot(foot, heading(c.azimuth), ankle)


def _frames_of(hip: Floats, knee: Floats, ankle: Floats, direction: Floats) -> tuple[Floats, Floats]:
    right = unit(cross(direction, hip - ankle))
    rotations = []
    for upper, lower in ((hip, knee), (knee, ankle)):
        up = unit(upper - lower)
        across = unit(right - dot(right, up)[:, None] * up)
        rotations.append(np.stack([cross(up, across), up, across], axis=2))
    return rotations[0], rotations[1]


def _pointed_foot(shank: Floats, side: float, point: Floats, deviation: Floats) -> Floats:
    return np.asarray(shank @ about_z(-point) @ about_y(-side * deviation), dtype=np.float64)


def solve_leg(
    body: Body, side: float, controls: LegControls, planted: PlantedFoot, hip: Floats, yaw: Floats, other: LegPose | None
) -> LegPose:
    """One leg of all frames; side +1 right, -1 left; hip (F, 3); yaw (F,) of the pelvis; other: the leg stood on."""
    c, ankle = controls, planted.ankle
    # In a jump the foot hangs below the hip over the same place: only its height is left free.
    reach = leg_length(body, c.air_knee)
    across = np.hypot(*(ankle - hip)[:, :2].T)
    hanging = ankle.copy()
    hanging[:, 2] = hip[:, 2] - np.sqrt(np.maximum(reach**2 - across**2, 1e-4))
    ankle = ankle + c.aloft[:, None] * (hanging - ankle)
    pole = pole_with_azimuth(unit(ankle - hip), c.azimuth + side * c.knee_in)

    outward = yaw - side * c.turnout
    air = np.clip(c.aloft + c.line + c.retire, 0.0, 1.0)
    if np.any(c.line > 0.0):
        flat = yaw - side * c.direction
        aim = np.stack([np.sin(c.elevation) * np.cos(flat), np.sin(c.elevation) * np.sin(flat), -np.cos(c.elevation)], axis=1)
        level = np.stack([np.cos(outward), np.sin(outward), np.zeros_like(outward)], axis=1)
        ankle = ankle + c.line[:, None] * (hip + aim * reach[:, None] - ankle)
        pole = pole + c.line[:, None] * (shortest_arc_from_down(aim, level) - pole)
    if np.any(c.retire > 0.0) and other is not None:
        held = _retire_ankle(body, side, c, hip, yaw, other)
        ankle = ankle + c.retire[:, None] * (held - ankle)
        pole = pole + c.retire[:, None] * (pole_with_azimuth(unit(ankle - hip), outward) - pole)
    knee, ankle, direction = knee_position(body, hip, ankle, pole, c.knee_sign)
    thigh, shank = _frames_of(hip, knee, ankle, direction)
    foot = blend(planted.foot, _pointed_foot(shank, side, c.point, c.deviation), air)
    ball = ankle - apply(foot, body.foot.ankle)
    free = np.clip(c.toes + c.line + c.retire, 0.0, 1.0)
    toes = blend(planted.toes, foot @ about_z(np.full(c.point.shape, -0.35)), free)
    points = foot_points(body, side, ball, foot, toes)
    return LegPose(hip, knee, ankle, ball, thigh, shank, foot, toes, points)


def _retire_ankle(body: Body, side: float, c: LegControls, hip: Floats, yaw: Floats, other: LegPose) -> Floats:
    """Where the ankle must be (F, 3) so that the toe tip lies at the standing leg."""
    out = np.stack([np.sin(yaw), -np.cos(yaw), np.zeros_like(yaw)], axis=1) * side
    forward = np.stack([np.cos(yaw), np.sin(yaw), np.zeros_like(yaw)], axis=1)
    k = body.stature_m / 1.68
    toe = other.ankle + c.retire_height[:, None] * (other.knee - other.ankle)
    toe = toe + out * (0.052 * k + c.retire_gap)[:, None] + forward * (0.035 * k)
    mirror = np.array([1.0, 1.0, side])
    ankle = toe + np.array([0.0, 0.0, 0.19 * k])
    azimuth = yaw - side * c.turnout
    for _ in range(6):
        pole = pole_with_azimuth(unit(ankle - hip), azimuth)
        knee, ankle, direction = knee_position(body, hip, ankle, pole, np.ones_like(yaw))
        _, shank = _frames_of(hip, knee, ankle, direction)
        foot = _pointed_foot(shank, side, c.point, c.deviation)
        tip = apply(foot, -body.foot.ankle) + apply(foot @ about_z(np.full(yaw.shape, -0.35)), mirror * body.foot.toe)
        ankle = toe - tip
    return np.asarray(ankle, dtype=np.float64)
