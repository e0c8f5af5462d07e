"""The motion on a rig of another build, rest pose and number of bones: limbs point as ours do, and feet still hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import LEG_SEGMENTS, SIDE_SUFFIXES
from ..body.movement import SEGMENTS
from ..smoothed import mean, most
from ..take import Floats
from .least_squares import Smooth
from .legs import swing, with_legs
from .limits import limits
from .rig import Rig
from .skeleton import PARENT_OF, TOP_DOWN, RestSkeleton, Skeleton

_SUFFIXES = SIDE_SUFFIXES
#: Segments whose rest is matched by their direction, each with the segment in which it ends; the rest stands alike on all rigs.
_LIMBS = {"thigh": "shank", "shank": "foot", "upper_arm": "forearm", "forearm": "hand"}


@dataclass(frozen=True)
class Target:
    """Another rig at rest: metres, Z up, every parent before its children.

    names, parents (B,), -1 for those that hang on none; heads, tails (B, 3); axes (B, 3, 3): columns are the bones' own axes.
    """

    names: tuple[str, ...]
    parents: NDArray[np.int64]
    heads: Floats
    tails: Floats
    axes: Floats


def _facing(target: Target, bones: Mapping[str, int]) -> Floats:
    """The turn (3, 3) about the vertical that brings the rig to face −Y: from its right hip to its left is +X then."""
    across = target.heads[bones["thigh.L"]] - target.heads[bones["thigh.R"]]
    x, y = across[:2] / np.linalg.norm(across[:2])
    turn: Floats = np.array([[x, y, 0.0], [-y, x, 0.0], [0.0, 0.0, 1.0]])
    return turn


def _onto(before: Floats, after: Floats) -> Floats:
    """The smallest rotation (3, 3) from one direction to another."""
    turned: Floats = swing(before[None], after[None])[0]
    return turned


def _level(vector: Floats) -> Floats:
    flat: Floats = vector * [1.0, 1.0, 0.0]
    return flat


def _matched(rest: RestSkeleton, target: Target, bones: Mapping[str, int]) -> Floats:
    """Rotations (S, 3, 3) that bring the rig's segments from its own rest into ours.

    Limbs are swung into the direction of ours from joint to joint; feet are turned about the vertical, since soles lie flat on
    every rig and a foot's bone points where its maker liked; trunk and head stand upright on all.
    """
    facing = _facing(target, bones)
    matched = np.tile(facing, (len(SEGMENTS), 1, 1))
    for index, name in enumerate(SEGMENTS):
        base, dot, side = name.partition(".")
        if name not in bones:
            continue
        after = _LIMBS.get(base, "") + dot + side
        if base in _LIMBS and after in bones:
            ours = rest.heads[SEGMENTS.index(after)] - rest.heads[index]
            theirs = target.heads[bones[after]] - target.heads[bones[name]]
        elif base == "hand":
            ours, theirs = rest.bones[index][:, 1], target.tails[bones[name]] - target.heads[bones[name]]
        elif base == "foot" and "toes" + dot + side in bones:
            toes = "toes" + dot + side
            ours = _level(rest.heads[SEGMENTS.index(toes)] - rest.heads[index])
            theirs = _level(target.heads[bones[toes]] - target.heads[bones[name]])
        else:
            continue
        matched[index] = _onto(facing @ theirs, ours) @ facing
    for suffix in _SUFFIXES:
        matched[SEGMENTS.index("toes" + suffix)] = matched[SEGMENTS.index("foot" + suffix)]
    return matched


def _their_heads(rest: RestSkeleton, target: Target, bones: Mapping[str, int]) -> Floats:
    """Heads (S, 3) of the rig's segments at its rest, in our order; one that it does not have lies where its parent begins."""
    heads = np.empty((len(SEGMENTS), 3))
    for index in TOP_DOWN:
        name = SEGMENTS[index]
        heads[index] = target.heads[bones[name]] if name in bones else heads[PARENT_OF[index]]
    # What moves as our pelvis begins where the hips do, wherever the rig's maker put the bone's head.
    heads[0] = 0.5 * (heads[SEGMENTS.index("thigh.L")] + heads[SEGMENTS.index("thigh.R")])
    return heads


def _leg_length(heads: Floats) -> float:
    """From hips to ankles along the legs, mean of both sides, metres."""
    chain = [[SEGMENTS.index(name + suffix) for name in LEG_SEGMENTS[:3]] for suffix in _SUFFIXES]
    return float(np.mean([np.linalg.norm(np.diff(heads[leg], axis=0), axis=1).sum() for leg in chain]))


def _skeleton_at_rest(rest: RestSkeleton, target: Target, bones: Mapping[str, int], matched: Floats) -> RestSkeleton:
    """The rig as a skeleton like ours, whose rotations away from its own rest are meant."""
    heads = _their_heads(rest, target, bones)
    axes = np.swapaxes(matched, 1, 2) @ rest.axes
    bone_axes = np.stack([target.axes[bones[name]] if name in bones else np.eye(3) for name in SEGMENTS])
    scale = _leg_length(heads) / _leg_length(rest.heads)
    feet = np.empty_like(rest.feet)
    for side, suffix in enumerate(_SUFFIXES):
        foot = SEGMENTS.index("foot" + suffix)
        feet[side] = heads[foot] + scale * (rest.feet[side] - rest.heads[foot]) @ matched[foot]
    return RestSkeleton(rest.pose, heads, axes, bone_axes, rest.lengths_m * scale, feet, rest.stature_m * scale)


def _bound(on_floor: NDArray[np.bool_], rate_hz: float) -> Floats:
    """How far (F, 2) a foot is bound to its place: 1 on the floor, fading on both sides."""
    width = max(1, round(limits()["retarget"]["release_s"] * rate_hz))
    wide = most(on_floor.astype(np.float64), width)
    return mean(mean(wide, width), width)


def _pelvis_over_feet(missing: Floats, bound: Floats, rate_hz: float) -> Floats:
    """Shift (F, 3) of the pelvis by which the feet (F, 2, 3) that lack ``missing`` reach their places as nearly as one may."""
    limit = limits()["retarget"]
    system = Smooth(len(missing), np.ones(3), limit["smooth_s"] * rate_hz)
    frames = np.arange(len(missing))
    for side in range(2):
        for axis in range(3):
            rows = np.tile(np.eye(3)[axis], (len(frames), 1))
            system.ask(frames, rows, missing[:, side, axis], limit["weight"] * bound[:, side] ** 2)
    return system.solve()


def _with_feet(own: Skeleton, source: Skeleton, scale: float) -> Skeleton:
    """The rig's motion with every foot on the floor where ours stands, scaled: a point that holds on ours holds on it."""
    feet = [SEGMENTS.index("foot" + suffix) for suffix in _SUFFIXES]
    ours, bound = source.heads_m[:, feet], _bound(source.on_floor, source.rate_hz)
    # A lower or higher ankle than scaled: the sole stays where it is, the ankle lies along the foot's own upright.
    up = (source.turned[:, feet] @ source.rest.axes[feet])[..., 1]
    lift = own.rest.heads[feet, 2] - scale * source.rest.heads[feet, 2]
    wanted = scale * ours + lift[:, None] * up
    shift = _pelvis_over_feet(wanted - own.heads_m[:, feet], bound, source.rate_hz)
    over = replace(own, pelvis_m=own.pelvis_m + shift)
    free = over.heads_m[:, feet]
    return with_legs(over, free + bound[..., None] * (wanted - free), own.turned[:, feet], bound)


def bring_onto(source: Skeleton, target: Target, names: Mapping[str, str]) -> Rig:
    """The motion of a skeleton on another rig, ready for writers and for Blender.

    names: our bones -> the rig's (see
    ``bone_names.match``). Every limb points in the world as ours does; the travel is scaled by the length of the legs; where a
    foot is on the floor, the pelvis goes where both feet reach, and the knees give the rest. Bones without a name in the map
    ride on their parents. After the humanoid animation of VRM 1.0 (open standard): rotations carry over, hips' places by scale.
    """
    bones = {ours: target.names.index(theirs) for ours, theirs in names.items()}
    matched = _matched(source.rest, target, bones)
    rest = _skeleton_at_rest(source.rest, target, bones, matched)
    scale = _leg_length(rest.heads) / _leg_length(source.rest.heads)
    # The height of the hips follows the legs that stand under them, soles and all.
    floor = float(np.mean([rest.heads[SEGMENTS.index("foot" + s), 2] - scale * source.rest.heads[SEGMENTS.index("foot" + s), 2]
                           for s in _SUFFIXES]))  # fmt: skip
    pelvis = scale * source.pelvis_m + [0.0, 0.0, floor]
    own = replace(source, rest=rest, turned=source.turned @ matched, pelvis_m=pelvis)
    return _as_rig(_with_feet(own, source, scale), target, bones)


def _as_rig(own: Skeleton, target: Target, bones: Mapping[str, int]) -> Rig:
    """All bones of the rig in motion; those that are not ours ride on their parents, those above the hips stand still."""
    segment_of = {bone: SEGMENTS.index(name) for name, bone in bones.items()}
    hips = bones["pelvis"]
    turned = np.empty((own.frames, len(target.names), 3, 3))
    origins = np.empty((own.frames, len(target.names), 3))
    for index in range(len(target.names)):
        parent = int(target.parents[index])
        above = np.broadcast_to(np.eye(3), (own.frames, 3, 3)) if parent < 0 else turned[:, parent]
        turned[:, index] = own.turned[:, segment_of[index]] if index in segment_of else above
        if index == hips:
            origins[:, index] = own.pelvis_m + turned[:, index] @ (target.heads[index] - own.rest.heads[0])
        elif parent < 0:
            origins[:, index] = target.heads[index]
        else:
            origins[:, index] = origins[:, parent] + above @ (target.heads[index] - target.heads[parent])
    lengths = np.linalg.norm(target.tails - target.heads, axis=1)
    return Rig(
        target.names, target.parents, target.heads, target.axes, lengths, turned, origins, (hips,), own.rate_hz, own.rest.pose
    )
