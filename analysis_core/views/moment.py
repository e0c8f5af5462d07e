"""One moment of a take, for drawing: places and directions as steady as the measures take them."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.angles import foot_direction
from ..body.geometry import UP
from ..body.movement import SIDE_SIGNS, SIDES, SUFFIXES
from ..findings.evidence import Evidence
from ..take import Floats


def normed(vector: Floats) -> Floats:
    """A vector (3,) of length 1; forward along x where it has none."""
    length = float(np.linalg.norm(vector))
    return np.asarray(vector / length) if np.isfinite(length) and length > 1e-9 else np.array([1.0, 0.0, 0.0])


def flat(vector: Floats) -> Floats:
    """The direction of a vector (3,) over the floor."""
    return normed(vector * np.array([1.0, 1.0, 0.0]))


def turned(vector: Floats, axis: Floats, angle_rad: float) -> Floats:
    """A vector (3,) turned about a unit axis (3,), right-handed (Rodrigues)."""
    cosine, sine = np.cos(angle_rad), np.sin(angle_rad)
    return np.asarray(vector * cosine + np.cross(axis, vector) * sine + axis * (axis @ vector) * (1 - cosine))


def sweep_between(first: Floats, second: Floats, axis: Floats) -> float:
    """Signed angle about an axis from one direction to another, both seen along the axis, radians."""
    one, other = first - axis * (axis @ first), second - axis * (axis @ second)
    return float(np.arctan2(axis @ np.cross(one, other), one @ other))


class Moment:
    """What the dancer looks like at a frame; a place that is not known there is NaN."""

    def __init__(self, evidence: Evidence, frame: int) -> None:
        self.evidence, self.frame = evidence, frame
        half = evidence.samples(0.05) // 2
        self._window = slice(max(frame - half, 0), frame + half + 1)

    def of(self, values: Floats) -> Floats:
        """The mean of values (F, …) around the moment."""
        return np.asarray(np.mean(values[self._window], axis=0))

    def joint(self, name: str, side: str | None = None) -> Floats:
        """A joint centre (3,)."""
        return self.of(self.evidence.joint(name, side))

    def foot(self, side: str, point: str) -> Floats:
        """A point of the foot (3,): of FOOT_POINTS, or "ball"."""
        return self.of(self.evidence.ball(side) if point == "ball" else self.evidence.foot_point(side, point))

    def axis(self, segment: str, column: int) -> Floats:
        """Axis (3,) of a segment: 0 forward, 1 up, 2 to the right."""
        return normed(self.of(self.evidence.movement.segment(segment)[:, :, column]))

    @cached_property
    def mass(self) -> Floats:
        """Centre of mass (3,)."""
        return self.of(self.evidence.movement.centre_of_mass_m)

    @cached_property
    def forward(self) -> Floats:
        """Where the pelvis faces over the floor."""
        return flat(self.axis("pelvis", 0))

    @cached_property
    def right(self) -> Floats:
        """To the dancer's right over the floor."""
        return np.asarray(np.cross(self.forward, UP))

    def outward(self, side: str) -> Floats:
        """Away from the body's middle on one side."""
        return self.right * SIDE_SIGNS[SIDES.index(side)]

    def foot_direction(self, side: str) -> Floats:
        """Where a foot points over the floor, as it is measured (catalogue M02)."""
        movement = self.evidence.movement
        return flat(self.of(foot_direction(movement.foot_line(side), movement.segment("foot" + self.suffix(side)))))

    def knee_direction(self, side: str) -> Floats:
        """Where a bent knee points over the floor, from the line hip to ankle (catalogue M03)."""
        hip, knee, ankle = (self.joint(name, side) for name in LEG_JOINTS)
        line = normed(ankle - hip)
        away = knee - hip
        return flat(away - line * (line @ away))

    def suffix(self, side: str) -> str:
        """.L or .R."""
        return SUFFIXES[side]
