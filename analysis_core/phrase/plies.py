"""Pliés: loaded knees that bend and stretch again (catalogue 6.4)."""

from __future__ import annotations

import numpy as np
from scipy.signal import find_peaks

from ..take import Floats
from .course import FOOT_SIDES, Course
from .phase import Phase, Property

# Limits, proposed defaults without a published norm; the rate of bending is catalogue 6.4's.
#: Knee flexion rate that begins and ends a plié, rad/s.
MOVING_RAD_S = np.radians(15.0)
#: Smallest bend at the bottom and smallest change, rad: walking bends the standing knee by about 20°.
LEAST_BEND_RAD = np.radians(30.0)
LEAST_CHANGE_RAD = np.radians(15.0)
#: Smallest drop of the centre of mass, share of the leg.
LEAST_DROP = 0.02
#: A plié keeps the trunk upright: with it further over than this the knees bend for another step, rad. Proposed default.
FOLDED_RAD = np.radians(45.0)
#: A grand plié bends the knees beyond this, rad.
GRAND_RAD = np.radians(100.0)
#: A bend that is this much deeper than the valley beside it is another one, rad.
OTHER_BEND_RAD = np.radians(5.0)
#: Share of the change that must be undone where a plié begins or ends.
UNDONE = 0.8


def _loaded_knees(course: Course) -> tuple[Floats, Floats]:
    """Bend (F,) and its rate of the knees that carry: the mean of both feet down, or the one of the single foot; else NaN."""
    weight = course.feet.on.astype(np.float64)
    total = weight.sum(axis=1)
    with np.errstate(invalid="ignore"):
        bend = np.where(total > 0, np.nansum(weight * course.knee_rad, axis=1) / total, np.nan)
        rate = np.where(total > 0, np.nansum(weight * course.knee_rate_rad_s, axis=1) / total, np.nan)
    return bend, rate


def _bound(bend: Floats, rate: Floats, bottom: int, limit: int, step: int) -> int:
    """Frame where the bend begins (step -1) or ends (step 1), between the bottom and a limit.

    That is the first valley beside the bottom, and in it the frame nearest to the bottom in which the knees are nearly still.
    """
    frames = np.arange(bottom, limit, step)
    gone = np.flatnonzero(~np.isfinite(bend[frames]))
    frames = frames[: int(gone[0])] if gone.size else frames
    if frames.size < 2:
        return bottom
    along = bend[frames]
    lowest = np.minimum.accumulate(along)
    other_bend = np.flatnonzero(along > lowest + OTHER_BEND_RAD)
    valley = int(np.argmin(along[: int(other_bend[0])] if other_bend.size else along))
    undone = along[valley] + (1.0 - UNDONE) * (along[0] - along[valley])
    calm = np.flatnonzero((along[: valley + 1] <= undone) & (step * rate[frames[: valley + 1]] > -MOVING_RAD_S))
    return int(frames[calm[0]] if calm.size else frames[valley])


def find_plies(course: Course) -> tuple[Phase, ...]:
    """Pliés with depth, bottom, support and share of the dancer's own best; ids are given later.

    Unknown knees or a body in the air give none. The bottom is where the centre of mass is lowest near the greatest bend.
    """
    bend, rate = _loaded_knees(course)
    # Peaks are sought on the knees themselves, so that the change of feet at a step is no bend.
    mean = np.where(np.isfinite(bend), bend, -1.0)
    peaks, shape = find_peaks(mean, height=LEAST_BEND_RAD, prominence=LEAST_CHANGE_RAD, distance=course.samples(0.1))
    best = course.movement.standing.demi_plie_rad
    plies = []
    for index, peak in enumerate(peaks.tolist()):
        earliest = int(shape["left_bases"][index])
        latest = int(shape["right_bases"][index])
        if index:
            earliest = max(earliest, int(peaks[index - 1]))
        if index + 1 < len(peaks):
            latest = min(latest, int(peaks[index + 1]))
        start = _bound(bend, rate, peak, earliest - 1, -1)
        end = _bound(bend, rate, peak, latest + 1, 1)
        change = bend[peak] - bend[start]
        height = course.com_m[start : end + 1, 2]
        if end - start < course.samples(0.1) or not np.isfinite(height).any():
            continue
        bottom = start + int(np.nanargmin(height))
        if abs(bottom - peak) > 0.3 * (end - start):
            bottom = peak
        depth = float(max(course.com_m[start, 2], course.com_m[end, 2]) - course.com_m[bottom, 2])
        if not depth >= LEAST_DROP * course.leg_length_m or change < LEAST_CHANGE_RAD:
            continue
        tipped = max(abs(float(course.movement.angle(name)[bottom])) for name in ("trunk_pitch", "trunk_roll"))
        if tipped > FOLDED_RAD:
            continue
        on = course.feet.on[bottom]
        side = "both" if on.all() else FOOT_SIDES[int(np.argmax(on))]
        own = best if side == "both" else best[[FOOT_SIDES.index(side)]]
        properties: dict[str, Property] = {
            "depth_m": depth,
            "depth_leg_lengths": depth / course.leg_length_m,
            "depth_ratio": float(bend[peak] / np.mean(own)) if np.isfinite(own).all() else None,
            "bottom_s": bottom / course.rate_hz,
            "knee_flexion_deg": float(np.degrees(bend[peak])),
            "support": side,
            "size": "grand" if bend[peak] > GRAND_RAD else "demi",
            "use": None,
        }
        plies.append(Phase("", "plie", side, start, end, start / course.rate_hz, end / course.rate_hz, properties))
    return tuple(plies)
