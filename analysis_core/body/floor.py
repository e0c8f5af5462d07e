"""Where the ground is: the floor of the room, the flat height of each foot point, and steps or stages."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..known import nothing_known_gives_nan
from ..medians import median_of_known
from ..take import Floats
from ..wording import capture as say

#: A foot point's centre lies about this far above the sole when the foot is flat: marker radius and a little shoe. Proposed
#: default.
_STAND_OFF_M = 0.010
#: The laboratory's own zero is the floor when the lowest foot point stands between these above it: markers stuck on too low, or
#: a floor set a little too high, take it below zero. Proposed defaults: two spreads of how markers are stuck on
#: (``marker_errors.toml``), and a shoe with a heel.
_OWN_ZERO_M = (-0.010, 0.06)
#: A foot that moves slower than this for this long rests on something or is held still.
_STILL_M_S = 0.15
_STILL_S = 0.10
#: The floor of a take lies elsewhere than in its static take when its lowest foot points never come nearer to it than this, but
#: for this share of the time. Proposed defaults: beyond two spreads of how markers are stuck on.
_MOVED_FLOOR_M, _COMES_DOWN = 0.015, 0.05
#: A foot is flat when its points are at their own heights to within this of each other; feet that are so for less than this share
#: of the time tell no floor. Proposed defaults.
_FLAT_M, _FEW_FLAT = 0.008, 0.1
#: A step or stage is at least this high; less is measuring error.
_LEAST_STEP_M = 0.04
#: Only a leg this long (share of its greatest length), with the hip this near above the foot, stands on that foot.
_STANDING_LEG = 0.80
_STANDING_REACH_M = 0.35
#: Whose hips are lower over the feet than this share of the leg kneels, sits or lies: hips are 0.79 of it over the ground in a
#: plié whose knees are bent by a right angle, 0.56 over knees that kneel. Proposed default.
STANDS_SHARE = 0.65


def own_zero_is_floor(lowest_m: float) -> bool:
    """Whether the recording's own zero is its floor, by how far above it the lowest foot point or marker stands."""
    return _OWN_ZERO_M[0] <= lowest_m <= _OWN_ZERO_M[1]


@dataclass(frozen=True)
class Floor:
    """height_m: of the floor in the recording. flat_m (2, 4): height of each foot point above the ground with the foot flat."""

    height_m: float
    flat_m: Floats
    why: str


def floor_from_standing(foot_points: Floats, mask: NDArray[np.bool_]) -> Floor:
    """The floor from frames of standing with flat feet; foot_points (F, 2, 4, 3) in the recording's laboratory."""
    standing = median_of_known(foot_points[mask][..., 2])
    # A foot that is known on one side only serves for both.
    standing = np.where(np.isfinite(standing), standing, standing[::-1])
    lowest = float(np.nanmin(standing)) if np.isfinite(standing).any() else 0.0
    if own_zero_is_floor(lowest):
        return Floor(0.0, standing, say.floor_of_recording(lowest, stands=True))
    height = lowest - _STAND_OFF_M
    return Floor(height, standing - height, say.floor_from_lowest(lowest))


def feet_below(foot_points: Floats, hips_z: Floats, leg_m: float) -> Floats:
    """Foot points (F, 2, 4, 3) without the frames in which a foot is not well below the hips (F,); all of them where it never is.

    Feet of who kneels, sits or lies rest on the instep or the back of the heel, with points lower than any of a foot that stands.
    """
    with nothing_known_gives_nan():
        low = hips_z[:, None] - np.nanmin(foot_points[..., 2], axis=2) < STANDS_SHARE * leg_m
    return foot_points if low.all() else np.where(low[:, :, None, None], np.nan, foot_points)


def floor_below(floor: Floor, foot_points: Floats) -> Floor:
    """The floor of a take of which another one tells how the feet stand flat: where its own feet (F, 2, 4, 3) come down to.

    Between two takes a room may be measured anew, or shoes put on: then heights against the other take's floor are all wrong by
    that. What is less than errors of markers leaves the floor where it is.
    """
    above = foot_points[:, :, :3, 2] - floor.flat_m[:, :3] - floor.height_m
    with nothing_known_gives_nan():
        lowest = np.nanmin(above.reshape(len(above), -1), axis=1)
    known = np.isfinite(lowest)
    down = float(np.quantile(lowest[known], _COMES_DOWN)) if known.any() else 0.0
    if abs(down) < _MOVED_FLOOR_M:
        return floor
    moved = _flat_level(above, down)
    return Floor(floor.height_m + moved, floor.flat_m, say.floor_moved(moved))


def _flat_level(above: Floats, lowest_m: float) -> float:
    """The height that flat feet come down to, from that of their points (F, 2, 3) above where they lie on a flat foot at 0.

    A foot that is rolled, risen or pointed has points below that; where none is flat, the given lowest height.
    """
    levels = above.mean(axis=2)[np.ptp(above, axis=2) < _FLAT_M]
    if levels.size < _FEW_FLAT * len(above):
        return lowest_m
    lowest = float(np.quantile(levels, _COMES_DOWN))
    return float(np.median(levels[levels < lowest + _MOVED_FLOOR_M]))


def floor_from_movement(foot_points: Floats, *, of_markers: bool, flat: Floats | None = None) -> Floor:
    """The floor from the lowest places that each foot point comes back to, when no flat standing is known.

    of_markers: their recording is calibrated on its floor, so its own zero is believed as after a static take; that of a skeleton
    is not. flat (N, 2, 4, 3): the feet where they are known to stand flat, in another place; how high their points are above each
    other is taken from there.
    """
    if flat is not None and np.isfinite(flat).all():
        above = np.median(flat[..., 2], axis=0)
        above = above - above.min(axis=1, keepdims=True)
        resting = foot_points[..., 2] - above
        known = np.isfinite(resting).any(axis=(1, 2))
        lowest = float(np.quantile(np.nanmin(resting[known], axis=(1, 2)), _COMES_DOWN))
        height = _flat_level(resting[:, :, :3], lowest) - _STAND_OFF_M
        return Floor(height, above + _STAND_OFF_M, say.FLAT_FEET_COME_BACK)
    heights = foot_points[..., 2]
    flat = np.full((2, 4), np.nan)
    for foot in range(2):
        known = np.isfinite(heights[:, foot]).all(axis=1)
        if known.any():
            flat[foot] = np.quantile(heights[known, foot], 0.05, axis=0)
    # A foot that never comes down as far as the other has its flat height from the other one.
    lower = np.fmin(flat[0], flat[1])
    flat = np.where(flat > lower + 0.03, lower, flat)
    bottom = float(np.nanmin(flat)) if np.isfinite(flat).any() else 0.0
    if of_markers and own_zero_is_floor(bottom):
        return Floor(0.0, flat, say.floor_of_recording(bottom, stands=False))
    zero = bottom - _STAND_OFF_M
    return Floor(zero, flat - zero, say.FEET_COME_BACK)


def _still_stretches(foot_points: Floats, rate_hz: float) -> list[tuple[int, int]]:
    with nothing_known_gives_nan():
        centre = np.nanmean(np.where(np.isfinite(foot_points), foot_points, np.nan)[:, :3], axis=1)
    speed = np.linalg.norm(np.gradient(centre, 1 / rate_hz, axis=0), axis=1)
    still = np.concatenate([[False], speed < _STILL_M_S, [False]])
    edges = np.flatnonzero(np.diff(still.astype(np.int8)))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(int(a), int(b)) for a, b in pairs if b - a >= _STILL_S * rate_hz]


def ground_below(foot_points: Floats, flat_m: Floats, hips: Floats, ankles: Floats, rate_hz: float) -> Floats:
    """Height of the ground below each foot (F, 2): 0 on a level floor, the step's height on stairs and stages.

    foot_points (F, 2, 4, 3), hips and ankles (F, 2, 3), floor at 0. A foot held still in the air is no ground: the leg must be
    nearly stretched with the hip above it at some time. Between two stands the change lies half-way.
    """
    frames = foot_points.shape[0]
    ground = np.zeros((frames, 2))
    if not np.isfinite(foot_points).any():
        return ground
    length = np.linalg.norm(hips - ankles, axis=2)
    reach = np.linalg.norm((hips - ankles)[..., :2], axis=2)
    longest = np.nanquantile(length, 0.98, axis=0) if np.isfinite(length).any() else np.full(2, np.nan)
    for foot in range(2):
        if not np.isfinite(foot_points[:, foot, :3]).all(axis=(1, 2)).any():
            continue
        stands: list[tuple[int, int, float]] = []
        for start, end in _still_stretches(foot_points[:, foot], rate_hz):
            height, flat = foot_points[start:end, foot, :3, 2], flat_m[foot, :3]
            above = np.nanmin(height - flat, axis=1)
            level = float(np.nanmedian(above))
            bearing = (length[start:end, foot] > _STANDING_LEG * longest[foot]) & (reach[start:end, foot] < _STANDING_REACH_M)
            if abs(level) < _LEAST_STEP_M:
                stands.append((start, end, 0.0))
            elif bearing.any():
                stands.append((start, end, level))
        if not any(level for _, _, level in stands):
            continue
        for index, (start, end, level) in enumerate(stands):
            before = 0 if index == 0 else (stands[index - 1][1] + start) // 2
            after = frames if index == len(stands) - 1 else (end + stands[index + 1][0]) // 2
            ground[before:after, foot] = level
    return ground
