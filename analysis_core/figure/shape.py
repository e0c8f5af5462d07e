"""The shape of a dancer: tubes with drawn cross-sections along the rest pose of this dancer.

Widths are parts of stature, from memory of published body measurements and drawn by eye; lengths are this dancer's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..body.anatomy import ARM_SEGMENTS, LEG_SEGMENTS, SIDE_SUFFIXES, TRUNK_SEGMENTS
from ..body.movement import FOOT_POINTS
from ..take import Floats
from .proportions import Rest
from .stations import between_stations

#: Tubes run into each other over about this length, part of stature.
BLEND_SHARE = 0.0042
_DENSE = 96


@dataclass(frozen=True)
class Tube:
    """One limb or lump. Stations along its axis, smoothly joined.

    begin (3,), axes (3, 3): columns along, front, side. along (N,) metres from begin; centre (N, 2) and half widths to the
    front, the back and both sides (N, 3), metres. bones: names, with ``joints`` between each two of them (metres along) and
    ``bends``, half of the length over which one takes over from the other. skin: what it is covered with. floor_m: nothing
    below this height.
    """

    begin: Floats
    axes: Floats
    along: Floats
    centre: Floats
    half: Floats
    bones: tuple[str, ...]
    joints: tuple[float, ...] = ()
    bends: tuple[float, ...] = ()
    floor_m: float | None = None

    def distance(self, points: Floats) -> Floats:
        """Distance (…,) of points (…, 3) from the skin, negative inside; exact on the skin, good near it."""
        local = (points - self.begin) @ self.axes
        place = np.clip(local[..., 0], self.along[0], self.along[-1])
        profile = np.concatenate([self.centre, self.half], axis=1)
        step = (self.along[-1] - self.along[0]) / (len(self.along) - 1)
        position = (place - self.along[0]) / step
        low = np.minimum(position.astype(np.int32), len(self.along) - 2)
        share = (position - low)[..., None]
        here = profile[low] * (1.0 - share) + profile[low + 1] * share
        front = local[..., 1] - here[..., 0]
        side = local[..., 2] - here[..., 1]
        half_front = np.where(front > 0, here[..., 2], here[..., 3])
        across, slope = (
            np.hypot(front / half_front, side / here[..., 4]),
            np.hypot(front / half_front**2, side / here[..., 4] ** 2),
        )
        distance = (across - 1.0) * across / np.maximum(slope, 1e-6)
        distance = np.where(across < 0.05, -np.minimum(half_front, here[..., 4]), distance)
        over = np.abs(local[..., 0] - place)
        distance = np.where(over > 0, np.hypot(np.maximum(distance, 0.0), over), distance)
        if self.floor_m is not None:
            distance = np.maximum(distance, self.floor_m - points[..., 2])
        deep: Floats = np.asarray(distance)
        return deep

    def bounds(self, margin: float) -> tuple[Floats, Floats]:
        """A box around the tube: lower and upper corner."""
        reach = np.max(self.half, axis=1)
        middle = self.begin + self.along[:, None] * self.axes[:, 0] + self.centre @ self.axes[:, 1:].T
        return (middle - reach[:, None]).min(axis=0) - margin, (middle + reach[:, None]).max(axis=0) + margin

    def weights(self, points: Floats) -> Floats:
        """How much each of ``bones`` moves points (P, 3): (P, bones), rows sum to 1."""
        place = (points - self.begin) @ self.axes[:, 0]
        rest = np.ones(len(points))
        columns = []
        for joint, bend in zip(self.joints, self.bends, strict=True):
            ahead = np.clip((place - joint) / (2.0 * bend) + 0.5, 0.0, 1.0)
            ahead = ahead * ahead * (3.0 - 2.0 * ahead)
            columns.append(rest * (1.0 - ahead))
            rest = rest * ahead
        columns.append(rest)
        return np.stack(columns, axis=1)


def _tube(
    begin: Floats,
    axes: Floats,
    rows: Sequence[tuple[float, ...]],
    bones: tuple[str, ...],
    joints: tuple[float, ...] = (),
    bends: tuple[float, ...] = (),
    *,
    floor_m: float | None = None,
) -> Tube:
    """A tube from rows: along, centre front, centre side, half front, half back, half side; all metres."""
    table = np.array(rows, dtype=np.float64)
    along = np.linspace(table[0, 0], table[-1, 0], _DENSE)
    smooth = between_stations(table[:, 0], table[:, 1:], along)
    return Tube(begin, axes, along, smooth[:, :2], np.maximum(smooth[:, 2:], 1e-3), bones, joints, bends, floor_m)


_UPWARD = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])  # along up, front forward, side left
_DOWNWARD = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, -1.0], [-1.0, 0.0, 0.0]])
_FORWARD = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])  # along forward, "front" up, side left

#: Trunk from the crotch to the root of the neck: height (0 hips, 1 root of the neck), then parts of stature: centre forward,
#: half forward, half backward, half sideways.
_TRUNK = (
    (-0.19, -0.006, 0.004, 0.004, 0.006),
    (-0.15, -0.006, 0.026, 0.030, 0.036),
    (-0.06, -0.005, 0.045, 0.062, 0.082),
    (0.04, -0.004, 0.052, 0.069, 0.094),
    (0.14, -0.003, 0.053, 0.064, 0.092),
    (0.26, 0.000, 0.049, 0.050, 0.079),
    (0.40, 0.002, 0.046, 0.042, 0.068),
    (0.52, 0.002, 0.050, 0.046, 0.072),
    (0.66, 0.002, 0.056, 0.054, 0.081),
    (0.76, 0.000, 0.060, 0.057, 0.085),
    (0.86, -0.004, 0.048, 0.054, 0.088),
    (0.94, -0.008, 0.036, 0.044, 0.082),
    (1.00, -0.009, 0.026, 0.032, 0.056),
    (1.04, -0.009, 0.016, 0.020, 0.030),
    (1.06, -0.009, 0.003, 0.003, 0.005),
)
#: Head from chin to crown: height, then as above.
_HEAD = (
    (0.00, 0.030, 0.004, 0.006, 0.004),
    (0.04, 0.028, 0.012, 0.020, 0.016),
    (0.14, 0.020, 0.026, 0.034, 0.028),
    (0.30, 0.010, 0.039, 0.043, 0.036),
    (0.48, 0.003, 0.047, 0.050, 0.041),
    (0.65, -0.002, 0.051, 0.055, 0.044),
    (0.80, -0.004, 0.046, 0.052, 0.041),
    (0.92, -0.005, 0.031, 0.037, 0.028),
    (0.98, -0.005, 0.014, 0.018, 0.013),
    (1.00, -0.005, 0.004, 0.004, 0.004),
)
#: Height of the head from chin to crown in the table, part of stature; its middle is the centre of the head.
HEAD_HEIGHT = 0.132
#: Leg from the groin to the sole of the ankle: thigh 0 to 1, shank 1 to 2; centre forward, outward, half forward, back, sideways.
_LEG = (
    (-0.10, -0.004, 0.002, 0.004, 0.006, 0.004),
    (-0.04, -0.003, 0.002, 0.034, 0.044, 0.034),
    (0.08, 0.000, 0.001, 0.050, 0.056, 0.049),
    (0.30, 0.004, 0.000, 0.047, 0.050, 0.046),
    (0.60, 0.004, -0.002, 0.040, 0.041, 0.038),
    (0.86, 0.002, -0.002, 0.032, 0.031, 0.030),
    (1.00, 0.004, -0.001, 0.030, 0.030, 0.030),
    (1.10, 0.000, 0.000, 0.026, 0.031, 0.028),
    (1.30, -0.006, 0.001, 0.024, 0.036, 0.031),
    (1.50, -0.006, 0.000, 0.020, 0.030, 0.026),
    (1.75, -0.004, 0.000, 0.016, 0.021, 0.019),
    (1.90, -0.003, 0.000, 0.016, 0.019, 0.017),
    (1.99, -0.002, 0.000, 0.017, 0.020, 0.020),
    (2.04, -0.002, 0.000, 0.015, 0.018, 0.016),
    (2.09, -0.002, 0.000, 0.003, 0.003, 0.003),
)
#: Arm from the shoulder to the wrist: upper arm 0 to 1, forearm 1 to 2; half forward, back, sideways.
_ARM = (
    (-0.16, 0.004, 0.004, 0.004),
    (-0.09, 0.022, 0.022, 0.020),
    (0.02, 0.030, 0.031, 0.028),
    (0.22, 0.027, 0.029, 0.026),
    (0.50, 0.024, 0.026, 0.023),
    (0.88, 0.019, 0.021, 0.021),
    (1.00, 0.018, 0.021, 0.022),
    (1.20, 0.020, 0.021, 0.024),
    (1.50, 0.017, 0.018, 0.020),
    (1.88, 0.012, 0.012, 0.016),
    (2.00, 0.011, 0.011, 0.016),
    (2.06, 0.003, 0.003, 0.005),
)
#: Hand from the wrist to the tip of the middle finger, loosely closed; centre forward, half forward, back, sideways.
_HAND = (
    (-0.08, 0.000, 0.003, 0.003, 0.005),
    (0.00, 0.000, 0.010, 0.010, 0.015),
    (0.22, 0.001, 0.011, 0.010, 0.021),
    (0.46, 0.003, 0.010, 0.008, 0.023),
    (0.70, 0.007, 0.007, 0.006, 0.018),
    (0.90, 0.013, 0.006, 0.005, 0.010),
    (0.98, 0.016, 0.004, 0.004, 0.006),
    (1.00, 0.017, 0.002, 0.002, 0.003),
)
#: Foot from the heel (0) to the ball (1), then the toes to their tip (2): middle height, outward shift towards the outer edge,
#: half up, half down, half sideways.
_FOOT = (
    (-0.03, 0.014, 0.000, 0.003, 0.003, 0.003),
    (0.00, 0.016, 0.000, 0.010, 0.010, 0.010),
    (0.08, 0.018, 0.000, 0.018, 0.017, 0.017),
    (0.24, 0.020, 0.000, 0.024, 0.019, 0.020),
    (0.42, 0.024, 0.002, 0.022, 0.015, 0.020),
    (0.62, 0.022, 0.002, 0.017, 0.013, 0.022),
    (0.82, 0.015, 0.001, 0.014, 0.012, 0.026),
    (1.00, 0.011, 0.000, 0.012, 0.012, 0.028),
    (1.35, 0.009, -0.002, 0.009, 0.010, 0.026),
    (1.70, 0.008, -0.005, 0.008, 0.009, 0.020),
    (1.93, 0.007, -0.008, 0.006, 0.007, 0.011),
    (2.00, 0.006, -0.009, 0.002, 0.002, 0.003),
)


def _trunk(rest: Rest, bun: bool) -> list[Tube]:
    size = rest.stature_m
    hips, neck = rest.head_of("pelvis"), rest.head_of("neck")
    height = float(neck[2] - hips[2])
    lumbar, thorax = (float(rest.head_of(name)[2] - hips[2]) for name in ("lumbar", "thorax"))
    rows = [(along * height, x * size, 0.0, *(half * size for half in halves)) for along, x, *halves in _TRUNK]
    begin = np.array([hips[0], 0.0, hips[2]])
    trunk = _tube(begin, _UPWARD, rows, TRUNK_SEGMENTS[:3], (lumbar, thorax), (0.045 * size / 1.68, 0.055 * size / 1.68))
    centre = rest.ends["head"]
    # Heads grow less than bodies: the head has a size of its own.
    of_head = rest.head_m / HEAD_HEIGHT
    chin = float(centre[2]) - rest.head_m / 2.0
    low = np.array([neck[0] - 0.012 * size, 0.0, neck[2] - 0.03 * size])
    high = np.array([centre[0] - 0.016 * of_head, 0.0, chin + 0.035 * of_head])
    reach = float(np.linalg.norm(high - low))
    along = (high - low) / reach
    side = np.array([0.0, 1.0, 0.0])
    axes = np.column_stack([along, np.cross(side, along), side])
    rows = [
        (share * reach, 0.0, 0.0, half * size, half * size, half * 0.96 * size)
        for share, half in ((-0.1, 0.010), (0.0, 0.036), (0.18, 0.031), (0.4, 0.0285), (0.8, 0.029), (1.0, 0.030), (1.15, 0.008))
    ]
    joint = 0.3 * reach, 0.85 * reach
    throat = _tube(low, axes, rows, TRUNK_SEGMENTS[2:], joint, (0.2 * reach, 0.25 * reach))
    rows = [(along * rest.head_m, x * of_head, 0.0, *(half * of_head for half in halves)) for along, x, *halves in _HEAD]
    head = _tube(np.array([centre[0], 0.0, chin]), _UPWARD, rows, ("head",))
    return [trunk, throat, head, *_face(centre, of_head, bun)]


def _lump(place: Floats, radius: tuple[float, float, float], bone: str) -> Tube:
    """An egg around a place; radius upward, forward, sideways."""
    up, front, side = radius
    angles = np.radians([-89.0, -70.0, -45.0, -20.0, 0.0, 20.0, 45.0, 70.0, 89.0])
    rows = [(np.sin(a) * up, 0.0, 0.0, np.cos(a) * front, np.cos(a) * front, np.cos(a) * side) for a in angles]
    return _tube(place, _UPWARD, rows, (bone,))


def bun_place(centre: Floats, size: float) -> Floats:
    """Where the hair is gathered, (3,)."""
    return centre + np.array([-0.060, 0.0, 0.030]) * size


def _face(centre: Floats, size: float, bun: bool) -> list[Tube]:
    """What tells front from back: nose, ears, and hair that is gathered at the back."""
    nose = _lump(centre + np.array([0.052, 0.0, -0.012]) * size, (0.011 * size, 0.011 * size, 0.006 * size), "head")
    gathered = [_lump(bun_place(centre, size), (0.024 * size, 0.020 * size, 0.025 * size), "head")] if bun else []
    ears = [
        _lump(centre + np.array([-0.004, side * 0.044, -0.012]) * size, (0.014 * size, 0.008 * size, 0.004 * size), "head")
        for side in (-1.0, 1.0)
    ]
    return [nose, *gathered, *ears]


def _shoulder(rest: Rest, suffix: str) -> Tube:
    """From the root of the neck over the shoulder blade's ridge to the arm."""
    size = rest.stature_m
    neck, arm = rest.head_of("neck"), rest.head_of(f"upper_arm{suffix}")
    begin = np.array([neck[0] - 0.012 * size, 0.0, neck[2] - 0.022 * size])
    end = arm + np.array([-0.004, 0.0, 0.002]) * size
    reach = float(np.linalg.norm(end - begin))
    along = (end - begin) / reach
    front = np.array([1.0, 0.0, 0.0])
    front = front - along * (front @ along)
    front /= np.linalg.norm(front)
    axes = np.column_stack([along, front, np.cross(along, front)])
    rows = [
        (share * reach, 0.0, 0.0, half * size, half * size, thick * size)
        for share, half, thick in (
            (0.0, 0.030, 0.024),
            (0.35, 0.034, 0.024),
            (0.75, 0.031, 0.026),
            (1.0, 0.028, 0.026),
            (1.1, 0.006, 0.006),
        )
    ]
    bones = ("thorax", f"clavicle{suffix}")
    return _tube(begin, axes, rows, bones, (0.45 * reach,), (0.4 * reach,))


def _along_arm(rest: Rest, suffix: str) -> list[Tube]:
    size = rest.stature_m
    sign = -1.0 if suffix == ".R" else 1.0
    shoulder, elbow, wrist = (rest.head_of(name + suffix) for name in ARM_SEGMENTS)
    along = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
    front = np.array([1.0, 0.0, 0.0])
    axes = np.column_stack([along, front, np.cross(along, front) * sign])
    upper, lower = float(np.linalg.norm(elbow - shoulder)), float(np.linalg.norm(wrist - elbow))
    rows = [
        (min(place, 1.0) * upper + max(place - 1.0, 0.0) * lower, 0.0, 0.0, *(half * size for half in halves))
        for place, *halves in _ARM
    ]
    bones = (f"clavicle{suffix}", f"upper_arm{suffix}", f"forearm{suffix}", f"hand{suffix}")
    bends = (0.026 * size, 0.018 * size, 0.014 * size)
    arm = _tube(shoulder, axes, rows, bones, (0.0, upper, upper + lower), bends)
    tip = rest.ends[f"hand{suffix}"]
    length = float(np.linalg.norm(tip - wrist))
    rows = [(place * length, x * size, 0.0, *(half * size for half in halves)) for place, x, *halves in _HAND]
    hand = _tube(wrist, axes, rows, (f"forearm{suffix}", f"hand{suffix}"), (0.0,), (0.012 * size,))
    outward = axes[:, 2]
    begin = wrist + along * 0.18 * length + outward * 0.012 * size
    direction = along * 0.85 + outward * 0.38 + front * 0.35
    direction /= np.linalg.norm(direction)
    across = np.cross(direction, front)
    across /= np.linalg.norm(across)
    thumb_axes = np.column_stack([direction, np.cross(across, direction), across])
    rows = [
        (share * length, 0.0, 0.0, half * size, half * size, half * size)
        for share, half in ((-0.05, 0.003), (0.0, 0.008), (0.2, 0.0075), (0.38, 0.0055), (0.45, 0.002))
    ]
    return [arm, hand, _tube(begin, thumb_axes, rows, (f"hand{suffix}",))]


def _along_leg(rest: Rest, suffix: str) -> list[Tube]:
    size = rest.stature_m
    side = 0 if suffix == ".L" else 1
    sign = 1.0 if suffix == ".L" else -1.0
    hip, knee, ankle = (rest.head_of(name + suffix) for name in LEG_SEGMENTS[:3])
    thigh, shank = float(hip[2] - knee[2]), float(knee[2] - ankle[2])
    rows = [
        (min(place, 1.0) * thigh + max(place - 1.0, 0.0) * shank, x * size, -sign * out * size, *(half * size for half in halves))
        for place, x, out, *halves in _LEG
    ]
    bones = ("pelvis", f"thigh{suffix}", f"shank{suffix}", f"foot{suffix}")
    bends = (0.045 * size, 0.026 * size, 0.018 * size)
    leg = _tube(hip, _DOWNWARD, rows, bones, (0.0, thigh, thigh + shank), bends)
    points = rest.feet[side]
    heel, medial, lateral, toe = (points[FOOT_POINTS.index(name)] for name in FOOT_POINTS)
    ball = float(medial[0] + lateral[0]) / 2.0
    middle = float(medial[1] + lateral[1]) / 2.0
    behind, ahead = ball - float(heel[0]), float(toe[0]) - ball
    width = max(abs(float(medial[1] - lateral[1])) / (2.0 * 0.024 * size), 0.6)
    half_width = min(width, 1.25) * size
    rows = [
        (
            min(place, 1.0) * behind + max(place - 1.0, 0.0) * ahead,
            up * size,
            sign * out * size,
            *(half * size for half in halves[:2]),
            halves[2] * half_width,
        )
        for place, up, out, *halves in _FOOT
    ]
    of_foot = (f"foot{suffix}", f"toes{suffix}")
    joint = float(rest.head_of(f"toes{suffix}")[0] - heel[0])
    begin = np.array([heel[0], (float(heel[1]) + middle) / 2.0, 0.0])
    return [leg, _tube(begin, _FORWARD, rows, of_foot, (joint,), (0.012 * size,), floor_m=0.0)]


def tubes_of(rest: Rest, *, bun: bool) -> list[Tube]:
    """All tubes that make the body of a dancer at rest."""
    limbs = [
        tube
        for suffix in SIDE_SUFFIXES
        for tube in (_shoulder(rest, suffix), *_along_arm(rest, suffix), *_along_leg(rest, suffix))
    ]
    return [*_trunk(rest, bun), *limbs]
