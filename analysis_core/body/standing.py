"""Standing still: the moments that show the dancer's own upright body, and what the dancer can do."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..medians import median_of_known
from ..paths import side_by_side
from ..runs import runs
from ..take import Floats
from .anatomy import SIDE_SUFFIXES
from .geometry import angle_between

#: A quiet moment lasts this long; all joints move slower than this in it. Proposed default, no published norm.
_WINDOW_S = 0.4
_STILL_M_S = 0.15
#: Moments that are quiet to within this factor and the speed that noise makes are as quiet; points this near to where they were
#: are the same posture. Proposed defaults.
_AS_QUIET, _NOISE_M_S, _SAME_POSTURE_M = 1.2, 0.01, 0.03
#: The line from the hips to the base of the neck leans no further than this while a body stands upright, rad: what a skeleton has
#: beyond it in its rest pose is how it was built. T1 stands 4.4° behind the hips (130 adults, pelvic tilt 12.4°, T1 pelvic angle
#: 8.0°: normal values for sagittal spinal alignment, Clinics 2018), the middle of the neck some 3 cm before T1 (from memory).
UPRIGHT_RAD = np.radians(5.0)
#: Heels this near to their lowest are down, a pelvis this near to its highest stands on long legs, metres. Proposed defaults.
_HEEL_DOWN_M, _LEGS_LONG_M = 0.012, 0.012


#: Standing is: knees bent, trunk and legs tilted less than this, heels this near to their lowest, still for at least so long.
#: Proposed defaults: an ordinary quiet stance with the feet apart has all of them.
_KNEE_BENT_RAD, _TRUNK_TILT_RAD, _LEG_TILT_RAD = np.radians(15.0), np.radians(12.0), np.radians(20.0)
_HEEL_RESTS_M = 0.025
#: and the two knees are bent alike, and no further than this beyond the straightest of such moments: one knee that is bent, or
#: both as in the beginning of a plié, are no upright to count from. Proposed defaults; two misplaced markers turn a knee by 4°.
_KNEES_ALIKE_RAD, _AS_STRAIGHT_RAD = np.radians(8.0), np.radians(5.0)


def _tilted(line: Floats) -> Floats:
    """Angle (F,) of lines (F, 3) from straight up."""
    return np.asarray(np.arctan2(np.linalg.norm(line[:, :2], axis=1), line[:, 2]))


def standing_still(joints: Mapping[str, Floats], rate_hz: float) -> NDArray[np.bool_]:
    """Where (F,) a dancer really stands: on both flat feet, long legs, upright, still for at least 0.4 s; all False when never.

    joints: places (F, 3) by name of JOINTS. Only such a moment is a neutral to count changes from.
    """
    trunk = joints["neck"] - joints["pelvis"]
    stands = _tilted(trunk) < _TRUNK_TILT_RAD
    knees = []
    for side in SIDE_SUFFIXES:
        thigh, shank = joints["hip" + side] - joints["knee" + side], joints["knee" + side] - joints["ankle" + side]
        knees.append(angle_between(thigh, shank))
        stands &= (knees[-1] < _KNEE_BENT_RAD) & (_tilted(thigh + shank) < _LEG_TILT_RAD)
        heel = joints["heel" + side][:, 2]
        if np.isfinite(heel).any():
            stands &= heel <= np.nanquantile(heel, 0.05) + _HEEL_RESTS_M
    places = side_by_side(joints[name] for name in ("pelvis", "neck", "head", "ankle.L", "ankle.R"))
    speed = np.linalg.norm(np.gradient(places, 1.0 / rate_hz, axis=0), axis=2) if stands.size > 1 else np.zeros((stands.size, 5))
    known = np.isfinite(speed)
    mean = np.where(known, speed, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    stands &= (mean < _STILL_M_S) & known.any(axis=1) & (np.abs(knees[0] - knees[1]) < _KNEES_ALIKE_RAD)
    stands = _long_enough(stands, rate_hz)
    bend = 0.5 * (knees[0] + knees[1])
    straight = _long_enough(stands & (bend < np.min(bend[stands], initial=np.inf) + _AS_STRAIGHT_RAD), rate_hz)
    return straight if straight.any() else stands


def _long_enough(stands: NDArray[np.bool_], rate_hz: float) -> NDArray[np.bool_]:
    """A mask (F,) without the moments that are too short to be one of standing."""
    kept = stands.copy()
    for start, stop in runs(stands):
        if stop - start < _WINDOW_S * rate_hz:
            kept[start:stop] = False
    return kept


def on_both_feet(heels: Floats, pelvis: Floats) -> NDArray[np.bool_]:
    """Where (F,) the dancer stands on both feet with heels down and legs as long as they get that way.

    heels (F, 2, 3): a heel or ankle of each foot; pelvis (F, 3). Of phrases without a static take such a moment tells neutral
    best: a balance on one leg is as quiet, and is where faults are made. All False where heels or pelvis are not known.
    """
    heights = heels[:, :, 2]
    known = np.isfinite(heights).all(axis=1) & np.isfinite(pelvis[:, 2])
    result = np.zeros(known.size, dtype=bool)
    if not known.any():
        return result
    down = known & (heights <= np.quantile(heights[known], 0.1, axis=0) + _HEEL_DOWN_M).all(axis=1)
    if down.any():
        result = down & (pelvis[:, 2] >= np.quantile(pelvis[down, 2], 0.9) - _LEGS_LONG_M)
    return np.asarray(result)


def quiet_frames(positions: Floats, rate_hz: float, preferred: NDArray[np.bool_] | None = None) -> NDArray[np.bool_]:
    """The quietest moment of points (F, N, 3): a mask (F,) of at least 0.4 s, or of the whole take when it is shorter.

    Quiet is judged by the mean speed of the points that are there; of equally quiet moments the one where the points reach
    highest is taken (upright rather than crouching). preferred (F,): where to look first (``on_both_feet``), unless nothing
    there is still. Missing samples do not count.
    """
    frames = positions.shape[0]
    window = max(3, round(_WINDOW_S * rate_hz))
    if frames <= window:
        return np.ones(frames, dtype=bool)
    speed = np.linalg.norm(np.diff(positions, axis=0), axis=2) * rate_hz
    there = np.isfinite(speed)
    mean_speed = np.where(there, speed, 0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
    # Half of the markers gone is no moment to learn a body from.
    mean_speed = np.where(there.mean(axis=1) > 0.5, mean_speed, np.inf)
    heights = positions[..., 2]
    seen = np.isfinite(heights)
    height = np.where(seen.any(axis=1), np.where(seen, heights, -np.inf).max(axis=1), 0.0)
    cumulative = np.concatenate([[0], np.cumsum(np.minimum(mean_speed, 1e3))])
    running = (cumulative[window:] - cumulative[:-window]) / window
    low = height[: len(running)] < 0.93 * np.quantile(height, 0.95)
    cost = running + np.where(low, 10.0, 0.0)
    allowed = np.ones(frames, dtype=bool)
    if preferred is not None:
        counted = np.concatenate([[0], np.cumsum(preferred)])
        standing = counted[window:] - counted[:-window] == window
        if standing[: len(running)].any() and running[standing[: len(running)]].min() < _STILL_M_S:
            cost = np.where(standing[: len(running)], cost, np.inf)
            allowed = preferred
    # Of moments that are as quiet the first: a calibration take begins with standing.
    best = int(np.argmax(cost <= _AS_QUIET * cost.min() + _NOISE_M_S))
    mask = np.zeros(frames, dtype=bool)
    mask[best : best + window] = True
    # All other moments that are as still, in the same place and posture, belong to it.
    still = np.append(mean_speed < min(_STILL_M_S, 1.5 * running[best] + 0.02), False)
    apart = np.linalg.norm(positions - median_of_known(positions[mask]), axis=2)
    known = np.isfinite(apart)
    apart = np.where(known, apart, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    return np.asarray(mask | (still & allowed & known.any(axis=1) & (apart < _SAME_POSTURE_M)))
