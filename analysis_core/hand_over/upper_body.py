"""Trunk, shoulders and arms over a pelvis that gave way: neck, shoulders and wrists where they are wanted, on constant bones."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np

from ..body.anatomy import ARM_SEGMENTS, LEG_SEGMENTS, SIDE_SUFFIXES, TRUNK_SEGMENTS
from ..body.geometry import unit
from ..body.movement import SEGMENTS
from ..take import Floats
from .legs import Limbs, joints_of, limbs_of, swing, swung
from .limits import limits
from .skeleton import Skeleton

#: Pelvis, lumbar spine, thorax and neck.
TRUNK = [SEGMENTS.index(name) for name in TRUNK_SEGMENTS[:4]]
_SPINE, _NECK = TRUNK[1:3], TRUNK[3]
_SHOULDERS, _HANDS = ([SEGMENTS.index(name + suffix) for suffix in SIDE_SUFFIXES] for name in ("upper_arm", "hand"))
#: All that is neither pelvis nor leg.
_ABOVE = [index for index, name in enumerate(SEGMENTS) if name.partition(".")[0] not in ("pelvis", *LEG_SEGMENTS)]
#: A wrist that is nearer than this to where its arm reaches is reached, metres.
_REACHED_M = 1e-6


def along_spine(heads: Floats, turned: Mapping[int, Floats], pelvis_m: Floats) -> tuple[Floats, Floats]:
    """Where lumbar spine and neck begin (F, 3) on bones that begin at heads (S, 3) at rest; turned: of the trunk's segments."""
    places = [pelvis_m]
    for index, after in pairwise(TRUNK):
        places.append(places[-1] + turned[index] @ (heads[after] - heads[index]))
    return places[1], places[-1]


def with_trunk(skeleton: Skeleton, before: Skeleton, wanted: Callable[[Floats], Floats]) -> Skeleton:
    """The skeleton with all above the pelvis turned as in ``before``, and its spine swung towards where its neck is wanted.

    wanted: told where the neck (F, 3) lies without that swing, answers where it should.
    """
    turned = skeleton.turned.copy()
    turned[:, _ABOVE] = before.turned[:, _ABOVE]
    begin, neck = along_spine(skeleton.rest.heads, {index: turned[:, index] for index in TRUNK}, skeleton.pelvis_m)
    turned[:, _SPINE] = swing(neck - begin, wanted(neck) - begin)[:, None] @ turned[:, _SPINE]
    return replace(skeleton, turned=turned)


def with_shoulders(skeleton: Skeleton, wanted: Callable[[str, Floats], Floats]) -> Skeleton:
    """The skeleton with clavicles that point at where its shoulders are wanted.

    wanted: told a side (".L", ".R") and where its shoulder (F, 3) lies, answers where it should.
    """
    turned, heads = skeleton.turned.copy(), skeleton.heads_m
    for suffix in SIDE_SUFFIXES:
        index, arm = SEGMENTS.index("clavicle" + suffix), SEGMENTS.index("upper_arm" + suffix)
        before, after = heads[:, arm] - heads[:, index], wanted(suffix, heads[:, arm]) - heads[:, index]
        turned[:, index] = swing(before, after) @ turned[:, index]
    return replace(skeleton, turned=turned)


def _elbows_for(arms: Limbs, distance: Floats) -> Floats:
    """Flexion (F, 2) of elbows that reaches a distance (F, 2), to a fraction of the softness where an arm is straight.

    An arm that is to reach further than it is long stays straight, and comes there without a jerk.
    """
    soft, longest = limits()["arms"]["soft_m"], arms.upper_m + arms.lower_m
    reached = longest - soft * np.logaddexp(0.0, (longest - distance) / soft)
    product = 2.0 * arms.upper_m * arms.lower_m
    bends: Floats = np.arccos(np.clip((reached**2 - arms.upper_m**2 - arms.lower_m**2) / product, -1.0, 1.0))
    return bends


def _arms_of(skeleton: Skeleton) -> Limbs:
    """Both arms: a forearm turns about itself, so that only the upper arm says where an elbow lies, and an elbow past straight by
    millimetres is straight."""
    return limbs_of(skeleton, ARM_SEGMENTS, ("upper_arm",), -1.0, past=False)


def _with_shoulders_near(skeleton: Skeleton, wrist_m: Floats) -> Skeleton:
    """The skeleton with clavicles swung towards wrists (F, 2, 3) that lie further from their shoulders than the arms are long."""
    arms, soft = _arms_of(skeleton), limits()["arms"]["soft_m"]
    span = wrist_m - arms.first
    lacking = soft * np.logaddexp(0.0, (np.linalg.norm(span, axis=2) - arms.upper_m - arms.lower_m) / soft)
    if lacking.max() < _REACHED_M:
        return skeleton
    wanted = dict(zip(SIDE_SUFFIXES, np.moveaxis(arms.first + lacking[..., None] * unit(span), 1, 0), strict=True))
    return with_shoulders(skeleton, lambda suffix, shoulder: wanted[suffix])


def with_arms(skeleton: Skeleton, wrist_m: Floats) -> Skeleton:
    """The skeleton with its wrists at wrist_m (F, 2, 3); hands stay turned as they are. Where an arm is too short its shoulder
    gives way as far as a clavicle lets it, and the wrist lies as near as that."""
    skeleton = _with_shoulders_near(skeleton, wrist_m)
    arms = _arms_of(skeleton)
    span = wrist_m - arms.first
    bend, toward = _elbows_for(arms, np.linalg.norm(span, axis=2)), unit(span)
    turned = skeleton.turned.copy()
    for side, suffix in enumerate(SIDE_SUFFIXES):
        middle, last = joints_of(arms, side, arms.first[:, side], toward[:, side], bend[:, side])
        names = ("upper_arm" + suffix, "forearm" + suffix, "hand" + suffix)
        swung(skeleton, turned, names, (arms.first[:, side], middle, last))
    return replace(skeleton, turned=turned)


def with_upper_body(skeleton: Skeleton, danced: Skeleton) -> Skeleton:
    """The skeleton, whose pelvis gave way, with neck, shoulders and wrists where they were danced, as near as its bones come."""
    heads = danced.heads_m
    upright = with_trunk(skeleton, danced, lambda own: heads[:, _NECK])
    sides = dict(zip(SIDE_SUFFIXES, _SHOULDERS, strict=True))
    return with_arms(with_shoulders(upright, lambda suffix, own: heads[:, sides[suffix]]), heads[:, _HANDS])
