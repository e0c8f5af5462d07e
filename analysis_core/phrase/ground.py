"""The level that each foot stands on: floor, stage, steps. There need not be one single floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..runs import runs
from ..take import Floats
from .signals import Mask, bridged

#: A foot is a candidate for standing while its lowest point moves up or down slower than this, m/s. Proposed default.
STILL_VERTICAL_M_S = 0.12
#: ... and along the ground slower than this; the ball of a turning foot moves at 0.3 m/s. Proposed default.
STILL_HORIZONTAL_M_S = 0.6
#: Shortest rest that can be a stance, and shortest time of carrying the body that proves a level, s. Proposed defaults.
REST_S = 0.08
CARRY_S = 0.06
CARRY_ON_NEW_LEVEL_S = 0.15
#: Feet whose lowest points are this close in height stand on the same level, m: markers, skeletons (whose feet are estimates).
SAME_LEVEL_M = {"markers": 0.015, "skeleton": 0.03}
#: The body's centre of mass is at least this share of the leg above a foot that carries it. Proposed default.
CARRIED_HEIGHT_SHARE = 0.35


@dataclass(frozen=True)
class _Rest:
    """A stretch in which a foot rests, on the ground or in the air."""

    foot: int
    start: int
    stop: int
    level: float
    carried: int


def _main_level(rests: list[_Rest], tolerance: float) -> float:
    """The level that carried the body longest; the lowest of equals."""
    levels = np.array([rest.level for rest in rests])
    votes = np.array([float(rest.carried) for rest in rests])
    own, other = levels[:, None], levels[None, :]
    near = np.abs(own - other) <= tolerance
    support = near @ votes
    best = int(np.argmax(support - 1e-6 * levels))
    members = near[best]
    return float(np.average(levels[members], weights=votes[members] + 1e-9))


def _nearest_known(values: Floats) -> Floats:
    """Values (F,) with NaN replaced by the nearest known sample in time; all NaN stays."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == 0:
        return values
    frames = np.arange(values.size)
    after = np.clip(np.searchsorted(known, frames), 0, known.size - 1)
    before = np.clip(after - 1, 0, known.size - 1)
    nearer_before = np.abs(frames - known[before]) <= np.abs(known[after] - frames)
    return np.asarray(values[np.where(nearer_before, known[before], known[after])])


def _at_rest(low_m: Floats, vertical_m_s: Floats, rate_hz: float) -> Mask:
    """Where (F, 2) each foot neither rises nor falls."""
    rest = np.zeros(low_m.shape, dtype=bool)
    for foot in range(2):
        slow = np.isfinite(low_m[:, foot]) & (np.abs(vertical_m_s[:, foot]) < STILL_VERTICAL_M_S)
        rest[:, foot] = bridged(slow, int(0.02 * rate_hz))
    return rest


def _rests(rest: Mask, carries: Mask, low_m: Floats, *, shortest: int) -> list[_Rest]:
    """The rests of both feet that last so many frames, each with its level and for how long it carries."""
    return [
        _Rest(foot, start, stop, float(np.nanmedian(low_m[start:stop, foot])), int(carries[start:stop, foot].sum()))
        for foot in range(2)
        for start, stop in runs(rest[:, foot])
        if stop - start >= shortest
    ]


def ground_levels(
    low_m: Floats,
    vertical_m_s: Floats,
    horizontal_m_s: Floats,
    centre_of_mass_z_m: Floats,
    falling: Mask,
    *,
    rate_hz: float,
    leg_length_m: float,
    kind: str,
) -> Floats:
    """Height (F, 2) of the ground under the left and right foot.

    low_m (F, 2): lowest point of each foot, above its own height when flat. vertical_m_s, horizontal_m_s (F, 2): its speeds.
    falling (F,): the centre of mass is in free fall. Somebody has to carry the body: of the feet that rest, the lowest does,
    and the level on which it does so is ground. A foot that rests higher than the carrying one is in the air. NaN samples
    take no part; without any proof the ground is 0.
    """
    frames = low_m.shape[0]
    tolerance = SAME_LEVEL_M[kind]
    rest = _at_rest(low_m, vertical_m_s, rate_hz)
    known_both = np.isfinite(low_m).all(axis=1)
    resting_height = np.where(rest, low_m, np.inf)
    lowest = resting_height.min(axis=1)
    tall = np.nan_to_num(centre_of_mass_z_m - lowest, nan=np.inf) > CARRIED_HEIGHT_SHARE * leg_length_m
    carrying_time = known_both & ~falling & np.isfinite(lowest) & tall
    carries = rest & (resting_height <= lowest[:, None] + tolerance) & carrying_time[:, None]
    carries &= horizontal_m_s < STILL_HORIZONTAL_M_S
    rests = _rests(rest, carries, low_m, shortest=max(2, round(REST_S * rate_hz)))
    proven = [item for item in rests if item.carried >= CARRY_S * rate_hz]
    if not proven:
        return np.zeros((frames, 2))
    main = _main_level(proven, tolerance)
    ground = np.full((frames, 2), np.nan)
    for item in rests:
        on_main = abs(item.level - main) <= tolerance
        if on_main:
            # Skeleton feet sink and float by some millimetres from stance to stance: a carrying foot tells its own level.
            own = kind == "skeleton" and item.carried >= CARRY_S * rate_hz
            ground[item.start : item.stop, item.foot] = item.level if own else main
        elif item.carried >= CARRY_ON_NEW_LEVEL_S * rate_hz:
            ground[item.start : item.stop, item.foot] = item.level
    for foot in range(2):
        ground[:, foot] = _nearest_known(ground[:, foot])
    return np.where(np.isfinite(ground), ground, main)
