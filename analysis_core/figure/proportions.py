"""This dancer at rest: where every segment begins and how it lies, from the lengths found in the movement."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from ..body.movement import FOOT_POINTS, JOINTS, SEGMENTS, SIDES, SUFFIXES, Movement
from ..take import Floats

#: Segments that move each segment; the pelvis is moved by none.
PARENTS = {
    "lumbar": "pelvis",
    "thorax": "lumbar",
    "neck": "thorax",
    "head": "neck",
    **{
        f"{name}{suffix}": parent if parent in ("pelvis", "thorax") else f"{parent}{suffix}"
        for suffix in (".L", ".R")
        for name, parent in (
            ("clavicle", "thorax"),
            ("upper_arm", "clavicle"),
            ("forearm", "upper_arm"),
            ("hand", "forearm"),
            ("thigh", "pelvis"),
            ("shank", "thigh"),
            ("foot", "shank"),
            ("toes", "foot"),
        )
    },
}
#: Arms at rest hang this far from the body, so that the skin of the armpit can open and close.
ARM_ANGLE_RAD = np.radians(42.0)
#: Axes of a segment of an upright dancer who faces +X: forward, up, to the right, as columns.
UPRIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
#: Where joints lie when a take does not show them: forward, outward, up, in parts of stature, seen from the joint before.
#: Proportions after Drillis and Contini 1966, from memory.
_USUAL_OFFSETS = {
    "lumbar": (0.0, 0.0, 0.055),
    "thorax": (0.0, 0.0, 0.095),
    "neck": (0.003, 0.0, 0.166),
    "head": (0.0, 0.0, 0.065),
    "clavicle": (0.037, 0.0, 0.154),
    "upper_arm": (-0.037, 0.098, -0.013),
    "thigh": (0.0, 0.054, 0.0),
    "toes": (0.076, 0.0, -0.031),
}
_USUAL_LENGTHS = {"thigh": 0.242, "shank": 0.240, "upper_arm": 0.158, "forearm": 0.146, "hand": 0.108}
_USUAL_ANKLE_HEIGHT = 0.041
#: Leg length (hip joint to ankle joint) and stature; after the same source.
_LEG_SHARE_OF_STATURE = 0.482
_USUAL_STATURE_M = 1.68
#: A foot is flat when none of its points is higher than this above its own flat height.
_FLAT_M = 0.01


@dataclass(frozen=True)
class Rest:
    """The dancer at rest, facing +X, the middle of the hips above the origin, the floor at 0; metres.

    stature_m. heads (S, 3): where each segment of SEGMENTS begins. rotations (S, 3, 3): columns are its axes.
    ends: tips of the segments that end the body: hand.L, hand.R, toes.L, toes.R and head (centre of the head).
    feet (2, 4, 3): FOOT_POINTS of the left and right foot.
    """

    stature_m: float
    heads: Floats
    rotations: Floats
    ends: dict[str, Floats]
    feet: Floats

    def head_of(self, name: str) -> Floats:
        """Where a segment begins (3,)."""
        head: Floats = self.heads[SEGMENTS.index(name)]
        return head


def _median(values: Floats) -> Floats:
    """Median over time of what is known; NaN when nothing is."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # all missing: NaN is the answer wanted
        median: Floats = np.nanmedian(values, axis=0)
        return median


def _seen_from(movement: Movement, segment: str, points: Floats) -> Floats:
    """Median place (3,) of points (F, 3) in the frame of a segment: forward, up, right."""
    rotations = movement.segment(segment)
    origins = movement.segment_origins_m[:, SEGMENTS.index(segment)]
    return _median(np.einsum("fji,fj->fi", rotations, points - origins))


def _mean_rotation(rotations: Floats) -> Floats:
    """The rotation (3, 3) nearest to the mean of many (F, 3, 3); upright when none is known."""
    known = rotations[np.isfinite(rotations).all(axis=(1, 2))]
    if not len(known):
        return np.eye(3)
    left, _, right = np.linalg.svd(known.mean(axis=0))
    nearest: Floats = left @ np.diag([1.0, 1.0, np.linalg.det(left @ right)]) @ right
    return nearest


def _pitched(angle_rad: float) -> Floats:
    """Axes of a segment that is tipped forward by an angle; upright when the angle is not known."""
    angle = angle_rad if np.isfinite(angle_rad) else 0.0
    sine, cosine = np.sin(angle), np.cos(angle)
    tip = np.array([[cosine, 0.0, sine], [0.0, 1.0, 0.0], [-sine, 0.0, cosine]])
    tipped: Floats = tip @ UPRIGHT
    return tipped


def _stature(movement: Movement) -> float:
    standing = movement.standing
    if np.isfinite(standing.stature_m):
        return float(standing.stature_m)
    if np.isfinite(standing.leg_length_m):
        return float(standing.leg_length_m / _LEG_SHARE_OF_STATURE)
    return _USUAL_STATURE_M


def _arm_axes(sign: float) -> Floats:
    """Axes of the arm at rest; sign +1 right, -1 left."""
    sine, cosine = np.sin(ARM_ANGLE_RAD), np.cos(ARM_ANGLE_RAD)
    up = np.array([0.0, sign * sine, cosine])
    forward = np.array([1.0, 0.0, 0.0])
    return np.column_stack([forward, up, np.cross(forward, up)])


class _Builder:
    """Puts the segments together, one after the other, each on the one before it."""

    def __init__(self, movement: Movement) -> None:
        self.movement = movement
        self.stature = _stature(movement)
        self.heads: dict[str, Floats] = {}
        self.rotations: dict[str, Floats] = {}

    def origins(self, name: str) -> Floats:
        return self.movement.segment_origins_m[:, SEGMENTS.index(name)]

    def _usual(self, name: str, sign: float) -> Floats:
        forward, outward, up = _USUAL_OFFSETS[name.partition(".")[0]]
        return np.array([forward, up, sign * outward]) * self.stature

    def offset(self, name: str) -> Floats:
        """Where a segment begins, in the axes of the one before it; left and right are made alike."""
        base, dot, _ = name.partition(".")
        if not dot:
            found = _seen_from(self.movement, PARENTS[name], self.origins(name))
            found[2] = 0.0 if np.isfinite(found[2]) else np.nan
            return found if np.isfinite(found).all() else self._usual(name, 1.0)
        sign = 1.0 if name.endswith(".R") else -1.0
        both = []
        for suffix, side in ((".L", -1.0), (".R", 1.0)):
            parent = PARENTS[base + suffix]
            both.append(_seen_from(self.movement, parent, self.origins(base + suffix)) * [1.0, 1.0, side])
        found = _median(np.array(both))
        return found * [1.0, 1.0, sign] if np.isfinite(found).all() else self._usual(name, sign)

    def length(self, segment: str, begin: str, end: str) -> float:
        """Median distance between two joints, the mean of both sides; usual proportions when no side is known."""
        joints = self.movement.joint_centres_m
        lengths = [
            _median(np.linalg.norm(joints[:, JOINTS.index(end + suffix)] - joints[:, JOINTS.index(begin + suffix)], axis=1))
            for suffix in (".L", ".R")
        ]
        found = float(_median(np.array(lengths)))
        return found if np.isfinite(found) else _USUAL_LENGTHS[segment] * self.stature

    def put(self, name: str, rotation: Floats, head: Floats | None = None) -> None:
        """Put one segment where the one before it ends, or at ``head``."""
        if head is None:
            parent = PARENTS[name]
            head = self.heads[parent] + self.rotations[parent] @ self.offset(name)
        self.heads[name], self.rotations[name] = head, rotation


def _trunk(builder: _Builder) -> None:
    angles = builder.movement.standing.angles_rad
    tilt = angles.get("pelvis_tilt", 0.0)
    extension = angles.get("thorax_extension", tilt)
    chest = tilt - extension
    builder.put("pelvis", _pitched(tilt), np.zeros(3))
    builder.put("lumbar", UPRIGHT)
    builder.put("thorax", _pitched(chest))
    builder.put("neck", _pitched(chest))
    builder.put("head", _pitched(chest - angles.get("head_pitch", 0.0)))


def _arm(builder: _Builder, suffix: str, sign: float) -> Floats:
    """Put one arm; return the tip of the hand."""
    movement = builder.movement
    relative = np.einsum("fji,fjk->fik", movement.segment("thorax"), movement.segment(f"clavicle{suffix}"))
    builder.put(f"clavicle{suffix}", builder.rotations["thorax"] @ _mean_rotation(relative))
    axes = _arm_axes(sign)
    builder.put(f"upper_arm{suffix}", axes)
    elbow = builder.heads[f"upper_arm{suffix}"] - axes[:, 1] * builder.length("upper_arm", "shoulder", "elbow")
    builder.put(f"forearm{suffix}", axes, elbow)
    wrist = elbow - axes[:, 1] * builder.length("forearm", "elbow", "wrist")
    builder.put(f"hand{suffix}", axes, wrist)
    tip: Floats = wrist - axes[:, 1] * _USUAL_LENGTHS["hand"] * builder.stature
    return tip


def _ankle_height(movement: Movement, stature: float) -> float:
    """Ankle joint above the floor with the foot flat."""
    heights = []
    for side, name in enumerate(SIDES):
        points = movement.foot_heights_m[:, side]
        flat = np.isfinite(points).all(axis=1) & (np.abs(points).max(axis=1, initial=0.0) < _FLAT_M)
        height = movement.joint(f"ankle{SUFFIXES[name]}")[:, 2] - movement.ground_m[:, side]
        heights.append(_median(height[flat]) if flat.any() else np.nan)
    found = float(_median(np.array(heights)))
    return found if np.isfinite(found) else _USUAL_ANKLE_HEIGHT * stature


def _foot_points(builder: _Builder) -> Floats:
    """FOOT_POINTS of the right foot (4, 3) seen from the ankle: forward, up, right; NaN where no side is known."""
    both = [
        [
            _seen_from(builder.movement, f"foot{SUFFIXES[name]}", builder.movement.foot_points_m[:, side, point])
            for point in range(4)
        ]
        for side, name in enumerate(SIDES)
    ]
    found = np.array(both)
    found[0, :, 2] *= -1.0
    return _median(found)


#: The foot when a take does not show it, seen from the ankle: forward, up from the floor, outward; parts of stature, from memory.
_USUAL_FOOT = np.array([[-0.032, 0.012, 0.0], [0.078, 0.010, -0.024], [0.073, 0.010, 0.024], [0.115, 0.006, -0.010]])


def rest_of(movement: Movement) -> Rest:
    """The dancer of a movement at rest; what the take does not show is taken from usual proportions."""
    builder = _Builder(movement)
    _trunk(builder)
    ends = {"hand.L": _arm(builder, ".L", -1.0), "hand.R": _arm(builder, ".R", 1.0)}
    ankle_height = _ankle_height(movement, builder.stature)
    points = _foot_points(builder)
    usual = _USUAL_FOOT * builder.stature
    usual[:, 1] -= ankle_height
    points = np.where(np.isfinite(points), points, usual)
    feet = np.empty((2, len(FOOT_POINTS), 3))
    for side, (suffix, sign) in enumerate(((".L", -1.0), (".R", 1.0))):
        builder.put(f"thigh{suffix}", UPRIGHT)
        knee = builder.heads[f"thigh{suffix}"] - [0.0, 0.0, builder.length("thigh", "hip", "knee")]
        builder.put(f"shank{suffix}", UPRIGHT, knee)
        ankle = knee - [0.0, 0.0, builder.length("shank", "knee", "ankle")]
        builder.put(f"foot{suffix}", UPRIGHT, ankle)
        builder.put(f"toes{suffix}", UPRIGHT)
        feet[side] = ankle + (points * [1.0, 1.0, sign]) @ UPRIGHT.T
        ends[f"toes{suffix}"] = feet[side, FOOT_POINTS.index("toe")]
    centre = _seen_from(movement, "head", movement.joint("head"))
    if not np.isfinite(centre).all():
        centre = np.array([0.01, 0.027, 0.0]) * builder.stature
    ends["head"] = builder.heads["head"] + builder.rotations["head"] @ (centre * [1.0, 1.0, 0.0])
    floor = np.array([0.0, 0.0, ankle_height - float(builder.heads["foot.R"][2])])
    return Rest(
        stature_m=builder.stature,
        heads=np.array([builder.heads[name] for name in SEGMENTS]) + floor,
        rotations=np.array([builder.rotations[name] for name in SEGMENTS]),
        ends={name: place + floor for name, place in ends.items()},
        feet=feet + floor,
    )
