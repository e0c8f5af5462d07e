"""Feet held to the floor for the animator: what stands is found, held, reached by the legs, and told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import SIDE_SUFFIXES
from ..body.movement import FOOT_POINTS, SEGMENTS, Movement
from ..phrase.phase import Contact
from ..runs import runs
from ..take import Floats
from .feet import Sunk, hold_foot, too_deep
from .legs import with_legs
from .limits import limits
from .planted import Planted, Point, ball_of, find_planted, flat_height, speed_of
from .skeleton import Skeleton
from .upper_body import with_upper_body

_FEET = tuple(SEGMENTS.index("foot" + suffix) for suffix in SIDE_SUFFIXES)
_HEEL = FOOT_POINTS.index("heel")
#: Points that may not sink into the floor, in the order of Sunk.point.
FLOOR_POINTS: tuple[Point, Point] = ("heel", "ball")


@dataclass(frozen=True)
class Holding:
    """What holding the feet did. kept, left: stretches held, and those left as danced with the distance the foot travels there.

    sliding_m_s: mean and 95 % of the speed of planted points while they are held, before and after. moved_m: joint -> median
    and greatest distance by which holding moved it. depth_m: how deep heel or ball lie at most below their floor, before and
    after, outside of the stretches sunk, in which they lie so deep that they are left: there the floor is wrong by centimetres.
    levels: heights above the floor at which feet are held, rising, with how many stretches: 0 alone on a level floor, the treads
    of stairs, a stage.
    """

    kept: tuple[Planted, ...]
    left: tuple[tuple[Planted, float], ...]
    sliding_before_m_s: tuple[float, float]
    sliding_after_m_s: tuple[float, float]
    moved_m: dict[str, tuple[float, float]]
    depth_before_m: float
    depth_after_m: float
    sunk: tuple[Sunk, ...]
    levels: tuple[tuple[float, int], ...]


def _feet(skeleton: Skeleton) -> tuple[Floats, Floats]:
    """Ankles (F, 2, 3) and rotations away from rest (F, 2, 3, 3)."""
    return skeleton.heads_m[:, _FEET], skeleton.turned[:, _FEET]


def _at_rest(skeleton: Skeleton) -> Floats:
    """FOOT_POINTS (2, 4, 3) from the ankle at rest."""
    away: Floats = skeleton.rest.feet - skeleton.rest.heads[list(_FEET)][:, None]
    return away


def sliding(skeleton: Skeleton, planted: tuple[Planted, ...]) -> tuple[float, float]:
    """Mean and 95 % of the speed (m/s, along the floor) of planted points while they are held; 0 when nothing is held."""
    ankles, turned = _feet(skeleton)
    speeds = []
    for item in planted:
        stretch = slice(item.start, item.stop)
        path = ankles[stretch, item.side] + turned[stretch, item.side] @ item.offset
        speed = speed_of(path[:, :2], skeleton.rate_hz)
        speeds.append(speed[np.isfinite(speed)])
    if not speeds:
        return 0.0, 0.0
    every = np.concatenate(speeds)
    return float(every.mean()), float(np.quantile(every, 0.95))


def _moved(before: Floats, after: Floats) -> dict[str, tuple[float, float]]:
    far = np.linalg.norm(after - before, axis=2)
    return {name: (float(np.median(far[:, i])), float(far[:, i].max())) for i, name in enumerate(SEGMENTS)}


def _heights(skeleton: Skeleton, points: Floats) -> Floats:
    """Heights (F, 2, P) of points (2, P, 3) from the ankles at rest, metres."""
    ankles, turned = _feet(skeleton)
    heights: Floats = ankles[:, :, None, 2] + np.einsum("fsj,spj->fsp", turned[:, :, 2], points)
    return heights


def _deep(heights: Floats, floors: Floats, sunk: tuple[Sunk, ...]) -> Floats:
    """How deep heights (F, 2, P) lie below their floors (F, 2, P), metres; 0 where they are sunk."""
    deep = floors - heights
    for item in sunk:
        deep[item.start : item.stop, item.side, item.point] = 0.0
    return deep


def _ground(movement: Movement, on_floor: NDArray[np.bool_]) -> Floats:
    """Height of the ground (F, 2) that a foot may not sink below: in the air that of the lower of the stands around it.

    Where the take begins or ends with a foot in the air over ground of several levels, nobody knows what lies below it: −inf.
    """
    ground = np.nan_to_num(movement.ground_m)
    several = np.ptp(ground[on_floor]) > limits()["hold"]["levels_apart_m"] if on_floor.any() else False
    for side in range(2):
        for start, stop in runs(~on_floor[:, side]):
            around = slice(max(start - 1, 0), stop + 1)
            cut_off = start == 0 or stop == len(ground)
            ground[start:stop, side] = -np.inf if several and cut_off else ground[around, side].min()
    return ground


def _floors(flat: Floats, ground: Floats, heights: Floats, on_floor: NDArray[np.bool_]) -> Floats:
    """Height of the floor (F, 2, P) below each floor point: flat (2, P) above the ground (F, 2).

    A point that at the end of a stand sinks below a tread, from which its foot goes down, has rolled over the edge: below it lies
    what is below the foot in the air.
    """
    limit, floors = limits()["hold"], flat + ground[:, :, None]
    for side in range(2):
        for start, stop in runs(on_floor[:, side]):
            if stop == len(ground) or ground[stop, side] > ground[stop - 1, side] - limit["levels_apart_m"]:
                continue
            for point in range(floors.shape[2]):
                above = np.flatnonzero(heights[start:stop, side, point] >= floors[start:stop, side, point] - limit["sinks_m"])
                over = start + (int(above[-1]) + 1 if above.size else 0)
                floors[over:stop, side, point] = flat[side, point] + ground[stop, side]
    return floors


def _levels(kept: tuple[Planted, ...], ground_m: Floats) -> tuple[tuple[float, int], ...]:
    """Heights of the ground (F, 2) below the stretches that are held, what is nearly alike taken together."""
    heights = np.sort([np.nanmedian(ground_m[item.start : item.stop, item.side]) for item in kept])
    apart = np.flatnonzero(np.diff(heights) > limits()["hold"]["levels_apart_m"]) + 1
    return tuple((float(np.mean(level)), len(level)) for level in np.split(heights, apart) if len(level))


def hold_feet(skeleton: Skeleton, movement: Movement, contacts: tuple[Contact, ...]) -> tuple[Skeleton, Holding]:
    """The skeleton with its feet held to the floor where they stand, and what that did.

    Off for measuring, on for the animator: holding makes feet consistent, not truer.
    """
    ankles, turned = _feet(skeleton)
    at_rest = _at_rest(skeleton)
    planted = find_planted(movement, contacts, turned, ankles, at_rest)
    points = np.stack([at_rest[:, _HEEL], ball_of(at_rest)], axis=1)
    flat = [
        [flat_height(movement, ankles, turned, side, which, points[side, i]) for i, which in enumerate(FLOOR_POINTS)]
        for side in (0, 1)
    ]
    captured = _heights(skeleton, points)
    floors = _floors(np.array(flat), _ground(movement, skeleton.on_floor), captured, skeleton.on_floor)
    sunk = [too_deep(captured[:, side], floors[:, side], side) for side in (0, 1)]
    every = (*sunk[0], *sunk[1])
    asked, limit, loaded = floors.copy(), limits()["hold"], skeleton.on_floor
    for _ in range(limit["leg_rounds"]):
        held = [
            hold_foot(
                ankles[:, side], turned[:, side], [item for item in planted if item.side == side],
                points[side], asked[:, side], sunk[side], movement.rate_hz, movement.kind,
            )
            for side in (0, 1)
        ]  # fmt: skip
        ankle = np.stack([foot.ankle_m for foot in held], axis=1)
        feet_turned = np.stack([foot.turned for foot in held], axis=1)
        loaded = loaded | np.stack([foot.lifted for foot in held], axis=1)
        after = with_legs(skeleton, ankle, feet_turned, loaded.astype(np.float64))
        deep = _deep(_heights(after, points), floors, every)
        if deep.max() <= limit["allowed_m"]:
            break
        # What a leg gave back of its lift is asked for beforehand.
        asked += np.maximum(deep - limit["sinks_m"], 0.0)
        loaded = loaded | (deep > limit["sinks_m"]).any(axis=2)
    after = with_upper_body(after, skeleton)
    kept = (*held[0].kept, *held[1].kept)
    return after, Holding(
        kept,
        (*held[0].left, *held[1].left),
        sliding(skeleton, kept),
        sliding(after, kept),
        _moved(skeleton.heads_m, after.heads_m),
        float(max(_deep(captured, floors, every).max(), 0.0)),
        float(max(deep.max(), 0.0)),
        every,
        _levels(kept, movement.ground_m),
    )
