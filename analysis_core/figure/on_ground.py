"""A figure is put onto the ground: its carrier stands on it, and nothing of a foot goes through it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import SIDE_SUFFIXES
from ..body.lengths import soles_believed
from ..body.movement import FOOT_POINTS, SEGMENTS, Movement
from ..body.rotations import filled_places, turned_by
from ..phrase.carrying import CARRIED_M_S2, FLOATING_M
from ..phrase.contacts import TIPPING_M, feet_on
from ..phrase.ground import CARRIED_HEIGHT_SHARE
from ..smoothed import bell
from ..take import Floats
from .proportions import PARENTS, Rest

#: The figure is never put further from where the take has it.
MOST_M = 0.35
#: Onto the ground it goes over about this time, so that no body bobs; falling is seen in a curve that is as even as this; a foot
#: bears a third when it is so much further from the ground than the other. Proposed defaults.
_GIVES_WAY_S, _FALL_SEEN_S, _BEARS_TO_M = 0.08, 0.03, 0.01
#: What is still through the ground at last lifts the figure over about this time.
_EVEN_S = 0.05
#: A foot that would go through the ground gives way, evenly over about this time: its toes while the ball is so low in the take,
#: then, where it swings, its ankle; each by no more than this. Proposed defaults.
_FOOT_GIVES_S, _BALL_LOW_M = 0.02, 0.02
_TOES_GIVE_RAD, _ANKLE_GIVES_RAD = np.radians(60.0), np.radians(30.0)
#: A foot of which the take tells only where its ankle is turns to the ground by no more than this: a high relevé.
_STRETCHES_RAD = np.radians(60.0)

_HEEL, _TOE = FOOT_POINTS.index("heel"), FOOT_POINTS.index("toe")
_BALL = slice(_HEEL + 1, _TOE)


def depth(name: str) -> int:
    """How many segments lie between a segment and the pelvis, itself included."""
    return 0 if name not in PARENTS else 1 + depth(PARENTS[name])


#: SEGMENTS in an order in which each comes after the one that moves it.
IN_ORDER = tuple(sorted(SEGMENTS, key=depth))


def origins_of(turned: dict[str, Floats], rest: Rest) -> Floats:
    """Where every segment begins (F, S, 3), the pelvis at its place at rest."""
    frames = len(turned["pelvis"])
    origins = np.empty((frames, len(SEGMENTS), 3))
    for name in IN_ORDER:
        index = SEGMENTS.index(name)
        if name not in PARENTS:
            origins[:, index] = rest.heads[index]
            continue
        before = SEGMENTS.index(PARENTS[name])
        origins[:, index] = origins[:, before] + turned[PARENTS[name]] @ (rest.heads[index] - rest.heads[before])
    return origins


def soles_of(turned: dict[str, Floats], origins: Floats, rest: Rest) -> Floats:
    """Points (F, 2, 4, 3) of the figure's feet."""
    points = np.empty((len(origins), 2, 4, 3))
    for side, suffix in enumerate(SIDE_SUFFIXES):
        for point, bone in enumerate(("foot", "foot", "foot", "toes")):
            index = SEGMENTS.index(bone + suffix)
            points[:, side, point] = origins[:, index] + turned[bone + suffix] @ (rest.feet[side, point] - rest.heads[index])
    return points


def _above_ground(movement: Movement, rest: Rest, points: Floats) -> Floats:
    """How high the points of the figure's feet (F, 2, 4, 3) are above what is below them (F, 2, 4)."""
    heights: Floats = points[..., 2] - rest.feet[..., 2] - np.nan_to_num(movement.ground_m)[:, :, None]
    return heights


def _lowest(heights: Floats, bend: NDArray[np.bool_]) -> Floats:
    """Lowest of the points of feet (F, 2, 4), metres; inf where none is known. Toes that bend (F, 2) lie on the ground with the
    ball: how far they point below it says nothing."""
    known = np.where(np.isfinite(heights), heights, np.inf)
    known[..., _TOE] = np.where(bend, np.maximum(known[..., _TOE], known[..., _BALL].min(axis=2)), known[..., _TOE])
    lowest: Floats = known.min(axis=2)
    return lowest


def _carried(movement: Movement, lifted: Floats) -> NDArray[np.bool_]:
    """Where (F,) a foot carries the body, the lowest point of both feet of the take being lifted (F,) so high: it does not fall,
    and it is upright over feet that the take has on the floor or little above it."""
    rate = movement.rate_hz
    height = movement.centre_of_mass_m[:, 2]
    known = np.isfinite(height)
    even = bell(filled_places(np.nan_to_num(height)[:, None], known), _FALL_SEEN_S * rate)[:, 0]
    falls = np.gradient(np.gradient(even, 1.0 / rate), 1.0 / rate) < CARRIED_M_S2 if len(even) > 1 else np.zeros(1, dtype=bool)
    soles = movement.foot_points_m[..., 2]
    feet = np.where(np.isfinite(soles), soles, np.inf).min(axis=(1, 2))
    upright = height - feet > CARRIED_HEIGHT_SHARE * movement.standing.leg_length_m
    carried: NDArray[np.bool_] = known & ~falls & upright & (lifted < FLOATING_M[movement.kind])
    return carried


def _bears(movement: Movement, stands: Floats, carried: NDArray[np.bool_]) -> Floats:
    """How far each foot (F, 2) bears the body, its lowest point being so high (F, 2) above the ground in the take, inf where it
    stands on none: of the feet that are told on the floor the one nearest to it, where none is told so the lower one; both alike
    where nobody is carried."""
    on = feet_on(movement) & np.isfinite(stands)
    # A foot that is told below the floor bears no more than one above it.
    away = np.where(on, np.abs(stands), np.where(on.any(axis=1)[:, None], np.inf, stands))
    least = away.min(axis=1)
    asked = (carried & np.isfinite(least))[:, None]
    beyond = np.where(asked, away, 0.0) - np.where(asked, least[:, None], 0.0)
    return np.asarray(np.exp(-beyond / _BEARS_TO_M))


def on_the_ground(movement: Movement, rest: Rest, turned: dict[str, Floats], shift: Floats) -> tuple[dict[str, Floats], Floats]:
    """Turns (F, 3, 3) by segment and place (F, 3) of a figure whose carrier stands on the ground.

    Feet of a take hover and sink, those of skeletons by centimetres: while one carries, the figure is lowered or lifted onto the
    sole of that foot; in the air it is moved by what lies between take-off and landing. Evenly, and at last never through the
    ground: toes bend up, a foot that swings gives way at its ankle, so that it does not lift the body off the one that carries.
    """
    # Soles that a skeleton puts where no foot can be tell neither who stands nor on what: there the floor is the only ground.
    told = bool(soles_believed(movement).any())
    if not told:
        movement = replace(movement, ground_m=np.zeros_like(movement.ground_m))
    heights, rate = movement.foot_heights_m, movement.rate_hz
    bend = ~(heights[..., _BALL].min(axis=2) > _BALL_LOW_M)
    lifted = _lowest(heights, bend)
    # Over the edge of a step a foot is deep below the ground that is taken to be there.
    tips = (lifted < -TIPPING_M[movement.kind]) & bool(np.nan_to_num(movement.ground_m).any())
    stands = np.where(tips, np.inf, lifted)
    carried = _carried(movement, stands.min(axis=1)) & told
    bears = _bears(movement, stands, carried)
    origins = origins_of(turned, rest) + shift[:, None]
    sole = (bears * _lowest(_above_ground(movement, rest, soles_of(turned, origins, rest)), bend)).sum(axis=1) / bears.sum(axis=1)
    down = bell(filled_places(-sole[:, None], carried), _GIVES_WAY_S * rate)[:, 0]
    origins[..., 2] += np.clip(down, -MOST_M, MOST_M)[:, None]
    if told:
        turned = _toes_bent(movement, rest, turned, origins, np.where(tips, 0.0, bend))
        turned = _ankles_bent(movement, rest, turned, origins, np.where(tips, 0.0, 1.0 - bears), _ANKLE_GIVES_RAD)
    else:
        turned = _stretched_to_the_ground(movement, rest, turned, origins)
        turned = _ankles_bent(movement, rest, turned, origins, np.ones_like(lifted), _STRETCHES_RAD)
        turned = _toes_bent(movement, rest, turned, origins, np.ones_like(lifted))
    deep = np.where(tips, np.inf, _above_ground(movement, rest, soles_of(turned, origins, rest)).min(axis=2)).min(axis=1)
    origins[..., 2] += np.minimum(bell(np.maximum(-deep, 0.0), _EVEN_S * rate), MOST_M)[:, None]
    return turned, origins[:, SEGMENTS.index("pelvis")] - rest.head_of("pelvis")


def _raised(arm: Floats, deep: Floats, limit: Floats | float, share: Floats, rate_hz: float) -> Floats:
    """Turns (F, 3, 3) about the beginning of bones whose ends, arms (F, 3) away, are so deep (F,) below the ground, or above it
    where that is negative: up or down to it, by no more than a limit and as far as a share (F,) says."""
    along = np.linalg.norm(arm[:, :2], axis=1)
    up = np.arcsin(np.clip((arm[:, 2] + deep) / np.linalg.norm(arm, axis=1), -1.0, 1.0))
    angle = share * np.clip(up - np.arctan2(arm[:, 2], along), -limit, limit)
    axis = np.cross(arm, [0.0, 0.0, 1.0]) / np.maximum(along, 1e-9)[:, None]
    return turned_by(bell(angle[:, None] * axis, _FOOT_GIVES_S * rate_hz))


def _toes_bent(movement: Movement, rest: Rest, turned: dict[str, Floats], origins: Floats, bend: Floats) -> dict[str, Floats]:
    """Turns of a figure whose toes lie on the ground instead of in it, as far as they bend (F, 2)."""
    points, bent = soles_of(turned, origins, rest)[:, :, _TOE], dict(turned)
    above: Floats = points[..., 2] - rest.feet[:, _TOE, 2] - np.nan_to_num(movement.ground_m)
    for side, suffix in enumerate(SIDE_SUFFIXES):
        arm = points[:, side] - origins[:, SEGMENTS.index("toes" + suffix)]
        by = _raised(arm, np.maximum(-above[:, side], 0.0), _TOES_GIVE_RAD, bend[:, side], movement.rate_hz)
        bent["toes" + suffix] = by @ turned["toes" + suffix]
    return bent


def _ankles_bent(
    movement: Movement, rest: Rest, turned: dict[str, Floats], origins: Floats, swings: Floats, most_rad: float
) -> dict[str, Floats]:
    """Turns of a figure whose feet, as far as they swing (F, 2), are turned at the ankle until they clear the ground, by no more
    than said."""
    points, bent = soles_of(turned, origins, rest), dict(turned)
    above, every = _above_ground(movement, rest, points), np.arange(len(points))
    for side, suffix in enumerate(SIDE_SUFFIXES):
        ends = _HEEL, _HEEL + 1 + above[:, side, _HEEL + 1 :].argmin(axis=1)
        heel, front = (points[every, side, end] - origins[:, SEGMENTS.index("foot" + suffix)] for end in ends)
        heel_m, front_m = (above[every, side, end] for end in ends)
        # No further than to a level sole: then the other end would go through.
        level = np.arctan2(np.abs(front_m - heel_m), np.linalg.norm((front - heel)[:, :2], axis=1))
        arm, deep = np.where((front_m < heel_m)[:, None], front, heel), np.maximum(-np.minimum(front_m, heel_m), 0.0)
        by = _raised(arm, deep, np.minimum(level, most_rad), swings[:, side], movement.rate_hz)
        for bone in ("foot", "toes"):
            bent[bone + suffix] = by @ turned[bone + suffix]
    return bent


def _stretched_to_the_ground(movement: Movement, rest: Rest, turned: dict[str, Floats], origins: Floats) -> dict[str, Floats]:
    """Turns of a figure whose feet, while they are told on the ground and their soles are above it, are stretched until the ball
    is on it: where a skeleton tells no sole, a high ankle over the ground is a relevé."""
    points, stretched, on = soles_of(turned, origins, rest), dict(turned), feet_on(movement)
    above, every = _above_ground(movement, rest, points), np.arange(len(points))
    for side, suffix in enumerate(SIDE_SUFFIXES):
        ball = _HEEL + 1 + above[:, side, _BALL].argmin(axis=1)
        arm = points[every, side, ball] - origins[:, SEGMENTS.index("foot" + suffix)]
        high = np.maximum(above[:, side].min(axis=1), 0.0)
        by = _raised(arm, -high, _STRETCHES_RAD, on[:, side].astype(np.float64), movement.rate_hz)
        for bone in ("foot", "toes"):
            stretched[bone + suffix] = by @ turned[bone + suffix]
    return stretched
