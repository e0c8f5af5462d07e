"""A floor that lies aslant in the recording, told by where flat feet stand; and the take turned until it is level.

A room whose zero plane is tilted by half a degree has feet 10 mm higher at one end of a phrase than at the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..body.rotations import about
from ..known import nothing_known_gives_nan
from ..take import Floats, Take
from ..wording import capture as say

#: So many samples a second tell where feet stand, and noise makes no speed. Proposed default.
_LOOKED_AT_HZ = 30.0
#: A foot stands while its markers move slower than this, m/s, flat while they lie as they usually do within this, metres; and no
#: higher than this above the lowest such places: more is a step. Proposed defaults.
_STANDS_M_S, _FLAT_M, _LOWEST_M = 0.08, 0.008, 0.06
#: Places where a foot stood, metres apart, and how many tell a plane. Proposed defaults.
_PLACE_M, _FEWEST_PLACES = 0.10, 8
#: What is known before: floors are level to so much, and flat feet come back to their height within so much. Proposed defaults.
_USUAL_SLOPE, _COMES_BACK_M = 0.02, 0.003
#: A slope is believed when it is so many times its own error, leaves this share of the heights' spread at most, with nearly all
#: places this near to it; and corrected between these: less is nothing, more is a ramp. Proposed defaults.
_SURE, _LEAVES, _NEARLY_ALL, _NEAR_M, _SLOPES = 5.0, 0.65, 0.85, 0.012, (0.004, 0.04)
_ROUNDS = 10


@dataclass(frozen=True)
class _Places:
    """Where feet stood flat: across the floor (N, 2), how high their markers are there (N,), which foot (N,)."""

    across: Floats
    heights: Floats
    foot: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.heights)


def _flat_places(points: Floats, rate_hz: float) -> tuple[Floats, Floats]:
    """Places (N, 2) where the markers of a foot (F, K, 3) stand flat, and their mean height (N,); none when it never does."""
    speed = np.linalg.norm(np.gradient(points, 1.0 / rate_hz, axis=0), axis=2).max(axis=1)
    # The speed in a frame is told by the two beside it, whether or not the frame itself is there.
    stands = np.flatnonzero((speed < _STANDS_M_S) & np.isfinite(points).all(axis=(1, 2)))
    if stands.size < 2:
        return np.empty((0, 2)), np.empty(0)
    heights = points[stands, :, 2]
    middle = heights.mean(axis=1)
    # Risen, rolled and pointed feet have their markers higher than flat ones, whatever the floor does.
    low = middle < np.quantile(middle, 0.1) + _LOWEST_M
    stands, heights, middle = stands[low], heights[low], middle[low]
    against = heights - middle[:, None]
    usual = np.median(against[middle <= np.quantile(middle, 0.5)], axis=0)
    flat = np.abs(against - usual).max(axis=1) < _FLAT_M
    if not flat.any():
        return np.empty((0, 2)), np.empty(0)
    across = points[stands[flat], :, :2].mean(axis=1)
    cells, cell = np.unique(np.round(across / _PLACE_M).astype(np.int64), axis=0, return_inverse=True)
    members = [cell.reshape(-1) == index for index in range(len(cells))]
    return (
        np.array([across[member].mean(axis=0) for member in members]),
        np.array([np.median(middle[flat][member]) for member in members]),
    )


def _places(take: Take, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> _Places:
    """Where both feet of a take stood flat, from their markers alone."""
    step = max(1, round(take.rate_hz / _LOOKED_AT_HZ))
    found = []
    for foot, segment in enumerate(("foot.L", "foot.R")):
        markers = [index for index, part in segment_of.items() if part == segment and index in landmark_of]
        if len(markers) < 2 or take.frames < 3 * step:
            continue
        found.append((foot, *_flat_places(take.positions_m[::step][:, markers], take.rate_hz / step)))
    if not found:
        return _Places(np.empty((0, 2)), np.empty(0), np.empty(0, dtype=np.int64))
    feet = np.concatenate([np.full(len(heights), foot) for foot, _, heights in found])
    return _Places(np.concatenate([a for _, a, _ in found]), np.concatenate([h for _, _, h in found]), feet)


def _slope(places: _Places) -> Floats | None:
    """How much the floor rises along X and Y (2,); None where it is level or cannot be told."""
    if len(places) < _FEWEST_PLACES:
        return None
    own = np.stack([places.foot == foot for foot in np.unique(places.foot)], axis=1).astype(np.float64)
    rows = np.concatenate([places.across - places.across.mean(axis=0), own], axis=1)
    known_before = np.concatenate([np.full(2, (_COMES_BACK_M / _USUAL_SLOPE) ** 2), np.zeros(own.shape[1])])
    weight = np.ones(len(places))
    for _ in range(_ROUNDS):
        normal = rows.T @ (weight[:, None] * rows) + np.diag(known_before)
        found = np.linalg.solve(normal, rows.T @ (weight * places.heights))
        left = places.heights - rows @ found
        # Steps that are no flat standing after all count for as little as they are off.
        weight = _COMES_BACK_M / np.maximum(np.abs(left), _COMES_BACK_M)
    slope = found[:2]
    level = places.heights - own @ np.array([np.median(places.heights[member > 0]) for member in own.T])
    spread = max(float(np.sqrt(np.mean(np.minimum(left**2, _NEAR_M**2)))), _COMES_BACK_M)
    error = np.linalg.inv(normal)[:2, :2] * spread**2
    sure = slope @ np.linalg.solve(error, slope) > _SURE**2
    near = (np.abs(left) < _NEAR_M).mean() >= _NEARLY_ALL
    explains = np.median(np.abs(left)) < _LEAVES * np.median(np.abs(level))
    steep = float(np.linalg.norm(slope))
    return slope if sure and near and explains and _SLOPES[0] <= steep <= _SLOPES[1] else None


def _turned(take: Take, turn: Floats, slope: float) -> Take:
    return replace(
        take,
        positions_m=np.einsum("fni,ji->fnj", take.positions_m, turn),
        computed_m={name: place @ turn.T for name, place in take.computed_m.items()},
        levelled_by=turn,
        warnings=(*take.warnings, say.floor_slopes(slope)),
    )


def levelled(take: Take, landmark_of: Mapping[int, str], segment_of: Mapping[int, str], as_in: Take | None = None) -> Take:
    """The take with its floor level; itself where that is level, cannot be told, or is told by force plates.

    landmark_of, segment_of: by marker index. as_in: a take of the same room, which tells how this one is turned. Missing samples
    are passed over. Method: a plane, robustly fitted to where the markers of flat feet stand still (common practice, no source).
    """
    if as_in is not None:
        turn = as_in.levelled_by
        return take if turn is None else _turned(take, turn, float(np.tan(np.arccos(turn[2, 2]))))
    if take.force_plates:
        return take
    with nothing_known_gives_nan():
        slope = _slope(_places(take, landmark_of, segment_of))
    if slope is None:
        return take
    steep = float(np.linalg.norm(slope))
    # About the level line across the slope, until what points up from the floor points up.
    axis = np.array([slope[1], -slope[0], 0.0]) / steep
    return _turned(take, about(axis, np.array([-np.arctan(steep)]))[0], steep)
