"""The score of a phrase: controls over time, steps with their times, and the places of the feet."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ..analysis_core.body.anatomy import OTHER, SIDE_SIGNS, SIDES, SUFFIXES, OneSide
from .body import Body
from .legs import STRAIGHT_RAD
from .rotations import Floats
from .timeline import Channel

Sided = OneSide
SIGN: dict[str, float] = dict(zip(SIDES, SIDE_SIGNS, strict=True))

#: Wrist against the resting shoulder in arm lengths (forward, up, outward), then the direction of the elbow.
ARMS: dict[str, tuple[float, float, float, float, float, float]] = {
    "low": (0.36, -0.86, -0.10, -0.25, 0.0, 1.0),
    "first": (0.72, -0.36, -0.16, -0.10, -0.25, 1.0),
    "second": (0.30, -0.12, 0.90, -0.9, 0.35, 0.0),
    "fifth": (0.26, 0.83, -0.16, -0.15, 0.0, 1.0),
    "side low": (0.24, -0.74, 0.52, -0.6, 0.2, 0.5),
    "hanging": (0.06, -0.97, 0.10, -0.9, 0.0, 0.5),
    "away": (0.02, -0.50, 0.82, -0.8, 0.0, 0.3),
}
_ARM_NAMES = ("hand_forward", "hand_up", "hand_out", "elbow_forward", "elbow_up", "elbow_out")

_STARTS: dict[str, float] = dict.fromkeys(
    (
        "yaw",
        "tilt",
        "obliquity",
        "thorax_extension",
        "thorax_side",
        "thorax_twist",
        "head_pitch",
        "head_roll",
        "head_yaw",
        "com_x",
        "com_y",
    ),
    0.0,
) | {"knee": float(STRAIGHT_RAD)}
_SIDED_STARTS: dict[str, float] = dict.fromkeys(
    (
        "ball_x",
        "ball_y",
        "ball_z",
        "azimuth",
        "pitch",
        "roll",
        "tip",
        "knee_in",
        "aloft",
        "toes",
        "line",
        "retire",
        "elevation",
        "direction",
        "deviation",
        "retire_gap",
        "shoulder_lift",
        "arch_sink",
    ),
    0.0,
) | {"retire_height": 0.97, "air_knee": float(STRAIGHT_RAD), "support": 1.0, "knee_sign": 1.0, "point": 0.0, "turnout": 0.0}


@dataclass(frozen=True)
class Anchor:
    """A moment of a jump: where the centre of mass is across the floor and how deep the legs bend.

    kind: "stand" (at rest), "bottom" (deepest), "take-off" or "landing" (free fall between the two). knee_rad: of the legs
    that stand. across (2,) in metres; speed (2,) in m/s; lift_m_s2: upward acceleration at the bottom.
    """

    time_s: float
    kind: Literal["stand", "bottom", "take-off", "landing"]
    knee_rad: float
    across: tuple[float, float]
    lift_m_s2: float = 0.0


@dataclass
class Step:
    """One step of the phrase as it was planned: the phase it makes, and its moments by name."""

    id: str
    kind: str
    side: Literal["left", "right", "both"] | None
    start_s: float
    end_s: float
    moments: dict[str, float] = field(default_factory=dict)
    facts: dict[str, float | str | None] = field(default_factory=dict)


class Score:
    """Controls of one phrase for one body; steps write into it and move ``now_s`` on."""

    def __init__(self, body: Body, beat_s: float) -> None:
        self.body = body
        self.beat_s = beat_s
        self.now_s = 0.0
        self.facing = 0.0
        self.centre = np.zeros(2)
        self.position = "first"
        self.front: Sided = "right"
        self.steps: list[Step] = []
        self.jumps: list[list[Anchor]] = []
        self.channels: dict[str, Channel] = {name: Channel(value) for name, value in _STARTS.items()}
        for suffix in SUFFIXES.values():
            for name, value in _SIDED_STARTS.items():
                self.channels[name + suffix] = Channel(value)
            for name, value in zip(_ARM_NAMES, ARMS["low"], strict=True):
                self.channels[name + suffix] = Channel(value)
            self.channels["turnout" + suffix] = Channel(body.turnout_rad)
            self.channels["point" + suffix] = Channel(0.75 * body.pointed_rad)
        if body.child:
            # With short shanks the toe must reach all the way up to be at the knee.
            for suffix in SUFFIXES.values():
                self.channels["retire_height" + suffix] = Channel(1.0)
        if body.left_longer_m:
            # Over legs of two lengths the hips stand aslant.
            self["obliquity"].start = self["obliquity"].target = -float(
                np.arcsin(body.left_longer_m / (2.0 * body.hip_half_width_m))
            )
        self.stand_in("first")

    def __getitem__(self, name: str) -> Channel:
        return self.channels[name]

    def channel(self, name: str, side: str) -> Channel:
        """The control of one side."""
        return self.channels[name + SUFFIXES[side]]

    def arms(self, start_s: float, end_s: float, left: str, right: str | None = None) -> None:
        """Carry the arms to named places."""
        for side, place in zip(SIDES, (left, right or left), strict=True):
            for name, value in zip(_ARM_NAMES, ARMS[place], strict=True):
                self.channel(name, side).to(start_s, end_s, value)

    def hold_arms(self, place: str) -> None:
        """Start with the arms in a named place."""
        for side in SUFFIXES:
            for name, value in zip(_ARM_NAMES, ARMS[place], strict=True):
                self.channel(name, side).start = self.channel(name, side).target = value

    def mirror_names(self) -> None:
        """Exchange left and right in the written steps, for the mirror twin."""
        for step in self.steps:
            step.side = OTHER.get(step.side or "", step.side)
            for name, value in step.facts.items():
                if value in OTHER:
                    step.facts[name] = OTHER[str(value)]
                elif name == "turned_deg" and isinstance(value, float):
                    step.facts[name] = -value

    def lab(self, forward: float, left: float) -> Floats:
        """A place on the floor (2,) from the stance's own forward and left."""
        c, s = np.cos(self.facing), np.sin(self.facing)
        return np.asarray(self.centre + np.array([c * forward - s * left, s * forward + c * left]))

    def place_of(self, position: str, side: Sided) -> tuple[Floats, float]:
        """Middle of the foot (2,) relative to the stance (forward, left), and its azimuth outward, in a named position."""
        k = self.body.stature_m / 1.68
        turnout = self.body.turnout_rad
        half = self.body.foot.length_heel_to_ball_m / 2.0
        ahead = 1.0 if side == self.front else -1.0
        left = -SIGN[side]
        if position == "first":
            return np.array([0.0, left * (0.035 * k + half * np.sin(turnout))]), turnout
        if position == "second":
            return np.array([0.0, left * (0.20 * k + half * np.sin(turnout))]), turnout
        if position == "fifth":
            return np.array([ahead * 0.082 * k, 0.0]), turnout
        if position == "fourth":
            return np.array([ahead * 0.160 * k, left * 0.02 * k]), turnout
        if position == "parallel":
            return np.array([0.0, left * self.body.hip_half_width_m]), np.radians(4.0)
        raise ValueError(f"no position {position!r}")

    def foot_target(self, position: str, side: Sided) -> tuple[Floats, float]:
        """Ball (2,) in the laboratory and laboratory azimuth of the foot in a named position."""
        middle, outward = self.place_of(position, side)
        azimuth = self.facing - SIGN[side] * outward
        half = self.body.foot.length_heel_to_ball_m / 2.0
        return self.lab(*middle) + half * np.array([np.cos(azimuth), np.sin(azimuth)]), float(azimuth)

    def stand_in(self, position: str) -> None:
        """Start the phrase in a position (before any step)."""
        self.position = position
        for side in SIDES:
            ball, azimuth = self.foot_target(position, side)
            for name, value in (("ball_x", ball[0]), ("ball_y", ball[1]), ("azimuth", azimuth)):
                self.channel(name, side).start = self.channel(name, side).target = float(value)
            turnout = self.body.turnout_rad if position != "parallel" else np.radians(4.0)
            self.channel("turnout", side).start = self.channel("turnout", side).target = turnout
        rest = self.balance_place()
        for name, value in (("com_x", rest[0]), ("com_y", rest[1])):
            self[name].start = self[name].target = float(value)

    def foot_centre(self, side: Sided, share: float = 0.5) -> Floats:
        """A point (2,) of the planted foot's long line: share 0 = heel, 1 = ball."""
        azimuth = self.channel("azimuth", side).target
        ball = np.array([self.channel("ball_x", side).target, self.channel("ball_y", side).target])
        return np.asarray(
            ball - (1.0 - share) * self.body.foot.length_heel_to_ball_m * np.array([np.cos(azimuth), np.sin(azimuth)])
        )

    def support_point(self, side: Sided) -> Floats:
        """Middle of the inner and outer ball (2,) of a foot on demi-pointe."""
        azimuth = self.channel("azimuth", side).target
        foot = self.body.foot
        ball = np.array([self.channel("ball_x", side).target, self.channel("ball_y", side).target])
        across = 0.5 * (foot.ball_medial[2] + foot.ball_lateral[2]) * SIGN[side]
        along = 0.5 * (foot.ball_medial[0] + foot.ball_lateral[0] * np.cos(self.body.releve_rad))
        ahead = np.array([np.cos(azimuth), np.sin(azimuth)])
        right = np.array([np.sin(azimuth), -np.cos(azimuth)])
        return np.asarray(ball + along * ahead + across * right)

    def balance_place(self, share: float = 0.58) -> Floats:
        """Where the centre of mass stands over both feet (2,)."""
        return 0.5 * (self.foot_centre("left", share) + self.foot_centre("right", share))

    def shift(self, start_s: float, end_s: float, place: Floats) -> None:
        """Carry the centre of mass across the floor to a place (2,)."""
        self["com_x"].to(start_s, end_s, float(place[0]))
        self["com_y"].to(start_s, end_s, float(place[1]))

    def set_foot(self, start_s: float, end_s: float, side: Sided, position: str, lift_m: float = 0.0) -> None:
        """Bring a foot to its place in a position; with lift_m it is carried over the floor at that height."""
        ball, azimuth = self.foot_target(position, side)
        for name, value in (("ball_x", ball[0]), ("ball_y", ball[1]), ("azimuth", azimuth)):
            self.channel(name, side).to(start_s, end_s, float(value))
        if lift_m:
            third = (end_s - start_s) / 2.0
            self.channel("ball_z", side).bump(start_s - 0.4 * third, end_s + 0.4 * third, lift_m, third)

    def new_id(self, kind: str) -> str:
        """The next phase id of a kind: turn-1, turn-2, …"""
        return f"{kind}-{1 + sum(step.kind == kind for step in self.steps)}"

    def note(
        self, kind: str, side: Literal["left", "right", "both"] | None, start_s: float, end_s: float, **moments: float
    ) -> Step:
        """Write a step down as a phase of the truth."""
        step = Step(self.new_id(kind), kind, side, start_s, end_s, dict(moments))
        self.steps.append(step)
        return step
