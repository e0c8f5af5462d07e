"""The body from a skeleton take: joints as they are, axes from the rest pose, feet completed by proportion."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..take import CleanedTake, Floats, Skeleton, Source
from .anatomy import (
    FOOT_BREADTH,
    HEEL_BEHIND_ANKLE,
    LEG_SHARE,
    LENGTHS,
    PALM_SHARE,
    SIDE_SUFFIXES,
    SKULL_BASE_TO_HEAD_CENTRE,
    TOES_LENGTH,
)
from .geometry import UP, frame_from_y, frame_from_y_and_x, horizontal, unit
from .joint_names import SkeletonMap, map_skeleton
from .movement import JOINTS
from .posed import Posed

#: 1-SD error of a solved skeleton's joints, metres: nothing in the file tells it; proposed default, no published norm.
_JOINT_ERROR_M = {"hip": 0.02, "heel": 0.025, "toe": 0.02, "lumbar": 0.03, "head": 0.02}
_USUAL_ERROR_M = 0.015
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
    return np.stack([np.cross(UP, right), UP, right], axis=-1)


def _is_upright(positions: Floats, body: SkeletonMap) -> bool:
    """Whether the legs hang straight down, the trunk stands on them and the feet point ahead."""
    trunk = positions[body.joint_of["thorax"]] - positions[body.joint_of["pelvis"]]
    straight = trunk[2] > 0.9 * np.linalg.norm(trunk)
    axes = _body_axes(positions, body)
    for index, suffix in enumerate(SIDE_SUFFIXES):
        leg = positions[body.joint_of["foot" + suffix]] - positions[body.joint_of["thigh" + suffix]]
        toes = positions[body.toe_end[index]] - positions[body.joint_of["foot" + suffix]]
        straight &= bool(-leg[2] > 0.9 * np.linalg.norm(leg)) and bool(toes @ axes[:, 0] > 0.4 * np.linalg.norm(toes))
    return bool(straight)


def _uprightness(positions: Floats, body: SkeletonMap) -> Floats:
    """How upright (F,) bodies (F, N, 3) stand: the cosine of the most tilted of trunk, thighs and shanks from the vertical."""
    lines = [positions[:, body.joint_of["thorax"]] - positions[:, body.joint_of["pelvis"]]]
    for suffix in SIDE_SUFFIXES:
        hip, knee, ankle = (positions[:, body.joint_of[part + suffix]] for part in ("thigh", "shank", "foot"))
        lines += [hip - knee, knee - ankle]
    return np.asarray(np.min([unit(line)[:, 2] for line in lines], axis=0))


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
    forward = unit(horizontal(tip - ankle))
    ball = positions[toes] if toes >= 0 else ankle + 0.7 * (tip - ankle)
    if toes >= 0 and body.toe_end[index] == toes:
        tip = ball + TOES_LENGTH * foot_length * forward
    heel = horizontal(ankle - HEEL_BEHIND_ANKLE * foot_length * forward) + ball[2] * UP
    outward = np.cross(forward, UP) * (1.0 if suffix == ".R" else -1.0)
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
    normal = -np.cross(upper, lower)
    bent = np.linalg.norm(normal, axis=1) > np.sin(_LEAST_BEND)
    side = np.array([0.0, 0.0, 1.0])
    if bent.any():
        side = np.mean(np.swapaxes(frames[thigh][bent], 1, 2) @ normal[bent][:, :, None], axis=0)[:, 0]
    axis = frames[thigh] @ side
    frames[thigh] = frame_from_y(-upper, axis)
    frames[shank] = frame_from_y(-lower, axis)


def pose_skeleton(cleaned: CleanedTake) -> Posed:
    """Joints, segment frames and foot points of a skeleton take.

    Positions come from the smoothed joints, segment axes from joint rotations and the rest pose. The heel and the tip of the
    foot are completed by proportion where the file has none. Raises LandmarkError when no body is found.
    """
    take = cleaned.take
    body = map_skeleton(take)
    assert take.skeleton is not None  # map_skeleton has refused anything else
    rotations = take.skeleton.rotations
    positions = cleaned.smooth_m
    reference, *leg_references = _references(cleaned, take.skeleton, body)
    place = {part: positions[:, joint] for part, joint in body.joint_of.items() if joint >= 0}

    def turned(part: str, axes: Floats, seen_in: _Reference = reference) -> Floats:
        """Axes (3, 3) or (3,) of a reference pose, carried along by a joint."""
        joint = body.joint_of[part]
        carried: Floats = rotations[:, joint] @ (seen_in.rotations[joint].T @ axes)
        return carried

    legs = [
        np.linalg.norm(reference.positions[body.joint_of["thigh" + s]] - reference.positions[body.joint_of["shank" + s]])
        + np.linalg.norm(reference.positions[body.joint_of["shank" + s]] - reference.positions[body.joint_of["foot" + s]])
        for s in SIDE_SUFFIXES
    ]
    stature = float(np.mean(legs)) / LEG_SHARE
    joints: dict[str, Floats] = {"lumbar": place["lumbar"]}
    frames: dict[str, Floats] = {part: turned(part, reference.axes) for part in ("pelvis", "lumbar", "thorax")}
    frames["head"] = turned("head", reference.axes) if body.joint_of["head"] >= 0 else np.full_like(frames["thorax"], np.nan)
    frames["neck"] = turned("neck", reference.axes) if body.joint_of["neck"] >= 0 else frames["thorax"]
    foot_points = np.empty((take.frames, 2, 4, 3))
    for index, suffix in enumerate(SIDE_SUFFIXES):
        names = {"hip": "thigh", "knee": "shank", "ankle": "foot", "shoulder": "upper_arm", "elbow": "forearm", "wrist": "hand"}
        for joint, part in names.items():
            joints[joint + suffix] = place[part + suffix]
        leg_reference = leg_references[index]
        points = _standing_foot(leg_reference, body, index, suffix, stature * LENGTHS["foot"].mean)
        foot, toes = "foot" + suffix, "toes" + suffix
        from_ankle = points - leg_reference.positions[body.joint_of[foot]]
        foot_points[:, index] = place[foot][:, None] + np.swapaxes(turned(foot, from_ankle.T, leg_reference), 1, 2)
        along = unit(horizontal(0.5 * (points[1] + points[2]) - points[0]))
        level = np.stack([along, UP, np.cross(along, UP)], axis=-1)
        frames[foot] = turned(foot, level, leg_reference)
        frames[toes] = frames[foot]
        if toes in place:
            frames[toes] = turned(toes, level, leg_reference)
            foot_points[:, index, 3] = place[toes] + turned(
                toes, points[3] - leg_reference.positions[body.joint_of[toes]], leg_reference
            )
        joints["heel" + suffix], joints["toe" + suffix] = foot_points[:, index, 0], foot_points[:, index, 3]
        wrist, tip = joints["wrist" + suffix], positions[:, body.hand_end[index]]
        reach_of_hand = unit(tip - wrist)
        if body.hand_end[index] == body.joint_of["hand" + suffix]:
            reach_of_hand = unit(wrist - joints["elbow" + suffix])
        joints["hand" + suffix] = wrist + PALM_SHARE * stature * reach_of_hand
        for part, upper, lower in (
            ("thigh", "hip", "knee"),
            ("shank", "knee", "ankle"),
            ("upper_arm", "shoulder", "elbow"),
            ("forearm", "elbow", "wrist"),
            ("hand", "wrist", "hand"),
        ):
            # Legs look where their feet look in the reference pose, arms where the body looks.
            ahead = (
                turned(part + suffix, along, leg_reference) if part == "thigh" else turned(part + suffix, reference.axes[:, 0])
            )
            frames[part + suffix] = frame_from_y_and_x(joints[upper + suffix] - joints[lower + suffix], ahead)
        _hinge_knee(joints, frames, suffix)
    joints["pelvis"] = 0.5 * (joints["hip.L"] + joints["hip.R"])
    joints["neck"] = place["neck"] if body.joint_of["neck"] >= 0 else 0.5 * (joints["shoulder.L"] + joints["shoulder.R"])
    skull = place["head"] if body.joint_of["head"] >= 0 else np.full_like(joints["neck"], np.nan)
    joints["head"] = skull + SKULL_BASE_TO_HEAD_CENTRE * stature * frames["head"][:, :, 1]
    for suffix in SIDE_SUFFIXES:
        frames["clavicle" + suffix] = frame_from_y_and_x(joints["neck"] - joints["shoulder" + suffix], frames["thorax"][:, :, 0])
    error = {name: np.full(take.frames, _JOINT_ERROR_M.get(name.partition(".")[0], _USUAL_ERROR_M)) for name in JOINTS}
    measured, estimated = np.uint8(Source.MEASURED), np.uint8(Source.BODY_PART)
    source = {
        name: np.full(take.frames, estimated if name.partition(".")[0] in _TRUST_IN_ESTIMATE else measured) for name in JOINTS
    }
    return Posed(joints, frames, foot_points, error, source, stature)
