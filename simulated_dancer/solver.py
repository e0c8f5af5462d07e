"""From the score to the pose of every frame: legs, trunk, and a pelvis that puts the centre of mass where it must be."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import convolve1d, maximum_filter1d

from ..analysis_core.body.anatomy import ARM_SEGMENTS, SUFFIXES
from .body import Body
from .legs import LegControls, LegPose, PlantedFoot, leg_length, plant, solve_leg
from .rotations import Bools, Floats
from .score import SIGN, Anchor, Score
from .timeline import Knot, through
from .trunk import TrunkPose, solve_trunk

Numbers = NDArray[np.int64]

GRAVITY = 9.81
#: A frame is solved again only when its pelvis moved further than this.
STILL_M = 1e-7
#: Half the time within which the dancer gives way in the knees when one leg would not reach the floor.
GIVE_S = 0.12

#: de Leva 1996 Table 4, female / male: share of body mass, and centre of mass as a share of the length from the first end.
MASSES = {
    "head": ((0.0668, 0.4841), (0.0694, 0.5002)),  # vertex to C7
    "trunk": ((0.4257, 0.3782), (0.4346, 0.4310)),  # mid-shoulder to mid-hip
    "upper_arm": ((0.0255, 0.5754), (0.0271, 0.5772)),
    "forearm": ((0.0138, 0.4559), (0.0162, 0.4574)),
    "hand": ((0.0056, 0.7474), (0.0061, 0.7900)),  # wrist to third metacarpal head
    "thigh": ((0.1478, 0.3612), (0.1416, 0.4095)),
    "shank": ((0.0481, 0.4352), (0.0433, 0.4395)),
    "foot": ((0.0129, 0.4014), (0.0137, 0.4415)),  # heel to toe tip
}
_LEG_FIELDS = tuple(f.name for f in fields(LegControls))
_SIDES = tuple(SIGN.items())


@dataclass(frozen=True)
class Pose:
    """The dancer at each time (F,): mid-hip (F, 3), what stands above it, both legs, and the centre of mass (F, 3)."""

    time_s: Floats
    mid_hip: Floats
    trunk: TrunkPose
    legs: tuple[LegPose, LegPose]
    centre_of_mass: Floats
    controls: dict[str, Floats]


def centre_of_mass(body: Body, mid_hip: Floats, trunk: TrunkPose, legs: tuple[LegPose, LegPose]) -> Floats:
    """Whole-body centre of mass (F, 3)."""
    column = 0 if body.sex == "female" else 1
    pairs: list[tuple[str, Floats, Floats]] = [
        ("head", mid_hip + trunk.vertex, mid_hip + trunk.seventh_cervical),
        ("trunk", mid_hip + 0.5 * (trunk.arms[0].shoulder + trunk.arms[1].shoulder), mid_hip),
    ]
    for arm in trunk.arms:
        joints = [mid_hip + p for p in (arm.shoulder, arm.elbow, arm.wrist, arm.hand)]
        pairs += [(name, joints[i], joints[i + 1]) for i, name in enumerate(ARM_SEGMENTS)]
    for leg in legs:
        pairs += [("thigh", leg.hip, leg.knee), ("shank", leg.knee, leg.ankle), ("foot", leg.points[:, 0], leg.points[:, 3])]
    total = np.zeros_like(mid_hip)
    mass = 0.0
    for name, first, second in pairs:
        share, along = MASSES[name][column]
        total += share * (first + along * (second - first))
        mass += share
    return total / mass


@dataclass(frozen=True)
class _Stance:
    """What of the standing does not depend on where the pelvis is: controls, hips from the mid-hip and planted ankles, left and
    right, each (F, 3)."""

    body: Body
    controls: dict[str, Floats]
    hips: tuple[Floats, Floats]
    ankles: tuple[Floats, Floats]

    def at(self, frames: Numbers) -> _Stance:
        """Of some frames."""
        controls = {name: values[frames] for name, values in self.controls.items()}
        (left, right), (first, second) = self.hips, self.ankles
        return _Stance(self.body, controls, (left[frames], right[frames]), (first[frames], second[frames]))


def _heights(stance: _Stance, mid_hip: Floats, knee: Floats | float) -> tuple[Floats, Floats]:
    """Height of the mid-hip (2, F) at which the left and the right leg, standing, bends by ``knee``; and who stands (2, F)."""
    heights, weights, c = [], [], stance.controls
    for (side, sign), hip, ankle in zip(_SIDES, stance.hips, stance.ankles, strict=True):
        x = SUFFIXES[side]
        reach = leg_length(stance.body.with_leg(sign), knee)
        across = np.hypot(*(mid_hip + hip - ankle)[:, :2].T)
        rise = np.sqrt(np.maximum(reach**2 - across**2, 1e-4))
        heights.append(ankle[:, 2] + rise - hip[:, 2])
        weights.append(c["support" + x])
    return np.stack(heights), np.stack(weights)


def _standing_height(stance: _Stance, mid_hip: Floats, knee: Floats | float) -> Floats:
    """Height of the mid-hip (F,) at which the legs that stand bend by ``knee``."""
    heights, weights = _heights(stance, mid_hip, knee)
    return np.asarray(np.sum(weights * heights, axis=0) / np.maximum(np.sum(weights, axis=0), 1e-6), dtype=np.float64)


def _give_way(stance: _Stance, mid_hip: Floats, time_s: Floats) -> Floats:
    """How far the mid-hip must sink (F,) so that every planted leg reaches the floor; smooth, and never too little."""
    limits, _ = _heights(stance, mid_hip, np.radians(0.6))
    c = stance.controls
    planted = np.stack([c["aloft" + x] + c["line" + x] + c["retire" + x] < 1e-9 for x in SUFFIXES.values()])
    excess = np.max(np.where(planted, mid_hip[:, 2] - limits, 0.0), axis=0)
    rate = (time_s.size - 1) / (time_s[-1] - time_s[0])
    size = 2 * max(2, round(GIVE_S * rate)) + 1
    window = np.hanning(size + 2)[1:-1]
    widest = maximum_filter1d(np.maximum(excess, 0.0), size, mode="nearest")
    return np.asarray(convolve1d(widest, window / window.sum(), mode="nearest"), dtype=np.float64)


def _heights_at(jump: list[Anchor], time_s: Floats, stance: _Stance, mid_hip: Floats, above: Floats) -> Floats:
    """Height of the centre of mass at each anchor of a jump, between the two frames beside it; above (F,): its height over the
    mid-hip of who stands."""
    after = np.clip(np.searchsorted(time_s, [anchor.time_s for anchor in jump]), 1, time_s.size - 1)
    beside = np.stack([after - 1, after])
    knee = np.broadcast_to([anchor.knee_rad for anchor in jump], beside.shape)
    heights = _standing_height(stance.at(beside.ravel()), mid_hip[beside.ravel()], knee.ravel()) + above[beside.ravel()]
    low, high = heights.reshape(beside.shape)
    share = np.array([anchor.time_s for anchor in jump]) - time_s[after - 1]
    share = np.clip(share / (time_s[after] - time_s[after - 1]), 0.0, 1.0)
    return np.asarray(low + share * (high - low))


def _knots(jump: list[Anchor], heights: Floats) -> tuple[Knot, ...]:
    knots: list[Knot] = []
    for anchor, following, height in zip(jump, [*jump[1:], None], heights, strict=True):
        position = np.array([*anchor.across, height])
        velocity, acceleration = np.zeros(3), np.array([0.0, 0.0, anchor.lift_m_s2])
        if anchor.kind == "take-off" and following is not None:
            flight = following.time_s - anchor.time_s
            across = (np.array(following.across) - np.array(anchor.across)) / flight
            velocity, acceleration = np.array([*across, GRAVITY * flight / 2.0]), np.array([0.0, 0.0, -GRAVITY])
        elif anchor.kind == "landing":
            before = knots[-1]
            flight = anchor.time_s - before.time_s
            acceleration = np.array([0.0, 0.0, -GRAVITY])
            position = before.position + before.velocity * flight + 0.5 * acceleration * flight**2
            velocity = before.velocity + acceleration * flight
        knots.append(Knot(anchor.time_s, position, velocity, acceleration))
    return tuple(knots)


def solve_pose(score: Score, time_s: Floats, rounds: int = 14) -> Pose:
    """The pose at each time (F,); the pelvis is found by fixed-point iteration on the centre of mass.

    Markers lie within 0.005 mm of where the iteration ends, 99 of 100 within 0.002 mm (measured on six phrases).
    """
    body = score.body
    c = {name: channel.at(time_s) for name, channel in score.channels.items()}
    trunk = solve_trunk(body, c)
    controls, planted = [], []
    for side, sign in _SIDES:
        controls.append(LegControls(**{name: c[name + SUFFIXES[side]] for name in _LEG_FIELDS}))
        planted.append(plant(body, sign, controls[-1]))
    target = np.stack([c["com_x"], c["com_y"], np.zeros_like(time_s)], axis=1)
    mid_hip = target.copy()
    mid_hip[:, 2] = body.hip_height_m
    offset = np.zeros_like(mid_hip)
    stance = _Stance(body, c, trunk.hips, (planted[0].ankle, planted[1].ankle))
    windows = [(time_s >= jump[0].time_s) & (time_s <= jump[-1].time_s) for jump in score.jumps]
    legs: tuple[LegPose, LegPose] | None = None
    solved, com = mid_hip.copy(), target
    for _ in range(rounds):
        mid_hip[:, :2] = target[:, :2] - offset[:, :2]
        standing = _standing_height(stance, mid_hip, c["knee"])
        mid_hip[:, 2] = standing
        give = _give_way(stance, mid_hip, time_s)
        mid_hip[:, 2] -= give
        for jump, window in zip(score.jumps, windows, strict=True):
            heights = _heights_at(jump, time_s, stance, mid_hip, offset[:, 2] - give)
            path = through(_knots(jump, heights), time_s[window])
            target[window, :2] = path[:, :2]
            mid_hip[window] = path - offset[window]
        moved = np.abs(mid_hip - solved).max(axis=1) > STILL_M if legs else np.ones(time_s.size, dtype=np.bool_)
        if not moved.any():
            break
        solved[moved] = mid_hip[moved]
        legs = _legs(body, controls, planted, solved, trunk.hips, c["yaw"], moved, legs)
        com = centre_of_mass(body, solved, trunk, legs)
        offset = com - solved
    assert legs is not None
    return Pose(time_s, solved, trunk, legs, com, c)


def _at(of_frames: Any, where: Bools) -> Any:
    """Some frames of what holds arrays (F, ...) and nothing else; itself where they are all."""
    if where.all():
        return of_frames
    return type(of_frames)(**{f.name: getattr(of_frames, f.name)[where] for f in fields(of_frames)})


def _put(into: LegPose, where: Bools, leg: LegPose) -> LegPose:
    """A leg with some of its frames replaced."""
    if where.all():
        return leg
    result = {f.name: getattr(into, f.name).copy() for f in fields(into)}
    for name, values in result.items():
        values[where] = getattr(leg, name)
    return LegPose(**result)


def _legs(
    body: Body,
    controls: list[LegControls],
    planted: list[PlantedFoot],
    mid_hip: Floats,
    hips: tuple[Floats, Floats],
    yaw: Floats,
    moved: Bools,
    before: tuple[LegPose, LegPose] | None,
) -> tuple[LegPose, LegPose]:
    """Both legs; before: as they were, and still are but where the pelvis ``moved`` (F,)."""
    at = [(mid_hip + hip)[moved] for hip in hips]
    asked = [_at(one, moved) for one in controls]
    standing = [_at(one, moved) for one in planted]
    turned = yaw[moved]
    sides = [(body.with_leg(sign), sign) for _, sign in _SIDES]
    first = [solve_leg(*sides[i], asked[i], standing[i], at[i], turned, None) for i in range(2)]
    result = list(first)
    for i, side in enumerate(sides):
        held = asked[i].retire > 0.0
        if held.any():
            own = _at(asked[i], held), _at(standing[i], held), at[i][held], turned[held]
            leg = solve_leg(*side, *own, _at(first[1 - i], held))
            result[i] = _put(first[i], held, leg)
    if before is not None:
        result = [_put(old, moved, new) for old, new in zip(before, result, strict=True)]
    return result[0], result[1]
