"""The body from markers: each segment's pose from its own markers and the joint it hangs on, from the pelvis outwards."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..paths import side_by_side
from ..take import CleanedTake, Floats, Source
from .anatomy import (
    ARCH,
    ARM,
    BESIDE_JOINT,
    FOOT_POINTS,
    LEG,
    LENGTHS,
    ON_AXIS,
    RESTS_ON,
    SIDE_SUFFIXES,
    TOES_LENGTH,
    TRUNK_SEGMENTS,
    weight_of,
)
from .calibration import Calibration
from .geometry import UP, apply, cross, frame_from_y_and_x, unit
from .held import Held, Seen, hold_by_neighbours
from .landmarks import Recognition
from .movement import JOINTS
from .posed import Posed
from .rigid import fit_paths, fit_paths_of_each_frame, fit_rigid, nearest_rotation

#: A joint centre taken over from the neighbouring segment holds a segment in place; markers on its axis weigh less.
#: Proposed default, no published norm.
_WEIGHT_OF_JOINT = 2.0
_WEIGHT_ON_AXIS = 0.5

#: 1-SD error of joint centres from skin markers with nothing filled, metres: skin movement and landmark placing of catalogue
#: 3.5 brought to the centres; proposed default where no figure is published (hip 12 mm: Harrington 2007 against CT).
_JOINT_ERROR_M = {
    "hip": 0.012,
    "knee": 0.010,
    "ankle": 0.007,
    "heel": 0.003,
    "toe": 0.006,
    "shoulder": 0.015,
    "elbow": 0.010,
    "wrist": 0.007,
    "hand": 0.007,
    "pelvis": 0.009,
    "lumbar": 0.015,
    "neck": 0.006,
    "head": 0.005,
}


@dataclass(frozen=True)
class SegmentPose:
    """Pose of one segment. rotation (F, 3, 3), origin (F, 3); rms (F,): residual of its markers, metres; source, error (F,)."""

    rotation: Floats
    origin: Floats
    rms: Floats
    source: NDArray[np.uint8]
    error: Floats

    def place(self, local: Floats) -> Floats:
        """A point of the segment in the laboratory (F, 3)."""
        return self.origin + apply(self.rotation, local)

    def with_held(self, held: Held) -> SegmentPose:
        """The same pose with that of the frames in which only the segments beside it tell it."""
        parts = {
            "rotation": held.rotation, "origin": held.origin, "rms": held.residual_m, "source": np.uint8(Source.WHOLE_BODY),
            "error": held.error_m,
        }  # fmt: skip
        changed = {name: getattr(self, name).copy(order="K") for name in parts}
        for name, values in parts.items():
            changed[name][held.frames] = values
        return SegmentPose(**changed)


def _nowhere(frames: int) -> SegmentPose:
    return SegmentPose(
        np.full((frames, 3, 3), np.nan),
        np.full((frames, 3), np.nan),
        np.full(frames, np.nan),
        np.zeros(frames, np.uint8),
        np.full(frames, np.nan),
    )


class _Poser:
    """Fits the segments of one take, one after another."""

    def __init__(self, cleaned: CleanedTake, recognition: Recognition, calibration: Calibration) -> None:
        self.cleaned = cleaned
        self.index_of = recognition.index_of
        self.calibration = calibration
        self.frames = cleaned.smooth_m.shape[0]

    def marker(self, name: str) -> Floats:
        """Smoothed place of a landmark (F, 3); NaN throughout when the take has no such marker."""
        index = self.index_of.get(name)
        return np.full((self.frames, 3), np.nan) if index is None else self.cleaned.smooth_m[:, index]

    def fit(self, segment: str, extra: dict[str, tuple[Floats, Floats]] | None = None) -> SegmentPose:
        """Pose of a segment from its markers and ``extra`` points (local place as the calibration's, measured place (F, 3))."""
        local = self.calibration.landmarks.get(segment, {})
        names = [name for name in local if name in self.index_of]
        extra = extra or {}
        if len(names) + len(extra) < 3:
            return _nowhere(self.frames)
        # Frames last, as they are fitted.
        reference = np.stack([*(local[name].T for name in names), *(point.T for point, _ in extra.values())])
        columns = [self.index_of[name] for name in names]
        measured = np.concatenate(
            [self.cleaned.smooth_m.transpose(1, 2, 0)[columns], *(place.T[None] for _, place in extra.values())]
        )
        weights = np.array([self.weight(name, segment) for name in names] + [_WEIGHT_OF_JOINT] * len(extra))
        fit = fit_paths_of_each_frame if self.calibration.of_each_frame else fit_paths
        fitted = fit(reference, measured, weights)
        rotation, origin = (np.moveaxis(part, -1, 0) for part in fitted[:2])
        rms = fitted[2]
        # Markers on a joint's axis and the joint itself do not tell how the segment beyond is turned about that axis.
        own = [i for i, name in enumerate(names) if not self._borrowed(name, segment)]
        lost = ~np.isfinite(measured[own]).all(axis=1).any(axis=0)
        rotation[lost], origin[lost], rms[lost] = np.nan, np.nan, np.nan
        source, error = self._origin_of(columns, len(extra))
        return SegmentPose(rotation, origin, rms, source, error)

    @staticmethod
    def _borrowed(name: str, segment: str) -> bool:
        """Whether a landmark of a segment belongs to the segment before it and only lies on the joint's axis."""
        return name.partition(".")[0] in ON_AXIS.get(segment.partition(".")[0], ())

    def weight(self, name: str, segment: str) -> float:
        """How much a landmark weighs in a segment's pose."""
        return _WEIGHT_ON_AXIS if self._borrowed(name, segment) else weight_of(name)

    def _origin_of(self, columns: list[int], extra: int) -> tuple[NDArray[np.uint8], Floats]:
        """Least direct source among the best markers that a pose needs (three points), and the error they bring."""
        source, error = self.cleaned.source.T[columns], self.cleaned.error_m.T[columns]
        decisive = source[0] if columns else np.full(self.frames, Source.NONE)
        if (source != decisive).any():
            ranked = np.sort(np.where(source == Source.NONE, 255, source), axis=0)
            decisive = ranked[min(max(1, 3 - extra), len(columns)) - 1]
            decisive = np.where(decisive == 255, Source.NONE, decisive)
        there = np.isfinite(error)
        spread = (np.where(there, error, 0.0) ** 2).sum(axis=0) / np.maximum(there.sum(axis=0), 1)
        return decisive.astype(np.uint8), np.where(there.any(axis=0), np.sqrt(spread), np.nan)


def _toe_tip(points: Floats, length: float, floor_m: float) -> Floats:
    """Tip of the toes (F, 3) ahead of the ball, lying on the floor when the heel is up and the ball is down."""
    heel, inner, outer = points[:, 0], points[:, 1], points[:, 2]
    ball = 0.5 * (inner + outer)
    along = unit(ball - heel)
    # Toes bend at the ball: they never point below the floor.
    lowest = np.minimum((floor_m - ball[:, 2]) / length, 0.0)
    down = np.maximum(along[:, 2], lowest)
    flat = unit(along * np.array([1.0, 1.0, 0.0]))
    flat = np.where(np.isfinite(flat), flat, 0.0)
    tip: Floats = ball + length * (np.sqrt(np.clip(1 - down**2, 0, 1))[:, None] * flat + down[:, None] * UP)
    return tip


def pose_markers(cleaned: CleanedTake, recognition: Recognition, calibration: Calibration) -> Posed:
    """Joints, segment frames and foot points (F frames) from the smoothed markers of a take.

    A segment whose markers are missing is NaN for those frames. Pose by weighted least squares with mirror guard
    (Söderkvist and Wedin 1993), from the pelvis outwards; the joint centre of the neighbour holds each limb segment.
    """
    poser = _Poser(cleaned, recognition, calibration)
    local_joints = calibration.joints
    poses: dict[str, SegmentPose] = {"pelvis": poser.fit("pelvis")}
    joints: dict[str, Floats] = {
        name: poses["pelvis"].place(local_joints["pelvis"][name]) for name in ("hip.L", "hip.R", "lumbar")
    }
    acromia = {name: (local, poser.marker(name)) for name, local in local_joints["thorax"].items() if name.startswith("acromion")}
    own = [name for name in calibration.landmarks["thorax"] if name in poser.index_of]
    # Shoulder markers ride on the shoulder blades: they help only where the ribcage has too few markers of its own.
    poses["thorax"] = poser.fit("thorax", acromia if len(own) < 3 else None)
    joints["neck"] = poses["thorax"].place(local_joints["thorax"]["neck"])
    poses["head"] = poser.fit("head")
    nowhere = _nowhere(poser.frames)
    joints["head"] = poses["head"].place(local_joints["head"]["head"]) if "head" in local_joints else nowhere.origin
    for suffix in SIDE_SUFFIXES:
        _pose_limb(poser, LEG, suffix, poses, joints)
        _pose_arm(poser, suffix, poses, joints)
    if not calibration.of_each_frame:
        _hold_lost(poser, poses, joints)
    foot_points = np.full((poser.frames, 2, 4, 3), np.nan, order="F")
    for index, suffix in enumerate(SIDE_SUFFIXES):
        if "foot" + suffix in local_joints:
            foot_points[:, index] = _foot(poser, suffix, poses["foot" + suffix])
        joints["heel" + suffix], joints["toe" + suffix] = foot_points[:, index, 0], foot_points[:, index, 3]
        _hand(poser, suffix, poses, joints)
    joints["pelvis"] = 0.5 * (joints["hip.L"] + joints["hip.R"])
    return _assemble(poser, poses, joints, foot_points)


def _hold_lost(poser: _Poser, poses: dict[str, SegmentPose], joints: dict[str, Floats]) -> None:
    """Give segments that lost their markers the pose that the segments beside them leave, and their joints with it."""
    rotations, origins = {n: p.rotation for n, p in poses.items()}, {n: p.origin for n, p in poses.items()}
    held = hold_by_neighbours(Seen(poser.calibration, poser.cleaned, poser.index_of, poser.weight, rotations, origins, joints))
    for segment, part in held.items():
        poses[segment] = poses[segment].with_held(part)
        for name, local in poser.calibration.joints[segment].items():
            if name in joints:
                told = joints[name][part.frames]
                made = part.origin + apply(part.rotation, local)
                joints[name][part.frames] = np.where(np.isfinite(told), told, made)
    # Where what a limb hangs on stays unknown, its own near end still says where the joint is.
    for stem, near, _ in (*LEG, *ARM):
        for suffix in SIDE_SUFFIXES:
            own = poser.calibration.joints.get(stem + suffix)
            if own is not None:
                told = joints[near + suffix]
                joints[near + suffix] = np.where(np.isfinite(told), told, poses[stem + suffix].place(own[near + suffix]))


def _foot(poser: _Poser, suffix: str, foot: SegmentPose) -> Floats:
    """Heel, both sides of the ball, and tip of the toes (F, 4, 3) of one foot."""
    points = np.full((poser.frames, 4, 3), np.nan, order="F")
    local = poser.calibration.joints["foot" + suffix]
    for point, name in enumerate(FOOT_POINTS[:3]):
        points[:, point] = foot.place(local[name])
    tip = poser.marker("big_toe_tip" + suffix)
    floor = np.nanmin(points[:, 1:3, 2]) if np.isfinite(points[:, 1]).any() else 0.0
    made = _toe_tip(points, TOES_LENGTH * LENGTHS["foot"].mean * poser.calibration.stature_m, floor)
    points[:, 3] = np.where(np.isfinite(tip), tip, made)
    return points


def pose_without_joints(
    cleaned: CleanedTake, recognition: Recognition, calibration: Calibration, segment: str, every: int = 1
) -> tuple[Floats, Floats]:
    """Rotation (K, 3, 3) and origin (K, 3) of one segment in every so-many-th frame, from its own markers alone.

    Markers that it borrows from its neighbour's joint axis are left out. NaN with fewer than three markers.
    """
    local = calibration.landmarks.get(segment, {})
    part = {recognition.landmark_of[index]: name for index, name in recognition.segment_of.items()}
    names = [name for name in local if part.get(name) == segment]
    frames = cleaned.smooth_m[::every]
    if len(names) < 3:
        nowhere = _nowhere(frames.shape[0])
        return nowhere.rotation, nowhere.origin
    measured = frames[:, [recognition.index_of[name] for name in names]]
    weights = np.array([weight_of(name) for name in names])
    rotation, origin, _ = fit_rigid(np.stack([local[name] for name in names]), measured, weights)
    return rotation, origin


#: The bone lies right under these: the ankle goes with them where knee and shank disagree with them.
_MALLEOLI = BESIDE_JOINT["ankle"]


def _left_behind(poser: _Poser, segment: str, pose: SegmentPose, names: tuple[str, ...], suffix: str) -> Floats:
    """How far (F, 3) markers are from where their rigid segment puts them, in the mean; 0 where none of them is there."""
    local = poser.calibration.landmarks.get(segment, {})
    # A marker that does not lie on the joint's axis is not held by the segment beyond, and does not say where the joint is.
    on_axis = poser.calibration.landmarks.get("foot" + suffix, {})
    names = tuple(n + suffix for n in names if n + suffix in local and n + suffix in on_axis)
    if not names:
        return np.zeros((poser.frames, 3))
    apart = side_by_side((poser.marker(name) - pose.place(local[name]) for name in names), 0)
    known = np.isfinite(apart)
    mean: Floats = np.where(known, apart, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    return mean


def _pose_limb(
    poser: _Poser,
    chain: tuple[tuple[str, str, str | None], ...],
    suffix: str,
    poses: dict[str, SegmentPose],
    joints: dict[str, Floats],
) -> None:
    """Poses of a limb's segments (segment, joint it hangs on, joint at its far end) from the trunk outwards."""
    for part, near, far in chain:
        segment = part + suffix
        local = poser.calibration.joints.get(segment)
        if local is None:
            poses[segment] = _nowhere(poser.frames)
        else:
            poses[segment] = poser.fit(segment, {near + suffix: (local[near + suffix], joints[near + suffix])})
        if far:
            joints[far + suffix] = poses[segment].origin if local is None else poses[segment].place(local[far + suffix])
        if far == "ankle":
            joints[far + suffix] = joints[far + suffix] + _left_behind(poser, segment, poses[segment], _MALLEOLI, suffix)


def _pose_arm(poser: _Poser, suffix: str, poses: dict[str, SegmentPose], joints: dict[str, Floats]) -> None:
    missing = np.full((poser.frames, 3), np.nan)
    local_shoulder = poser.calibration.joints["thorax"].get("shoulder" + suffix)
    thorax = poses["thorax"]
    if local_shoulder is None:
        joints["shoulder" + suffix] = missing
    else:
        # The shoulder goes with its own marker, which rises with the arm; the ribcage only says which way is down.
        acromion = poser.marker("acromion" + suffix)
        below = apply(thorax.rotation, local_shoulder - poser.calibration.joints["thorax"]["acromion" + suffix])
        joints["shoulder" + suffix] = np.where(np.isfinite(acromion), acromion + below, thorax.place(local_shoulder))
    _pose_limb(poser, ARM, suffix, poses, joints)


def _hand(poser: _Poser, suffix: str, poses: dict[str, SegmentPose], joints: dict[str, Floats]) -> None:
    hand = poser.calibration.joints.get("forearm" + suffix, {}).get("hand" + suffix)
    marker = poser.marker("third_metacarpal_head" + suffix)
    if hand is not None:
        marker = np.where(np.isfinite(marker), marker, poses["forearm" + suffix].place(hand))
    joints["hand" + suffix] = marker


def _segment_under(joint: str) -> str:
    """The segment whose markers a joint centre rests on; those of the trunk serve both sides."""
    stem, point, suffix = joint.partition(".")
    segment = RESTS_ON[stem]
    return segment if segment in TRUNK_SEGMENTS else segment + point + suffix


#: The segment that tells a joint by its near end where the one that the joint rests on is unknown.
_HANGS_ON = {near: stem for stem, near, _ in (*LEG, *ARM)}


def _certainty(poses: dict[str, SegmentPose], name: str, unknown_m: float) -> tuple[NDArray[np.uint8], Floats]:
    """Source (F,) of a joint and its 1-SD error (F,), metres; unknown_m: what its markers leave open of where it is."""
    pose = poses[_segment_under(name)]
    source, error, rms = pose.source, pose.error, pose.rms
    stem, _, suffix = name.partition(".")
    if stem in _HANGS_ON:
        other = poses[f"{_HANGS_ON[stem]}.{suffix}"]
        gone = ~np.isfinite(pose.origin).all(axis=1)
        source = np.where(gone, np.maximum(other.source, np.uint8(Source.BODY_PART)), source)
        error, rms = np.where(gone, other.error, error), np.where(gone, other.rms, rms)
    usual = float(np.hypot(_JOINT_ERROR_M[stem], unknown_m))
    # What markers of a segment disagree by is error too, beyond the little that soft tissue explains already.
    return source, np.sqrt(usual**2 + error**2 + np.maximum(np.nan_to_num(rms) - usual, 0) ** 2)


def _assemble(poser: _Poser, poses: dict[str, SegmentPose], joints: dict[str, Floats], foot_points: Floats) -> Posed:
    rotations = {name: pose.rotation for name, pose in poses.items()}
    rotations["lumbar"] = _between(rotations["pelvis"], rotations["thorax"])
    rotations["neck"] = _between(rotations["thorax"], rotations["head"])
    for index, suffix in enumerate(SIDE_SUFFIXES):
        thorax = rotations["thorax"]
        rotations["clavicle" + suffix] = frame_from_y_and_x(joints["neck"] - joints["shoulder" + suffix], thorax[:, :, 0])
        rotations["hand" + suffix] = frame_from_y_and_x(
            joints["wrist" + suffix] - joints["hand" + suffix], rotations["forearm" + suffix][:, :, 0]
        )
        ball = 0.5 * (foot_points[:, index, 1] + foot_points[:, index, 2])
        across = rotations["foot" + suffix][:, :, 2]
        along = unit(foot_points[:, index, 3] - ball)
        side = unit(across - np.einsum("fi,fi->f", across, along)[:, None] * along)
        rotations["toes" + suffix] = side_by_side((along, cross(side, along), side), -1)
    error, source = {}, {}
    for name in JOINTS:
        source[name], error[name] = _certainty(poses, name, poser.calibration.unknown_m.get(name, 0.0))
        lost = ~np.isfinite(joints[name]).all(axis=1)
        error[name] = np.where(lost, np.nan, error[name])
        source[name] = np.where(lost, np.uint8(Source.NONE), source[name])
    arches = side_by_side(poser.marker(ARCH + suffix) for suffix in SIDE_SUFFIXES)
    stature, residual = poser.calibration.stature_m, {name: pose.rms for name, pose in poses.items()}
    return Posed(joints, rotations, foot_points, arches, error, source, stature, residual)


def _between(first: Floats, second: Floats) -> Floats:
    """Rotations (F, 3, 3) half-way between two, by the polar part of their sum; NaN where one is not known."""
    total = first + second
    known = np.isfinite(total).all(axis=(1, 2))
    result = np.full_like(total, np.nan)
    result[known] = nearest_rotation(total[known])
    return result
