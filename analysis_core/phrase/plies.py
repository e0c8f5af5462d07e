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
#: A grand plié bends the knees beyond this, rad.
GRAND_RAD = np.radians(100.0)
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


def _bound(bend: Floats, rate: Floats, bottom: int, limit: int, base: float, step: int) -> int:
    """Frame where the bend begins (step -1) or ends (step 1), between the bottom and a limit."""
    frames = np.arange(bottom, limit, step)
    if frames.size == 0:
        return bottom
    level = base + (1.0 - UNDONE) * (bend[bottom] - base)
    gone = ~np.isfinite(bend[frames])
    calm = (bend[frames] <= level) & (step * rate[frames] > -MOVING_RAD_S)
    ended = np.flatnonzero(calm | gone)
    if not ended.size:
        return int(frames[-1])
    place = int(ended[0])
    return int(frames[place - 1] if gone[place] and place else frames[place])


def find_plies(course: Course) -> tuple[Phase, ...]:
    """Pliés with depth, bottom, support and share of the dancer's own best; ids are given later.

    Unknown knees or a body in the air give none. The bottom is where the centre of mass is lowest near the greatest bend.
    """
    bend, _ = _loaded_knees(course)
    # Peaks are sought on the knees themselves, so that the change of feet at a step is no bend.
    mean = np.where(np.isfinite(bend), bend, -1.0)
    peaks, shape = find_peaks(mean, height=LEAST_BEND_RAD, prominence=LEAST_CHANGE_RAD, distance=course.samples(0.1))
    _, rate = _loaded_knees(course)
    best = course.movement.standing.demi_plie_rad
    plies = []
    for index, peak in enumerate(peaks.tolist()):
        earliest = int(shape["left_bases"][index])
        latest = int(shape["right_bases"][index])
        if index:
            earliest = max(earliest, int(peaks[index - 1]))
        if index + 1 < len(peaks):
            latest = min(latest, int(peaks[index + 1]))
        base = bend[peak] - float(shape["prominences"][index])
        before = float(np.nanmin(bend[earliest : peak + 1], initial=bend[peak]))
        after = float(np.nanmin(bend[peak : latest + 1], initial=bend[peak]))
        start = _bound(bend, rate, peak, earliest - 1, max(before, 0.0), -1)
        end = _bound(bend, rate, peak, latest + 1, max(after, 0.0), 1)
        height = course.com_m[start : end + 1, 2]
        if end - start < course.samples(0.1) or not np.isfinite(height).any():
            continue
        bottom = start + int(np.nanargmin(height))
        if abs(bottom - peak) > 0.3 * (end - start):
            bottom = peak
        depth = float(max(course.com_m[start, 2], course.com_m[end, 2]) - course.com_m[bottom, 2])
        if not depth >= LEAST_DROP * course.leg_length_m or bend[peak] - base < LEAST_CHANGE_RAD:
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
