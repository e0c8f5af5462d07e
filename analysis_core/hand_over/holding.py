"""Feet held to the floor for the animator: what stands is found, held, reached by the legs, and told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..body.anatomy import SIDE_SUFFIXES
from ..body.movement import FOOT_POINTS, SEGMENTS, Movement
from ..phrase.phase import Contact
from ..phrase.signals import derivative
from ..take import Floats
from .feet import HeldFoot, hold_foot
from .legs import with_legs
from .limits import limits
from .planted import Planted, Point, ball_of, find_planted, flat_height
from .skeleton import Skeleton, heads_of

_FEET = tuple(SEGMENTS.index("foot" + suffix) for suffix in SIDE_SUFFIXES)
_HEEL = FOOT_POINTS.index("heel")
#: Points that may not sink into the floor.
_FLOOR: tuple[Point, Point] = ("heel", "ball")


@dataclass(frozen=True)
class Holding:
    """What holding the feet did. kept, left: stretches held, and those left as danced with the distance the foot travels there.

    sliding_m_s: mean and 95 % of the speed of planted points while they are held, before and after. moved_m: joint -> median
    and greatest distance by which holding moved it. depth_m: how deep heel or ball lie at most below their floor in a contact,
    before and after; where a floor is wrong by centimetres it stays so.
    """

    kept: tuple[Planted, ...]
    left: tuple[tuple[Planted, float], ...]
    sliding_before_m_s: tuple[float, float]
    sliding_after_m_s: tuple[float, float]
    moved_m: dict[str, tuple[float, float]]
    depth_before_m: float
    depth_after_m: float


def _feet(skeleton: Skeleton, heads: Floats) -> tuple[Floats, Floats]:
    """Ankles (F, 2, 3) and rotations away from rest (F, 2, 3, 3)."""
    return heads[:, _FEET], skeleton.turned[:, _FEET]


def _at_rest(skeleton: Skeleton) -> Floats:
    """FOOT_POINTS (2, 4, 3) from the ankle at rest."""
    away: Floats = skeleton.rest.feet - skeleton.rest.heads[list(_FEET)][:, None]
    return away


def sliding(skeleton: Skeleton, planted: tuple[Planted, ...]) -> tuple[float, float]:
    """Mean and 95 % of the speed (m/s, along the floor) of planted points while they are held; 0 when nothing is held."""
    heads = heads_of(skeleton)
    ankles, turned = _feet(skeleton, heads)
    speeds = []
    for item in planted:
        stretch = slice(item.start, item.stop)
        path = ankles[stretch, item.side] + turned[stretch, item.side] @ item.offset
        window = max(limits()["planted"]["speed_window_s"], 3.0 / skeleton.rate_hz)
        speed = np.linalg.norm(derivative(path[:, :2], skeleton.rate_hz, 1, window), axis=1)
        speeds.append(speed[np.isfinite(speed)])
    if not speeds:
        return 0.0, 0.0
    every = np.concatenate(speeds)
    return float(every.mean()), float(np.quantile(every, 0.95))


def _moved(before: Floats, after: Floats) -> dict[str, tuple[float, float]]:
    far = np.linalg.norm(after - before, axis=2)
    return {name: (float(np.median(far[:, i])), float(far[:, i].max())) for i, name in enumerate(SEGMENTS)}


def _depth(skeleton: Skeleton, points: Floats, floors: Floats) -> float:
    """How deep points (2, P, 3) from the ankles at rest lie at most below their floors (2, P), metres."""
    ankles, turned = _feet(skeleton, heads_of(skeleton))
    heights = (ankles[:, :, None] + np.einsum("fsij,spj->fspi", turned, points))[..., 2]
    return float(max((floors - heights).max(), 0.0))


def hold_feet(skeleton: Skeleton, movement: Movement, contacts: tuple[Contact, ...]) -> tuple[Skeleton, Holding]:
    """The skeleton with its feet held to the floor where they stand, and what that did.

    Off for measuring, on for the animator: holding makes feet consistent, not truer.
    """
    heads = heads_of(skeleton)
    ankles, turned = _feet(skeleton, heads)
    at_rest = _at_rest(skeleton)
    planted = find_planted(movement, contacts, turned, ankles, at_rest)
    held: list[HeldFoot] = []
    points = np.stack([at_rest[:, _HEEL], ball_of(at_rest)], axis=1)
    floors = np.array(
        [
            [flat_height(movement, ankles, turned, side, which, points[side, i]) for i, which in enumerate(_FLOOR)]
            for side in (0, 1)
        ]
    )
    for side in range(2):
        own = [item for item in planted if item.side == side]
        held.append(hold_foot(ankles[:, side], turned[:, side], own, points[side], floors[side], movement.rate_hz, movement.kind))
    ankle = np.stack([foot.ankle_m for foot in held], axis=1)
    feet_turned = np.stack([foot.turned for foot in held], axis=1)
    after = with_legs(skeleton, ankle, feet_turned, skeleton.on_floor.astype(np.float64))
    kept = (*held[0].kept, *held[1].kept)
    return after, Holding(
        kept,
        (*held[0].left, *held[1].left),
        sliding(skeleton, kept),
        sliding(after, kept),
        _moved(heads, heads_of(after)),
        _depth(skeleton, points, floors),
        _depth(after, points, floors),
    )
