"""The body from a skeleton take: joints as they are, axes from the rest pose, feet completed by proportion."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Floats, Skeleton, Source
from .anatomy import (
    ARM,
    BEGINS_AT,
    FOOT_BREADTH,
    HAND,
    HEEL_BEHIND_ANKLE,
    LEG,
    LEG_SEGMENTS,
    LEG_SHARE,
    LENGTHS,
    PALM_SHARE,
    SIDE_SUFFIXES,
    SKULL_BASE_TO_HEAD_CENTRE,
    TOES_LENGTH,
    TRUNK_SEGMENTS,
)
from .geometry import UP, cross, frame_from_y, frame_from_y_and_x, horizontal, unit
from .joint_names import SkeletonMap, map_skeleton
from .movement import JOINTS
from .posed import Posed

#: 1-SD error of a solved skeleton's joints, metres: nothing in the file tells it; proposed default, no published norm.
_JOINT_ERROR_M = {"hip": 0.02, "heel": 0.025, "toe": 0.02, "lumbar": 0.03, "head": 0.02}
_USUAL_ERROR_M = 0.015
#: The same of a foot of which the file has the ankle alone: it may point 20° elsewhere. Proposed default.
_GUESSED_FOOT_M = 0.07
#: Bend from which the plane of a leg says where its knee points.
_LEAST_BEND = np.radians(20.0)
#: Trunk, thighs and shanks of a neutral pose stand at most 15° from the vertical. Proposed default.
_NEUTRAL_COSINE = np.cos(np.radians(15.0))
#: The heel is not in the file: it moves with the foot but its place is an estimate.
_TRUST_IN_ESTIMATE = ("heel",)


@dataclass(frozen=True)
class _Reference:
    """An upright body to read axes from: the rest pose, or a quiet moment of the movement where the rest pose is none.

    positions (N, 3); rotations (N, 3, 3) of the joints; axes (3, 3): forward, up, right of the body.
    """

    positions: Floats
    rotations: Floats
    axes: Floats


def _body_axes(positions: Floats, body: SkeletonMap) -> Floats:
    right = unit(horizontal(positions[body.joint_of["thigh.R"]] - positions[body.joint_of["thigh.L"]]))
    return np.stack([cross(UP, right), UP, right], axis=-1)


def _is_upright(positions: Floats, body: SkeletonMap) -> bool:
    """Whether the legs hang straight down, the trunk stands on them and the feet point ahead."""
    trunk = positions[body.joint_of["thorax"]] - positions[body.joint_of["pelvis"]]
    straight = trunk[2] > 0.9 * np.linalg.norm(trunk)
    axes = _body_axes(positions, body)
    for index, suffix in enumerate(SIDE_SUFFIXES):
        leg = positions[body.joint_of["foot" + suffix]] - positions[body.joint_of["thigh" + suffix]]
        toes = positions[body.toe_end[index]] - positions[body.joint_of["foot" + suffix]]
        straight &= bool(-leg[2] > 0.9 * np.linalg.norm(leg)) and bool(toes @ axes[:, 0] >= 0.4 * np.linalg.norm(toes))
    return bool(straight)


def _uprightness(positions: Floats, body: SkeletonMap) -> Floats:
    """How upright (F,) bodies (F, N, 3) stand: the cosine of the most tilted of trunk, thighs and shanks from the vertical."""
    lines = [positions[:, body.joint_of["thorax"]] - positions[:, body.joint_of["pelvis"]]]
    for suffix in SIDE_SUFFIXES:
        hip, knee, ankle = (positions[:, body.joint_of[part + suffix]] for part in LEG_SEGMENTS[:3])
        lines += [hip - knee, knee - ankle]
    upright = [unit(line)[:, 2] for line in lines]
    return np.asarray(np.min(upright, axis=0))


def neutral_pose(cleaned: CleanedTake) -> tuple[CleanedTake, int] | None:
    """A take of a skeleton and the frame of it in which the body stands neutral; None where there is none.

    The rest pose, as a take of one frame, where it is a standing body; else the most upright frame of the movement (the T-pose
    that many files begin with), where that is one. Raises LandmarkError when no body is found.
    """
    take = cleaned.take
    body = map_skeleton(take)
    assert take.skeleton is not None  # map_skeleton has refused anything else
    rest = take.skeleton.rest_positions_m
    if _is_upright(rest, body):
        still = replace(take.skeleton, rotations=np.broadcast_to(np.eye(3), (1, rest.shape[0], 3, 3)))
        one = replace(take, positions_m=rest[None], skeleton=still)
        return replace(cleaned, take=one, positions_m=rest[None], smooth_m=rest[None]), 0
    upright = _uprightness(cleaned.smooth_m, body)
    best = int(np.argmax(upright))
    return (cleaned, best) if upright[best] > _NEUTRAL_COSINE and _is_upright(cleaned.smooth_m[best], body) else None


def _at(cleaned: CleanedTake, skeleton: Skeleton, body: SkeletonMap, moment: int) -> _Reference:
    positions = cleaned.smooth_m[moment]
    return _Reference(positions, skeleton.rotations[moment], _body_axes(positions, body))


def _references(cleaned: CleanedTake, skeleton: Skeleton, body: SkeletonMap) -> tuple[_Reference, _Reference, _Reference]:
    """Poses to read the axes of the body, the left leg and the right leg from.

    The rest pose when it is a standing body. Else the most upright moment and, for each leg, the moment at which its ankle is
    as low as it gets: then the foot is flat.
    """
    rest = skeleton.rest_positions_m
    if _is_upright(rest, body):
        identity = np.broadcast_to(np.eye(3), (rest.shape[0], 3, 3))
        upright = _Reference(rest, identity, _body_axes(rest, body))
        return upright, upright, upright
    moments = [int(np.argmax(_uprightness(cleaned.smooth_m, body)))]
    for suffix in SIDE_SUFFIXES:
        height = cleaned.smooth_m[:, body.joint_of["foot" + suffix], 2]
        moments.append(int(np.argsort(height)[len(height) // 50]))
    first, second, third = (_at(cleaned, skeleton, body, moment) for moment in moments)
    return first, second, third


def _standing_foot(reference: _Reference, body: SkeletonMap, index: int, suffix: str, foot_length: float) -> Floats:
    """Heel, inner ball, outer ball and toe tip (4, 3) of a foot in the reference pose, where it is taken to stand flat."""
    positions = reference.positions
    ankle = positions[body.joint_of["foot" + suffix]]
    toes = body.joint_of["toes" + suffix]
    tip = positions[body.toe_end[index]]
    if not body.has_toe(index):
        # Nothing says where such a foot points: straight ahead, as rest poses have it, and as far below the ankle as usual.
        ahead = (1.0 - HEEL_BEHIND_ANKLE) * foot_length * reference.axes[:, 0]
        tip = ankle + ahead - UP * foot_length * LENGTHS["ankle_height"].mean / LENGTHS["foot"].mean
    forward = unit(horizontal(tip - ankle))
    ball = positions[toes] if toes >= 0 else ankle + 0.7 * (tip - ankle)
    if toes >= 0 and body.toe_end[index] == toes:
        tip = ball + TOES_LENGTH * foot_length * forward
    heel = horizontal(ankle - HEEL_BEHIND_ANKLE * foot_length * forward) + ball[2] * UP
    outward = cross(forward, UP) * (1.0 if suffix == ".R" else -1.0)
    half = 0.4 * foot_length * FOOT_BREADTH / LENGTHS["foot"].mean
    return np.stack([heel, ball - half * outward, ball + half * outward, horizontal(tip) + min(tip[2], ball[2]) * UP])


def _hinge_knee(joints: dict[str, Floats], frames: dict[str, Floats], suffix: str) -> None:
    """Turn the frames of thigh and shank about their long axes until Z is the axis that the knee bends about.

    The axis is the mean of the leg's own normals, seen from the thigh and weighted by the bend; a knee that never bends keeps
    the thigh's own direction.
    """
    thigh, shank = "thigh" + suffix, "shank" + suffix
    upper = unit(joints["knee" + suffix] - joints["hip" + suffix])
    lower = unit(joints["ankle" + suffix] - joints["knee" + suffix])
    normal = -cross(upper, lower)
    bent = np.linalg.norm(normal, axis=1) > np.sin(_LEAST_BEND)
    side = np.array([0.0, 0.0, 1.0])
    if bent.any():
        side = np.mean(np.swapaxes(frames[thigh][bent], 1, 2) @ normal[bent][:, :, None], axis=0)[:, 0]
    axis = frames[thigh] @ side
    frames[thigh] = frame_from_y(-upper, axis)
    frames[shank] = frame_from_y(-lower, axis)


@dataclass(frozen=True)
class _Carried:
    """A skeleton in every frame, and the upright body that its axes are read from: what stands there is carried along."""

    body: SkeletonMap
    positions: Floats
    rotations: Floats
    upright: _Reference

    def has(self, part: str) -> bool:
        """Whether the skeleton has a joint for a part of the body."""
        return self.body.joint_of[part] >= 0

    def place(self, part: str) -> Floats:
        """Positions (F, 3) of the joint of a part that is there."""
        return self.positions[:, self.body.joint_of[part]]

    def turned(self, part: str, axes: Floats, seen_in: _Reference | None = None) -> Floats:
        """Axes (3, 3) or (3,) of a reference pose, of the upright one unless another is given, carried along by a joint."""
        joint = self.body.joint_of[part]
        carried: Floats = self.rotations[:, joint] @ ((seen_in or self.upright).rotations[joint].T @ axes)
        return carried

    def stature_m(self) -> float:
        """Stature by the length of the legs."""
        at = self.upright.positions
        joints = [[self.body.joint_of[part + s] for part in LEG_SEGMENTS[:3]] for s in SIDE_SUFFIXES]
        legs = [np.linalg.norm(at[hip] - at[knee]) + np.linalg.norm(at[knee] - at[ankle]) for hip, knee, ankle in joints]
        return float(np.mean(legs)) / LEG_SHARE


def _trunk_frames(skeleton: _Carried) -> dict[str, Floats]:
    """Frames of pelvis, trunk, head and neck; of a head without a joint not known, of a neck without one the thorax'."""
    axes = skeleton.upright.axes
    frames = {part: skeleton.turned(part, axes) for part in TRUNK_SEGMENTS[:3]}
    frames["head"] = skeleton.turned("head", axes) if skeleton.has("head") else np.full_like(frames["thorax"], np.nan)
    frames["neck"] = skeleton.turned("neck", axes) if skeleton.has("neck") else frames["thorax"]
    return frames


@dataclass(frozen=True)
class _Foot:
    """One foot: its points (F, 4, 3), the frames (F, 3, 3) of foot and toes, and where it looks in the reference pose (3,)."""

    points: Floats
    frame: Floats
    toes_frame: Floats
    along: Floats


def _foot(skeleton: _Carried, index: int, suffix: str, seen_in: _Reference, foot_length: float) -> _Foot:
    """A foot, completed by proportion in the pose in which it stands flat and carried along from there."""
    foot, toes = "foot" + suffix, "toes" + suffix
    points = _standing_foot(seen_in, skeleton.body, index, suffix, foot_length)
    from_ankle = points - seen_in.positions[skeleton.body.joint_of[foot]]
    moved = skeleton.place(foot)[:, None] + np.swapaxes(skeleton.turned(foot, from_ankle.T, seen_in), 1, 2)
    along = unit(horizontal(0.5 * (points[1] + points[2]) - points[0]))
    level = np.stack([along, UP, cross(along, UP)], axis=-1)
    frame = skeleton.turned(foot, level, seen_in)
    if not skeleton.has(toes):
        return _Foot(moved, frame, frame, along)
    from_toes = points[3] - seen_in.positions[skeleton.body.joint_of[toes]]
    moved[:, 3] = skeleton.place(toes) + skeleton.turned(toes, from_toes, seen_in)
    return _Foot(moved, frame, skeleton.turned(toes, level, seen_in), along)


def _side_joints(skeleton: _Carried, index: int, suffix: str, foot: _Foot, stature: float) -> dict[str, Floats]:
    """Joints (F, 3) of one side; the middle of the hand on the line of the hand, or of the forearm where no hand is told."""
    body = skeleton.body
    joints = {joint + suffix: skeleton.place(part + suffix) for joint, part in BEGINS_AT.items()}
    joints["heel" + suffix], joints["toe" + suffix] = foot.points[:, 0], foot.points[:, 3]
    wrist = joints["wrist" + suffix]
    along_hand = skeleton.positions[:, body.hand_end[index]] - wrist
    if body.hand_end[index] == body.joint_of["hand" + suffix]:
        along_hand = wrist - joints["elbow" + suffix]
    joints["hand" + suffix] = wrist + PALM_SHARE * stature * unit(along_hand)
    return joints


def _limb_frames(
    skeleton: _Carried, suffix: str, joints: dict[str, Floats], foot: _Foot, seen_in: _Reference
) -> dict[str, Floats]:
    """Frames of foot, leg and arm of one side."""
    frames = {"foot" + suffix: foot.frame, "toes" + suffix: foot.toes_frame}
    for part, upper, lower in (*LEG, *ARM, HAND):
        if lower is None:
            continue
        # Legs look where their feet look in the reference pose, arms where the body looks.
        looks = (foot.along, seen_in) if part == "thigh" else (skeleton.upright.axes[:, 0], skeleton.upright)
        ahead = skeleton.turned(part + suffix, *looks)
        frames[part + suffix] = frame_from_y_and_x(joints[upper + suffix] - joints[lower + suffix], ahead)
    _hinge_knee(joints, frames, suffix)
    return frames


def _trust(frames: int, body: SkeletonMap) -> tuple[dict[str, Floats], dict[str, NDArray[np.uint8]]]:
    """1-SD error (F,), metres, and source (F,) of every joint."""
    error = {name: np.full(frames, _JOINT_ERROR_M.get(name.partition(".")[0], _USUAL_ERROR_M)) for name in JOINTS}
    measured, estimated = np.uint8(Source.MEASURED), np.uint8(Source.BODY_PART)
    source = {name: np.full(frames, estimated if name.partition(".")[0] in _TRUST_IN_ESTIMATE else measured) for name in JOINTS}
    for index, suffix in enumerate(SIDE_SUFFIXES):
        if not body.has_toe(index):
            for name in ("heel" + suffix, "toe" + suffix):
                error[name], source[name] = np.full(frames, _GUESSED_FOOT_M), np.full(frames, np.uint8(Source.WHOLE_BODY))
    return error, source


def pose_skeleton(cleaned: CleanedTake) -> Posed:
    """Joints, segment frames and foot points of a skeleton take.

    Positions come from the smoothed joints, segment axes from joint rotations and the rest pose. The heel and the tip of the
    foot are completed by proportion where the file has none. Raises LandmarkError when no body is found.
    """
    take = cleaned.take
    body = map_skeleton(take)
    assert take.skeleton is not None  # map_skeleton has refused anything else
    upright, *leg_references = _references(cleaned, take.skeleton, body)
    skeleton = _Carried(body, cleaned.smooth_m, take.skeleton.rotations, upright)
    stature = skeleton.stature_m()
    joints: dict[str, Floats] = {"lumbar": skeleton.place("lumbar")}
    frames = _trunk_frames(skeleton)
    foot_points = np.empty((take.frames, 2, 4, 3))
    for index, (suffix, seen_in) in enumerate(zip(SIDE_SUFFIXES, leg_references, strict=True)):
        foot = _foot(skeleton, index, suffix, seen_in, stature * LENGTHS["foot"].mean)
        foot_points[:, index] = foot.points
        joints |= _side_joints(skeleton, index, suffix, foot, stature)
        frames |= _limb_frames(skeleton, suffix, joints, foot, seen_in)
    joints["pelvis"] = 0.5 * (joints["hip.L"] + joints["hip.R"])
    joints["neck"] = skeleton.place("neck") if skeleton.has("neck") else 0.5 * (joints["shoulder.L"] + joints["shoulder.R"])
    skull = skeleton.place("head") if skeleton.has("head") else np.full_like(joints["neck"], np.nan)
    joints["head"] = skull + SKULL_BASE_TO_HEAD_CENTRE * stature * frames["head"][:, :, 1]
    for suffix in SIDE_SUFFIXES:
        across = joints["neck"] - joints["shoulder" + suffix]
        frames["clavicle" + suffix] = frame_from_y_and_x(across, frames["thorax"][:, :, 0])
    arches = np.full((take.frames, 2, 3), np.nan)
    return Posed(joints, frames, foot_points, arches, *_trust(take.frames, body), stature)
