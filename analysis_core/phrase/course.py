"""The curves that all steps are found in, computed once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..body.anatomy import SIDE_SUFFIXES, SIDES
from ..body.heading import count_is_known, whole_body_steps
from ..body.movement import JOINTS, Movement
from ..take import Floats, Side
from .contacts import Feet
from .signals import Mask, derivative
from .upright import stands

#: Windows of the derivatives, s: about 10 Hz for the body, 6 Hz for yaw (catalogue 3.2).
BODY_WINDOW_S = 0.10
YAW_WINDOW_S = 0.15
#: A foot that carries at least this share of the body carries it. Proposed default.
CARRYING_SHARE = 0.75


@dataclass(frozen=True)
class Course:
    """Curves of one take; F frames; columns left, right; NaN = not known.

    com_m, com_velocity_m_s (F, 3), com_acceleration_z_m_s2 (F,). yaw_rad, yaw_rate_rad_s (F,), positive to the left.
    turns_counted (F,): False where half a turn or more may have gone unseen, so that nobody knows how many turns were made.
    knee_rad, knee_rate_rad_s, elevation_rad, azimuth_rad, heel_m (F, 2); heel_m above the ground with the foot flat.
    load (F, 2): share of the body over each foot, by where the centre of mass lies between them; 0 off the ground, NaN where a
    foot is not seen.
    """

    movement: Movement
    feet: Feet
    rate_hz: float
    leg_length_m: float
    com_m: Floats
    com_velocity_m_s: Floats
    com_acceleration_z_m_s2: Floats
    yaw_rad: Floats
    yaw_rate_rad_s: Floats
    turns_counted: Mask
    knee_rad: Floats
    knee_rate_rad_s: Floats
    elevation_rad: Floats
    azimuth_rad: Floats
    heel_m: Floats
    load: Floats

    @property
    def frames(self) -> int:
        """Number of samples."""
        return int(self.yaw_rad.size)

    @cached_property
    def com_speed_m_s(self) -> Floats:
        """Speed of the centre of mass (F,)."""
        return np.asarray(np.linalg.norm(self.com_velocity_m_s, axis=1))

    @cached_property
    def stands(self) -> Mask:
        """Frames (F,) in which the body is up on its feet."""
        return stands(self.movement)

    def time(self, place: float) -> float:
        """Seconds of a frame, which may have a fraction."""
        return float(place) / self.rate_hz

    def samples(self, seconds: float) -> int:
        """A duration in samples, at least one."""
        return max(1, round(seconds * self.rate_hz))

    def single(self, foot: int) -> Mask:
        """Frames (F,) in which this foot is on the ground and the other one is seen to be off it."""
        return self._single[foot]

    @cached_property
    def _single(self) -> tuple[Mask, Mask]:
        on, known = self.feet.on, self.feet.known
        left, right, left_known, right_known = on[:, 0], on[:, 1], known[:, 0], known[:, 1]
        return left & ~right & right_known, right & ~left & left_known

    def main_support(self, start: int, stop: int) -> Side | None:
        """The foot that carries alone longest between two frames; both when neither does while there is ground contact."""
        alone = [int(self.single(foot)[start:stop].sum()) for foot in range(2)]
        if max(alone) >= max(1, 0.3 * (stop - start)):
            return SIDES[int(np.argmax(alone))]
        return "both" if self.feet.on[start:stop].any() else None


def _load(feet: Feet, foot_points_m: Floats, com_m: Floats) -> Floats:
    centre = foot_points_m.mean(axis=2)[..., :2]
    line = centre[:, 1] - centre[:, 0]
    length = np.maximum((line**2).sum(axis=1), 1e-4)
    right = np.clip(((com_m[:, :2] - centre[:, 0]) * line).sum(axis=1) / length, 0.0, 1.0)
    # Feet that are nearly in one place share evenly: the line between them tells nothing.
    right = np.where(np.isfinite(right) & (length > 0.05**2), right, 0.5)
    share = np.stack([1.0 - right, right], axis=1)
    both = feet.on.all(axis=1)
    told = np.where(both[:, None], share, feet.on.astype(np.float64))
    # A foot that is not seen may carry all of it.
    return np.where(feet.known.all(axis=1)[:, None], told, np.nan)


def prepare(movement: Movement, feet: Feet) -> Course:
    """Curves of a movement, smoothed by local parabolas; the feet as found by ``find_feet``."""
    rate = movement.rate_hz

    def sided(name: str) -> Floats:
        return np.stack([movement.angle(name + suffix) for suffix in SIDE_SUFFIXES], axis=1)

    knee = derivative(sided("knee_flexion"), rate, 0, BODY_WINDOW_S)
    yaw = movement.angle("pelvis_yaw")
    com = movement.centre_of_mass_m
    leg = movement.standing.leg_length_m
    return Course(
        movement=movement,
        feet=feet,
        rate_hz=rate,
        leg_length_m=leg if np.isfinite(leg) else 0.8,
        com_m=derivative(com, rate, 0, BODY_WINDOW_S),
        com_velocity_m_s=derivative(com, rate, 1, BODY_WINDOW_S),
        com_acceleration_z_m_s2=derivative(com[:, 2], rate, 2, BODY_WINDOW_S),
        yaw_rad=yaw,
        yaw_rate_rad_s=derivative(yaw, rate, 1, YAW_WINDOW_S),
        turns_counted=count_is_known(yaw, whole_body_steps({name: movement.joint(name) for name in JOINTS})),
        knee_rad=knee,
        knee_rate_rad_s=derivative(sided("knee_flexion"), rate, 1, BODY_WINDOW_S),
        elevation_rad=derivative(sided("leg_elevation"), rate, 0, BODY_WINDOW_S),
        azimuth_rad=sided("leg_azimuth"),
        heel_m=feet.heights_m[:, :, 0],
        load=_load(feet, movement.foot_points_m, com),
    )
