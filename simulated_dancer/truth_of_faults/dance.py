"""What was truly danced, for the formulas of the truth: exact joints and feet, and the score with its times."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ...analysis_core.body.anatomy import LEG_JOINTS, OTHER, SIDES, SUFFIXES
from ..rotations import Floats
from ..score import SIGN, Step
from ..simulate import Simulation
from .bands import BANDS, Band

#: Positions with one foot beside the other; in the others one is before the other.
SIDE_BY_SIDE = ("first", "second", "parallel")
OUTWARD = SIGN
#: The exact foot is on the floor up to here; the rest is rounding.
ON_THE_FLOOR_MM = 1.0
HEEL, INNER, OUTER, TOE = range(4)
#: A dance shows the dancer's own range where it uses so much of it.
_SHOWN = 0.97


@dataclass(frozen=True)
class TrueValue:
    """One number of the catalogue for one step, from the exact dance: value in the unit of the measure, the window it holds for.

    start_s and end_s bound the frames that the catalogue allows, peak_s is where the value is taken. towards: of a direction, in
    words ("forward", "left", …). limits: where nothing is wrong in this step, if that is not the fault's own band.
    """

    fault: str
    measure: str
    step: str
    kind: str
    side: str | None
    start_s: float
    peak_s: float
    end_s: float
    value: float
    towards: tuple[str, ...] = ()
    limits: Band | None = None

    @property
    def ok(self) -> Band:
        """Where nothing is wrong."""
        return BANDS[self.fault, self.measure][0] if self.limits is None else self.limits

    @property
    def outside(self) -> float:
        """How far the value lies outside the band, in its unit; negative inside it."""
        return max(self.ok[0] - self.value, self.value - self.ok[1])

    @property
    def is_fault(self) -> bool:
        """Whether it lies beyond what is worth a watch."""
        low, high = BANDS[self.fault, self.measure][1]
        plain = BANDS[self.fault, self.measure][0]
        wider = self.ok[1] - plain[1] if np.isfinite(plain[1]) else 0.0
        return not low <= self.value <= high + wider


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True), dtype=np.float64)


@dataclass
class Dance:
    """One exact dance. Lengths in millimetres, angles in degrees, arrays over the frames (F, …)."""

    simulation: Simulation
    time_s: Floats = field(init=False)
    steps: tuple[Step, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.time_s = self.simulation.movement.time_s
        self.steps = self.simulation.steps

    # --- the places of things

    def joint(self, name: str, side: str = "") -> Floats:
        """One joint (F, 3)."""
        return 1000.0 * self.simulation.movement.joint(name + SUFFIXES.get(side, ""))

    def foot(self, side: str) -> Floats:
        """Heel, inner ball, outer ball, tip of the toe (F, 4, 3)."""
        return 1000.0 * self.simulation.movement.foot_points_m[:, SIDES.index(side)]

    def lifted(self, side: str) -> Floats:
        """The same four over their own height in flat standing (F, 4)."""
        flat = 1000.0 * self.simulation.static_movement.foot_points_m[0, SIDES.index(side), :, 2]
        return self.foot(side)[:, :, 2] - flat

    def heel(self, side: str) -> Floats:
        """Height of the heel over its own flat height (F,)."""
        return self.lifted(side)[:, HEEL]

    def arch_sunk(self, side: str) -> Floats:
        """How much lower the inner arch is than in flat standing (F,)."""
        return -1000.0 * self.simulation.movement.arch_heights_m[:, SIDES.index(side)]

    def down(self, side: str) -> NDArray[np.bool_]:
        """Whether any part of the foot is on the floor (F,)."""
        return np.asarray(self.lifted(side).min(axis=1) < ON_THE_FLOOR_MM)

    def forefoot_down(self, side: str) -> NDArray[np.bool_]:
        """Whether the ball or the toe is on the floor (F,)."""
        return np.asarray(self.lifted(side)[:, 1:].min(axis=1) < ON_THE_FLOOR_MM)

    def support(self, side: str) -> Floats:
        """The point that carries (F, 2): between the balls on relevé, the middle of the foot when flat."""
        points = self.foot(side)[:, :, :2]
        balls = 0.5 * (points[:, INNER] + points[:, OUTER])
        flat = 0.5 * (balls + points[:, HEEL])
        return np.where((self.heel(side) > 15.0)[:, None], balls, flat)

    @property
    def mass(self) -> Floats:
        """Centre of mass (F, 3)."""
        return 1000.0 * self.simulation.movement.centre_of_mass_m

    @cached_property
    def forward(self) -> Floats:
        """Where the pelvis faces on the floor (F, 2)."""
        return _unit(self.simulation.movement.segment("pelvis")[:, :2, 0])

    @cached_property
    def rightward(self) -> Floats:
        """The dancer's right on the floor (F, 2)."""
        ahead = self.forward
        return np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)

    # --- angles

    def angle(self, name: str, side: str = "") -> Floats:
        """One exact angle (F,), degrees, as the simulator's own formulas give it."""
        return np.degrees(self.simulation.movement.angle(name + SUFFIXES.get(side, "")))

    def standing(self, name: str, side: str = "") -> float:
        """The same angle in standing."""
        return float(np.degrees(np.nanmedian(self.simulation.static_movement.angle(name + SUFFIXES.get(side, "")))))

    def outward(self, across: Floats, side: str) -> Floats:
        """Azimuth of vectors (F, 2) from the pelvis' forward, outward positive (catalogue 0.3)."""
        right, ahead = np.sum(across * self.rightward, axis=1), np.sum(across * self.forward, axis=1)
        return np.asarray(np.degrees(np.arctan2(OUTWARD[side] * right, ahead)))

    def foot_line(self, side: str) -> Floats:
        """The direction of the foot on the floor (F, 2): heel to ball; across the balls where it is steeper than 60° (M02)."""
        points = self.foot(side)
        line = 0.5 * (points[:, INNER] + points[:, OUTER]) - points[:, HEEL]
        steep = line[:, 2] < -np.sin(np.radians(60.0)) * np.linalg.norm(line, axis=1)
        across = OUTWARD[side] * (points[:, OUTER] - points[:, INNER])
        turned = np.stack([-across[:, 1], across[:, 0]], axis=1)
        return _unit(np.where(steep[:, None], turned, line[:, :2]))

    def foot_out(self, side: str) -> Floats:
        """Turnout of the foot (F,), M02."""
        return self.outward(self.foot_line(side), side)

    def foot_heading(self, side: str) -> Floats:
        """Azimuth of the foot in the room (F,), unwrapped, outward positive."""
        line = self.foot_line(side)
        return -OUTWARD[side] * np.degrees(np.unwrap(np.arctan2(line[:, 1], line[:, 0])))

    def _knee_away(self, side: str) -> Floats:
        hip, knee, ankle = (self.joint(name, side) for name in LEG_JOINTS)
        along = _unit(ankle - hip)
        return np.asarray((knee - hip) - np.sum((knee - hip) * along, axis=1)[:, None] * along)

    def knee_out(self, side: str) -> Floats:
        """Direction of the knee (F,), M03; NaN where it is bent less than 25°."""
        told = self.outward(self._knee_away(side)[:, :2], side)
        return np.where(self.bend(side) >= 25.0, told, np.nan)

    def bend(self, side: str) -> Floats:
        """Bend of the knee (F,), M07; negative past straight."""
        return self.angle("knee_flexion", side)

    def knee_inside(self, side: str) -> Floats:
        """Foot direction less knee direction (F,), M04."""
        apart = self.foot_out(side) - self.knee_out(side)
        return np.asarray((apart + 180.0) % 360.0 - 180.0)

    def knee_displaced(self, side: str) -> Floats:
        """Knee beside the ankle towards the big toe's side, across the line of the foot (F,), M05."""
        line = self.foot_line(side)
        inward = -OUTWARD[side] * np.stack([line[:, 1], -line[:, 0]], axis=1)
        away = (self.joint("knee", side) - self.joint("ankle", side))[:, :2]
        return np.asarray(np.sum(away * inward, axis=1))

    @cached_property
    def facing(self) -> Floats:
        """Azimuth of the pelvis in the room (F,), unwrapped, to the left positive."""
        return np.degrees(np.unwrap(np.arctan2(self.forward[:, 1], self.forward[:, 0])))

    @property
    def turning(self) -> Floats:
        """Its rate (F,), degrees a second."""
        return np.asarray(np.gradient(self.facing, self.time_s))

    # --- time

    def frames(self, start_s: float, end_s: float) -> NDArray[np.intp]:
        """Frames from one time to another, at least one."""
        inside = np.flatnonzero((self.time_s >= start_s - 1e-9) & (self.time_s <= end_s + 1e-9))
        return inside if inside.size else np.array([int(np.argmin(np.abs(self.time_s - start_s)))])

    def at(self, values: Floats, time_s: float) -> float:
        """A curve (F,) at a time."""
        return float(np.interp(time_s, self.time_s, values))

    def rises_at(self, values: Floats, limit: float, start_s: float, end_s: float, stays_s: float = 0.05) -> float | None:
        """When a curve (F,) first goes over a limit and stays there for a time; between frames by a straight line."""
        over = values > limit
        for i in self.frames(start_s, end_s):
            if over[i] and over[self.frames(self.time_s[i], self.time_s[i] + stays_s)].all():
                if i == 0 or over[i - 1]:
                    return float(self.time_s[i])
                share = (limit - values[i - 1]) / (values[i] - values[i - 1])
                return float(self.time_s[i - 1] + share * (self.time_s[i] - self.time_s[i - 1]))
        return None

    @staticmethod
    def shows(values: Floats, own: float) -> bool:
        """Whether a curve (F,) comes near to what the dancer can do at all."""
        return bool(np.nanmax(values) > _SHOWN * own)

    # --- the score

    def of_kind(self, kind: str) -> tuple[Step, ...]:
        """The steps of one kind."""
        return tuple(step for step in self.steps if step.kind == kind)

    def value(
        self, fault: str, measure: str, step: Step, side: str | None, values: Floats, frames: NDArray[np.intp], how: str = "most"
    ) -> TrueValue | None:
        """The extreme of a curve (F,) over some frames. how: "most", "least" or "away" (farthest from nought)."""
        told = values[frames]
        if not np.isfinite(told).any():
            return None
        greatest = {"most": told, "least": -told, "away": np.abs(told)}[how]
        peak = int(frames[int(np.nanargmax(greatest))])
        first, last = float(self.time_s[frames[0]]), float(self.time_s[frames[-1]])
        return TrueValue(fault, measure, step.id, step.kind, side, first, float(self.time_s[peak]), last, float(values[peak]))


def support_of(step: Step) -> tuple[str, str]:
    """Standing and working leg of a step on one leg."""
    stands = str(step.facts["support"])
    return stands, OTHER[stands]
