"""The dancer as the take measures her, on bones of constant length: joints where the cleaned recording has them.

The review's figure is a human body whatever a take says, and its feet stand on the floor: joints lie up to centimetres beside the
measured ones. An animator gets the measured ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS, BEGINS_AT, SIDE_SUFFIXES
from ..body.lengths import Lengths, lengths_of
from ..body.movement import SEGMENTS, Movement
from ..body.rotations import filled_places, turned_by, vectors_of
from ..figure.limbs import turns_of
from ..figure.motion import Poses
from ..figure.proportions import Rest, rest_with
from ..medians import median_of_known
from ..runs import runs
from ..take import Floats
from .legs import with_legs
from .limits import limits
from .skeleton import Skeleton, skeleton_of
from .upper_body import TRUNK, along_spine, with_arms, with_shoulders, with_trunk
from .wishes import RestPose

_FEET, _HANDS = ([SEGMENTS.index(name + suffix) for suffix in SIDE_SUFFIXES] for name in ("foot", "hand"))
#: Segment -> the joint that it begins at.
_BEGINS_AT = {"pelvis": "pelvis", "neck": "neck", **{segment: joint for joint, segment in BEGINS_AT.items()}}
#: Of each of ARM_SEGMENTS the segment before it, and the joints between which that lies.
_ARM = ((None, "shoulder", "shoulder"), ("upper_arm", "shoulder", "elbow"), ("forearm", "elbow", "wrist"))


def _apart(movement: Movement, *pairs: tuple[str, str]) -> float:
    """Mean of the median distances of pairs of joints; NaN where none is known."""
    far = [median_of_known(np.linalg.norm(movement.joint(first) - movement.joint(second), axis=1)) for first, second in pairs]
    return float(median_of_known(np.array(far)))


def _ankle_height(movement: Movement) -> float:
    """How high an ankle lies above the ground when its foot is flat; NaN where no foot is known."""
    flat = np.abs(movement.foot_heights_m).max(axis=2)
    ankles = np.stack([movement.joint("ankle" + suffix)[:, 2] for suffix in SIDE_SUFFIXES], axis=1)
    height = np.where(flat <= limits()["measured"]["flat_m"], ankles - movement.ground_m, np.nan)
    return float(median_of_known(height.ravel()))


def _lengths(movement: Movement) -> Lengths:
    """The figure's lengths with those between joints as they are measured, left and right alike."""
    usual = lengths_of(movement)
    both = {
        name: [(first + suffix, last + suffix) for suffix in SIDE_SUFFIXES]
        for name, first, last in (
            ("thigh", "hip", "knee"), ("shank", "knee", "ankle"),
            ("upper_arm", "shoulder", "elbow"), ("forearm", "elbow", "wrist"),
        )
    }  # fmt: skip
    across = {name: [(f"{joint}.L", f"{joint}.R")] for name, joint in (("hips", "hip"), ("shoulders", "shoulder"))}
    found = {name: _apart(movement, *pairs) for name, pairs in (both | across | {"trunk": [("pelvis", "neck")]}).items()}
    found["ankle_height"] = _ankle_height(movement)
    return replace(usual, **{name: value for name, value in found.items() if np.isfinite(value)})


def _in_thorax(thorax: Floats, away: Floats) -> Floats:
    """Median (3,) of a way (F, 3), seen from a thorax turned (F, 3, 3)."""
    return median_of_known(np.einsum("fji,fj->fi", thorax, away))


def _with_neck_and_shoulders(movement: Movement, rest: Rest, poses: Poses) -> Rest:
    """The rest with neck and shoulders where they lie against the thorax in the middle of the take, and arms as long as they
    are, each for itself: one that is a centimetre too short does not reach its wrist."""
    thorax, trunk = poses.turned["thorax"], {index: poses.turned[SEGMENTS[index]] for index in TRUNK}
    usual_neck = along_spine(rest.heads, trunk, rest.head_of("pelvis") + poses.shift_m)[1]
    neck = _in_thorax(thorax, movement.joint("neck") - usual_neck) * [1.0, 0.0, 1.0]
    heads, ends = rest.heads.copy(), dict(rest.ends)
    neck = np.where(np.isfinite(neck), neck, 0.0)
    heads[[SEGMENTS.index(name) for name in ("neck", "head", *(f"clavicle{suffix}" for suffix in SIDE_SUFFIXES))]] += neck
    ends["head"] = ends["head"] + neck
    for suffix in SIDE_SUFFIXES:
        shoulder = _in_thorax(thorax, movement.joint("shoulder" + suffix) - movement.joint("neck"))
        away = heads[SEGMENTS.index("neck")] + shoulder - rest.head_of("upper_arm" + suffix)
        shift = np.where(np.isfinite(away), away, neck)
        for segment, (before, first, last) in zip(ARM_SEGMENTS, _ARM, strict=True):
            index = SEGMENTS.index(segment + suffix)
            down = -rest.rotations[SEGMENTS.index("upper_arm" + suffix)][:, 1]
            usual = np.linalg.norm(rest.heads[index] - rest.head_of((before or segment) + suffix))
            own = _apart(movement, (first + suffix, last + suffix)) if before else usual
            shift = shift + (own - usual if np.isfinite(own) else 0.0) * down
            heads[index] += shift
        ends["hand" + suffix] = ends["hand" + suffix] + shift
    return replace(rest, heads=heads, ends=ends)


def _wanted(places: Floats, own: Floats) -> Floats:
    """Places (F, 3); where they are not known those of the figure, ``own``, as far beside as they lie around the gap: no step."""
    beside = places - own
    wanted: Floats = own + filled_places(np.nan_to_num(beside), np.isfinite(beside).all(axis=1))
    return wanted


def _both(movement: Movement, joint: str, skeleton: Skeleton, segments: list[int]) -> Floats:
    """Left and right joints (F, 2, 3), known everywhere; segments: that begin there."""
    return np.stack(
        [
            _wanted(movement.joint(joint + suffix), skeleton.heads_m[:, index])
            for suffix, index in zip(SIDE_SUFFIXES, segments, strict=True)
        ],
        axis=1,
    )


class _Way(NamedTuple):
    """How a gap is bridged from one of its ends: from a known frame, as fast as one beside it says (None: not known), which goes
    on for so many seconds (T,)."""

    edge: int
    beside: int | None
    seconds: Floats


def _ways(start: int, stop: int, rate_hz: float) -> tuple[Floats, Floats, Floats]:
    """How a gap start ≤ t < stop is bridged without a kink: what moves comes to rest on both sides, and one path becomes another.

    Seconds (T,) of its speed before the gap that what moves still goes on, the same backwards of its speed behind the gap, and
    the share (T,) of the path from behind.
    """
    rest_s, frames = limits()["measured"]["comes_to_rest_s"], np.arange(start, stop)
    after, before = ((1 + frames - start) / rate_hz, (stop - frames) / rate_hz)
    share = (1 + frames - start) / (1 + stop - start)
    on, back = (rest_s * (1.0 - np.exp(-away / rest_s)) for away in (after, before))
    return on, back, share**3 * (10.0 - 15.0 * share + 6.0 * share**2)


def _bridges(known: NDArray[np.bool_], rate_hz: float) -> Iterator[tuple[slice, Floats, list[_Way]]]:
    """Every gap in what is known (F,): its frames, the share (T,) of the path from behind, and the ways over it, from the last
    known frame before it and from the first one after it, or from the only one of the two that there is."""
    count = len(known)
    for start, stop in runs(~known):
        on, back, share = _ways(start, stop, rate_hz)
        ends = ((start - 1, start - 2, on), (stop, stop + 1, back))
        yield (
            slice(start, stop),
            share,
            [
                _Way(edge, beside if 0 <= beside < count and known[beside] else None, seconds)
                for edge, beside, seconds in ends
                if 0 <= edge < count
            ],
        )


def _carried_on(places: Floats, known: NDArray[np.bool_], rate_hz: float) -> Floats:
    """Places (F, 3) with gaps bridged without a kink; at the ends of the take the nearest path goes on. None known: zeros."""
    found = np.where(known[:, None], places, 0.0)
    for gap, share, ways in _bridges(known, rate_hz) if known.any() else ():
        paths = []
        for way in ways:
            edge = places[way.edge]
            speed = np.zeros(3) if way.beside is None else (edge - places[way.beside]) * rate_hz
            paths.append(edge + speed * way.seconds[:, None])
        found[gap] = paths[0] + share[:, None] * (paths[-1] - paths[0])
    return found


def _turned_on(turned: Floats, known: NDArray[np.bool_], rate_hz: float) -> Floats:
    """Rotations (F, S, 3, 3) with gaps bridged in the same way. None known: as they are."""
    found = turned.copy()
    for gap, share, ways in _bridges(known, rate_hz) if known.any() else ():
        paths = []
        for way in ways:
            edge = turned[way.edge]
            before = edge if way.beside is None else turned[way.beside]
            speed = vectors_of(edge @ np.swapaxes(before, -1, -2)) * rate_hz
            paths.append(turned_by(way.seconds[:, None, None] * speed) @ edge)
        apart = vectors_of(np.swapaxes(paths[0], -1, -2) @ paths[-1])
        found[gap] = paths[0] @ turned_by(share[:, None, None] * apart)
    return found


def as_measured(movement: Movement, on_floor: NDArray[np.bool_], pose: RestPose = "t-pose") -> tuple[Rest, Skeleton]:
    """The dancer's body at rest with the lengths of the take, and her skeleton in motion: pelvis, wrists and ankles where the
    movement has them, limbs as it has them, as near as bones of constant length come.

    on_floor (F, 2): whether the left and the right foot is in contact. Where a joint is not known, the figure's pose is shown.
    """
    rest = rest_with(_lengths(movement))
    turns = turns_of(movement, rest)
    hips = movement.joint("pelvis")
    shift = _carried_on(hips, np.isfinite(hips).all(axis=1), movement.rate_hz) - rest.head_of("pelvis")
    poses = Poses(turns.turned, shift, turns.known)
    rest = _with_neck_and_shoulders(movement, rest, poses)
    skeleton = skeleton_of(rest, poses, movement.rate_hz, on_floor, pose)
    everywhere = np.ones((movement.frames, 2))
    standing = with_legs(skeleton, _both(movement, "ankle", skeleton, _FEET), skeleton.turned[:, _FEET], everywhere)
    upright = with_trunk(standing, skeleton, lambda own: _wanted(movement.joint("neck"), own))
    shouldered = with_shoulders(upright, lambda suffix, own: _wanted(movement.joint("shoulder" + suffix), own))
    whole = with_arms(shouldered, _both(movement, "wrist", shouldered, _HANDS))
    # Where nothing of the dancer is known, nothing says where her limbs are: all of her is carried on.
    seen = np.isfinite(movement.joint_centres_m).any(axis=(1, 2))
    turned = _turned_on(whole.turned, seen, movement.rate_hz)
    return rest, replace(whole, turned=turned, pelvis_m=_carried_on(whole.pelvis_m, seen, movement.rate_hz))


def beside_measured(skeleton: Skeleton, movement: Movement) -> dict[str, tuple[float, float]]:
    """Joint -> median and greatest distance, metres, of a skeleton's joint from the measured one; without those never known."""
    found = {}
    for index, name in enumerate(SEGMENTS):
        base, dot, side = name.partition(".")
        if base not in _BEGINS_AT:
            continue
        joint = _BEGINS_AT[base] + dot + side
        far = np.linalg.norm(skeleton.heads_m[:, index] - movement.joint(joint), axis=1)
        far = far[np.isfinite(far)]
        if far.size:
            found[joint] = (float(np.median(far)), float(far.max()))
    return found
