"""A body at one moment whose parts can be turned: bones keep their lengths, legs reach from hip to ankle."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.anatomy import ARM_SEGMENTS, LEG_JOINTS
from ..body.movement import FOOT_POINTS, JOINTS, SEGMENTS, SIDES, SUFFIXES, Movement
from ..body.rotations import turned_by
from ..take import Floats
from .moment import normed

_HEAD = ("neck", "head")


@dataclass(frozen=True)
class Part:
    """What moves together: joints, segments, and the points of the feet of some sides."""

    joints: tuple[str, ...]
    segments: tuple[str, ...]
    feet: tuple[str, ...] = ()

    def __add__(self, other: Part) -> Part:
        return Part(self.joints + other.joints, self.segments + other.segments, self.feet + other.feet)


def arm(side: str) -> Part:
    """An arm below its shoulder."""
    x = SUFFIXES[side]
    return Part(("elbow" + x, "wrist" + x, "hand" + x), tuple(name + x for name in ARM_SEGMENTS))


def shoulder(side: str) -> Part:
    """A shoulder with its arm."""
    x = SUFFIXES[side]
    return Part(("shoulder" + x,), ("clavicle" + x,)) + arm(side)


def foot(side: str) -> Part:
    """A foot below its ankle."""
    x = SUFFIXES[side]
    return Part(("heel" + x, "toe" + x), ("foot" + x, "toes" + x), (side,))


def shank(side: str) -> Part:
    """Shank and foot below a knee."""
    x = SUFFIXES[side]
    return Part(("ankle" + x,), ("shank" + x,)) + foot(side)


def leg(side: str) -> Part:
    """A leg below its hip."""
    x = SUFFIXES[side]
    return Part(("knee" + x,), ("thigh" + x,)) + shank(side)


HEAD = Part(("head",), _HEAD)
CHEST = Part(("neck",), ("thorax",)) + HEAD + shoulder("left") + shoulder("right")
TRUNK = Part(("lumbar",), ("lumbar",)) + CHEST
PELVIS = Part(("pelvis", "hip.L", "hip.R"), ("pelvis",))
WHOLE = PELVIS + TRUNK + leg("left") + leg("right")


@dataclass(frozen=True)
class Pose:
    """joints (J, 3), rotations (S, 3, 3), origins (S, 3), feet (2, 4, 3), mass (3,): as in Movement, at one moment."""

    joints: Floats
    rotations: Floats
    origins: Floats
    feet: Floats
    mass: Floats

    @staticmethod
    def of(movement: Movement, frame: int) -> Pose:
        """The dancer at a frame."""
        return Pose(
            movement.joint_centres_m[frame].copy(),
            movement.segment_rotations[frame].copy(),
            movement.segment_origins_m[frame].copy(),
            movement.foot_points_m[frame].copy(),
            movement.centre_of_mass_m[frame].copy(),
        )

    def joint(self, name: str, side: str | None = None) -> Floats:
        """A joint centre (3,)."""
        return np.asarray(self.joints[JOINTS.index(name if side is None else name + SUFFIXES[side])])

    def point(self, side: str, name: str) -> Floats:
        """A point of a foot (3,): of FOOT_POINTS, or "ball"."""
        points = self.feet[SIDES.index(side)]
        if name == "ball":
            return np.asarray(0.5 * (points[FOOT_POINTS.index("ball_medial")] + points[FOOT_POINTS.index("ball_lateral")]))
        return np.asarray(points[FOOT_POINTS.index(name)])

    def axes(self, segment: str) -> Floats:
        """Axes of a segment as columns (3, 3)."""
        return np.asarray(self.rotations[SEGMENTS.index(segment)])

    def moved(self, part: Part, matrix: Floats, about: Floats, shift: Floats | None = None) -> Pose:
        """A part turned by a matrix (3, 3) about a place (3,), then shifted (3,). The centre of mass goes with the whole body
        only."""
        add = about if shift is None else about + shift
        joints, rotations, origins, feet = (a.copy() for a in (self.joints, self.rotations, self.origins, self.feet))
        rows = [JOINTS.index(name) for name in part.joints]
        joints[rows] = (joints[rows] - about) @ matrix.T + add
        segments = [SEGMENTS.index(name) for name in part.segments]
        rotations[segments] = matrix @ rotations[segments]
        origins[segments] = (origins[segments] - about) @ matrix.T + add
        sides = [SIDES.index(side) for side in part.feet]
        feet[sides] = (feet[sides] - about) @ matrix.T + add
        return replace(self, joints=joints, rotations=rotations, origins=origins, feet=feet)

    def turned(self, part: Part, axis: Floats, angle_rad: float, about: Floats) -> Pose:
        """A part turned about a unit axis (3,) through a place (3,), right-handed."""
        return self.moved(part, turned_by(angle_rad * axis), about)

    def shifted(self, part: Part, shift: Floats) -> Pose:
        """A part moved as it is."""
        return self.moved(part, np.eye(3), np.zeros(3), shift)

    def reaching(self, side: str, hip: Floats, ankle: Floats, twist_rad: float = 0.0) -> Pose | None:
        """A leg between a hip and an ankle (3,) that may have moved; its knee turned about their line. The foot stays as it is
        where the ankle does, else it goes with it. None where the leg is too short."""
        old_hip, old_knee, old_ankle = (self.joint(name, side) for name in LEG_JOINTS)
        upper, lower = float(np.linalg.norm(old_knee - old_hip)), float(np.linalg.norm(old_ankle - old_knee))
        line, old_line = ankle - hip, old_ankle - old_hip
        length = float(np.linalg.norm(line))
        if not abs(upper - lower) < length <= upper + lower + 1e-9:
            return None
        along = (upper**2 - lower**2 + length**2) / (2 * length)
        off = np.sqrt(max(upper**2 - along**2, 0.0))
        swing = shortest(old_line, line)
        away = swing @ (old_knee - old_hip)
        away = normed(away - normed(line) * (normed(line) @ away))
        away = turned_by(twist_rad * normed(line)) @ away
        knee = hip + along * normed(line) + off * away
        spin = turned_by(twist_rad * normed(line)) @ swing
        x = SUFFIXES[side]
        thigh = shortest(spin @ (old_knee - old_hip), knee - hip) @ spin
        below = shortest(spin @ (old_ankle - old_knee), ankle - knee) @ spin
        pose = self.moved(Part(("knee" + x,), ("thigh" + x,)), thigh, old_hip, hip - old_hip)
        pose = pose.moved(Part((), ("shank" + x,)), below, old_knee, knee - old_knee)
        shift = ankle - old_ankle
        return pose.shifted(Part(("ankle" + x,), ()) + foot(side), shift)


def shortest(first: Floats, second: Floats) -> Floats:
    """The shortest turn (3, 3) from one direction (3,) to another."""
    one, other = normed(first), normed(second)
    axis = np.cross(one, other)
    sine = float(np.linalg.norm(axis))
    if sine < 1e-12:
        return np.eye(3)
    return turned_by(axis / sine * np.arctan2(sine, one @ other))
