"""The invented dancer's body: lengths and widths from stature, for adults and children."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from .rotations import Floats


@dataclass(frozen=True)
class Foot:
    """Points of one foot, metres, in the right foot's frame with the origin in the joint of the ball (X to the second
    metatarsal head, Y up, Z outward on either side); ball_height_m is that joint's height over the sole."""

    ball_height_m: float
    ankle: Floats
    heel: Floats
    ball_medial: Floats
    ball_lateral: Floats
    toe: Floats

    @property
    def length_heel_to_ball_m(self) -> float:
        """Heel to ball along the flat foot."""
        return float(-self.heel[0])


def _on_heel(foot: Foot, height_m: float) -> Foot:
    """The foot in a shoe whose heel lifts it: heel and ankle turned up about the ball, which stays on the floor."""
    lift = np.arcsin(height_m / foot.length_heel_to_ball_m)
    up = np.array([[np.cos(lift), np.sin(lift), 0.0], [-np.sin(lift), np.cos(lift), 0.0], [0.0, 0.0, 1.0]])
    return replace(foot, ankle=up @ foot.ankle, heel=up @ foot.heel)


@dataclass(frozen=True)
class Body:
    """Proportions of one dancer, metres.

    Long segments: Drillis & Contini 1966 fractions of stature (from memory), arms shortened to joint centres; a child's
    legs are shorter and the head larger (growth charts, from memory). turnout_rad: of each foot in the turned-out
    positions. hip_deviation_m: how far this dancer's hip centres lie from the published regression (X, Y, outward).
    shoulder_deviation_m: how far the tips of the shoulders lie from where they are above the joint in most people (likewise).
    leg_factor: length of the legs against the rule's. knee_lower: by what share of the leg the knee sits lower. left_longer_m: by
    how much the left leg is longer than the right, half of it on either side of the rule. shoe_heel_m: height of the shoe's heel.
    """

    stature_m: float = 1.68
    child: bool = False
    sex: str = "female"
    turnout_rad: float = np.radians(58.0)
    hip_deviation_m: tuple[float, float, float] = (0.003, -0.003, 0.002)
    shoulder_deviation_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    width_factor: float = 1.0
    leg_factor: float = 1.0
    knee_lower: float = 0.0
    left_longer_m: float = 0.0
    shoe_heel_m: float = 0.0
    pelvis_tilt_rad: float = np.radians(8.0)
    releve_rad: float = np.radians(50.0)
    pointed_rad: float = np.radians(72.0)
    demi_plie_rad: float = np.radians(64.0)
    foot: Foot = field(init=False, compare=False)  # follows from the others

    def __post_init__(self) -> None:
        k = self.stature_m / 1.68 * (1.04 if self.child else 1.0)
        foot = Foot(
            ball_height_m=0.016 * k,
            ankle=np.array([-0.128, 0.052, 0.0]) * k,
            heel=np.array([-0.182, 0.010, 0.0]) * k,
            ball_medial=np.array([0.003, 0.0, -0.040]) * k,
            ball_lateral=np.array([-0.005, 0.0, 0.040]) * k,
            toe=np.array([0.066, -0.006, -0.016]) * k,
        )
        object.__setattr__(self, "foot", _on_heel(foot, self.shoe_heel_m))

    @property
    def _leg_m(self) -> float:
        return self.leg_factor * (0.454 if self.child else 0.482) * self.stature_m

    def with_leg(self, side: float) -> Body:
        """The body by the leg of one side (+1 right, -1 left), for what is asked of that leg alone."""
        if not self.left_longer_m:
            return self
        return replace(
            self, leg_factor=self.leg_factor * (1.0 - 0.5 * side * self.left_longer_m / self._leg_m), left_longer_m=0.0
        )

    @property
    def thigh_m(self) -> float:
        """Hip centre to knee centre."""
        return self.leg_factor * (0.228 if self.child else 0.242) * self.stature_m + self.knee_lower * self._leg_m

    @property
    def shank_m(self) -> float:
        """Knee centre to ankle centre."""
        return self.leg_factor * (0.226 if self.child else 0.240) * self.stature_m - self.knee_lower * self._leg_m

    @property
    def hip_height_m(self) -> float:
        """Height of the hip centres when standing with straight legs, before the legs' slant."""
        return float(self.thigh_m + self.shank_m + self.foot.ankle[1] + self.foot.ball_height_m)

    @property
    def neck_m(self) -> float:
        """Mid-hip to the seventh cervical vertebra."""
        return (0.826 if self.child else 0.850) * self.stature_m - self.hip_height_m

    @property
    def head_m(self) -> float:
        """Seventh cervical vertebra to the vertex, upright."""
        return self.stature_m - self.hip_height_m - self.neck_m

    @property
    def pelvis_width_m(self) -> float:
        """Between the anterior superior iliac spines."""
        return 0.140 * self.stature_m * self.width_factor

    @property
    def pelvis_depth_m(self) -> float:
        """From the middle of the anterior to the middle of the posterior superior iliac spines."""
        return 0.090 * self.stature_m * self.width_factor

    @property
    def shoulder_half_width_m(self) -> float:
        """Mid-line to the shoulder centre."""
        return 0.098 * self.stature_m * self.width_factor

    @property
    def shoulder_height_m(self) -> float:
        """Mid-hip to the line of the shoulder centres."""
        return self.neck_m - 0.036 * self.stature_m

    @property
    def upper_arm_m(self) -> float:
        """Shoulder centre to elbow centre."""
        return 0.162 * self.stature_m

    @property
    def forearm_m(self) -> float:
        """Elbow centre to wrist centre."""
        return 0.148 * self.stature_m

    @property
    def hand_m(self) -> float:
        """Wrist centre to the third metacarpal head."""
        return 0.046 * self.stature_m

    @property
    def hip_in_pelvis_m(self) -> Floats:
        """Hip centre (3,) from the middle of the anterior spines in the ISB pelvis frame: X, Y, outward.

        Harrington 2007, multiple predictors, plus this dancer's own deviation.
        """
        depth, width = 1000.0 * self.pelvis_depth_m, 1000.0 * self.pelvis_width_m
        leg = 1000.0 * (self.thigh_m + self.shank_m)
        regression = np.array([-0.24 * depth - 9.9, -0.16 * width - 0.04 * leg - 7.1, 0.28 * depth + 0.16 * width + 7.9])
        return np.asarray(regression / 1000.0 + np.array(self.hip_deviation_m), dtype=np.float64)

    @property
    def hip_half_width_m(self) -> float:
        """Mid-line to the hip centre."""
        return float(self.hip_in_pelvis_m[2])
