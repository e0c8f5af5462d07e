"""Legs that reach their held feet: the measured knee stays, the pelvis gives way, and no straight knee pops.

Kovar, Schreiner and Gleicher 2002 show why: a knee near full stretch turns by several degrees for a millimetre of reach.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.anatomy import LEG_SEGMENTS, SIDE_SUFFIXES
from ..body.geometry import dot, reject, unit
from ..body.movement import SEGMENTS
from ..body.rotations import turned_by
from ..smoothed import mean, most
from ..take import Floats
from .least_squares import Smooth
from .limits import limits
from .skeleton import Skeleton

_SUFFIXES = SIDE_SUFFIXES
_NEWTON_STEPS = 6
#: A knee this near to the line from hip to ankle shows no direction of its own, metres. Proposed default.
_STRAIGHT_M = 0.01
#: Segments that ride on the pelvis: all but the legs.
_UPPER = tuple(index for index, name in enumerate(SEGMENTS) if name.partition(".")[0] not in LEG_SEGMENTS)


@dataclass(frozen=True)
class Legs:
    """Both legs of a skeleton, left then right: hip, knee and ankle (F, 2, 3); knee (F, 2): signed flexion, radians; forward
    (F, 2, 3): the side to which a knee bends; thigh_m, shank_m (2,)."""

    hip: Floats
    ankle: Floats
    knee_rad: Floats
    forward: Floats
    thigh_m: Floats
    shank_m: Floats


def _axis(skeleton: Skeleton, name: str, column: int) -> Floats:
    """One anatomical axis (F, 3) of a segment in motion."""
    index = SEGMENTS.index(name)
    axis: Floats = skeleton.turned[:, index] @ skeleton.rest.axes[index][:, column]
    return axis


def legs_of(skeleton: Skeleton) -> Legs:
    """The legs as they are; flexion is negative past straight."""
    heads = skeleton.heads_m
    hips, ankles, knees, forwards, thighs, shanks = [], [], [], [], [], []
    for suffix in _SUFFIXES:
        hip, knee, ankle = (heads[:, SEGMENTS.index(name + suffix)] for name in LEG_SEGMENTS[:3])
        ahead_of_leg = unit(_axis(skeleton, "thigh" + suffix, 0) + _axis(skeleton, "shank" + suffix, 0))
        upper, lower = knee - hip, ankle - knee
        bend = np.arctan2(np.linalg.norm(np.cross(upper, lower), axis=1), dot(upper, lower))
        # The sign comes from the side of the line hip to ankle on which the knee lies, against the dancer's own forward.
        aside = reject(upper, unit(ankle - hip))
        sign = np.where(dot(aside, ahead_of_leg) < 0, -1.0, 1.0)
        hips.append(hip)
        ankles.append(ankle)
        knees.append(sign * bend)
        # A bent knee shows its own direction; a straight one has none, and there the axes of thigh and shank go on.
        forwards.append(unit(sign[:, None] * aside + _STRAIGHT_M * ahead_of_leg))
        thighs.append(np.linalg.norm(upper[0]))
        shanks.append(np.linalg.norm(lower[0]))
    return Legs(
        np.stack(hips, 1), np.stack(ankles, 1), np.stack(knees, 1), np.stack(forwards, 1), np.array(thighs), np.array(shanks)
    )


def reach(legs: Legs, knee_rad: Floats) -> Floats:
    """Distance hip to ankle (F, 2) with the knees bent so far."""
    a, b = legs.thigh_m, legs.shank_m
    distance: Floats = np.sqrt(a**2 + b**2 + 2.0 * a * b * np.cos(knee_rad))
    return distance


def _slope(legs: Legs, knee_rad: Floats) -> Floats:
    """Change of the reach with the knee, metres a radian."""
    slope: Floats = -legs.thigh_m * legs.shank_m * np.sin(knee_rad) / reach(legs, knee_rad)
    return slope


def pelvis_gives_way(legs: Legs, ankle_m: Floats, pelvis_m: Floats, loaded: Floats, rate_hz: float) -> tuple[Floats, Floats]:
    """Shift (F, 3) and turn (F, 3, rotation vectors) of the pelvis by which the held ankles are reached with the measured knees.

    loaded (F, 2): 1 where a foot is in contact, 0 elsewhere.
    """
    limit = limits()["pelvis"]
    span = ankle_m - legs.hip
    distance = np.linalg.norm(span, axis=2)
    missing = distance - reach(legs, legs.knee_rad)
    weights = loaded / (_slope(legs, legs.knee_rad) ** 2 + limit["knee_m_per_rad"] ** 2)
    turning = limit["turn_arm_m"] ** 2
    pull = np.array([1.0, 1.0, 1.0, turning, turning, turning])
    system = Smooth(len(pelvis_m), pull, limit["smooth_s"] * rate_hz)
    frames = np.arange(len(pelvis_m))
    for side in range(2):
        toward = span[:, side] / distance[:, side, None]
        rows = np.concatenate([toward, np.cross(legs.hip[:, side] - pelvis_m, toward)], axis=1)
        system.ask(frames, rows, missing[:, side], weights[:, side])
    solution = system.solve()
    return solution[:, :3], solution[:, 3:]


def _bound(loaded: Floats, rate_hz: float) -> Floats:
    """How far (F, 2) a foot is bound to its place: 1 in contact, falling to 0 on both sides of it as corrections do."""
    width = max(1, round(limits()["pelvis"]["release_s"] * rate_hz))
    wide = most(loaded, width)
    # Twice, so that the stiffness has no kink; both windows together are as wide as the margin, so that contact stays bound.
    return mean(mean(wide, width), width)


def knees_for(legs: Legs, distance: Floats, bound: Floats) -> Floats:
    """Knee flexion (F, 2) that reaches a distance (F, 2) as nearly as it may without leaving the measured knee.

    Minimises (distance − reach)² + (20 mm/rad)² (θ − θ measured)² by Newton's method, keeping the sign of a straight knee; a
    foot in the air (bound (F, 2) = 0) has no place to keep, so that there the knee stays as measured.
    """
    limit = limits()["pelvis"]
    stiffness = limit["knee_m_per_rad"] ** 2 * 10.0 ** (limit["free_decades"] * (1.0 - bound))
    knee = legs.knee_rad.copy()
    for _ in range(_NEWTON_STEPS):
        slope = _slope(legs, knee)
        residual = reach(legs, knee) - distance
        gradient = residual * slope + stiffness * (knee - legs.knee_rad)
        knee = knee - gradient / (slope**2 + stiffness)
    return knee


def swing(before: Floats, after: Floats) -> Floats:
    """The smallest rotations (F, 3, 3) that bring directions (F, 3) onto others (F, 3); none where they agree."""
    first, second = unit(before), unit(after)
    axis = np.cross(first, second)
    sine = np.linalg.norm(axis, axis=1)
    angle = np.arctan2(sine, dot(first, second))
    scale = np.where(sine > 1e-12, angle / np.maximum(sine, 1e-12), 0.0)
    turned: Floats = turned_by(axis * scale[:, None])
    return turned


def with_legs(skeleton: Skeleton, ankle_m: Floats, feet_turned: Floats, loaded: Floats) -> Skeleton:
    """The skeleton with its feet where they are held: ankle_m (F, 2, 3), feet_turned (F, 2, 3, 3) away from rest.

    The pelvis moves a little and trunk, arms and head ride along; what a leg cannot reach without popping its knee (tenths of
    a millimetre) is given back by the foot.
    """
    heads = skeleton.heads_m
    legs = legs_of(skeleton)
    shift, turn = pelvis_gives_way(legs, ankle_m, skeleton.pelvis_m, loaded, skeleton.rate_hz)
    pelvis = skeleton.pelvis_m + shift
    given = turned_by(turn)
    turned = skeleton.turned.copy()
    turned[:, _UPPER] = given[:, None] @ turned[:, _UPPER]
    hips = pelvis[:, None] + np.einsum("fij,fsj->fsi", given, legs.hip - skeleton.pelvis_m[:, None])
    span = ankle_m - hips
    knee = knees_for(legs, np.linalg.norm(span, axis=2), _bound(loaded, skeleton.rate_hz))
    toward, reached = unit(span), reach(legs, knee)
    for side, suffix in enumerate(_SUFFIXES):
        a = legs.thigh_m[side]
        forward = unit(reject(legs.forward[:, side], toward[:, side]))
        # Along the line to the ankle and beside it: the two sides of the triangle hip, knee, ankle.
        beside = a * legs.shank_m[side] * np.sin(knee[:, side]) / reached[:, side]
        along = np.sqrt(np.maximum(a**2 - beside**2, 0.0))
        joint = hips[:, side] + toward[:, side] * along[:, None] + forward * beside[:, None]
        ankle = hips[:, side] + toward[:, side] * reached[:, side, None]
        for name, begin, end in (("thigh", hips[:, side], joint), ("shank", joint, ankle)):
            index = SEGMENTS.index(name + suffix)
            own = skeleton.turned[:, index]
            old = heads[:, SEGMENTS.index(("shank" if name == "thigh" else "foot") + suffix)] - heads[:, index]
            turned[:, index] = swing(old, end - begin) @ own
        foot, toes = SEGMENTS.index("foot" + suffix), SEGMENTS.index("toes" + suffix)
        away = feet_turned[:, side] @ np.swapaxes(skeleton.turned[:, foot], -1, -2)
        turned[:, foot] = feet_turned[:, side]
        turned[:, toes] = away @ skeleton.turned[:, toes]
    return replace(skeleton, turned=turned, pelvis_m=pelvis)
