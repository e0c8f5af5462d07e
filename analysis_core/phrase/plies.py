"""Pliés: loaded knees that bend and stretch again (catalogue 6.4)."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import SIDES
from ..body.own_ranges import GRAND_PLIE_RAD
from ..take import Floats, Side
from .course import BODY_WINDOW_S, Course
from .peaks import peaks
from .phase import Bend
from .signals import derivative

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
#: A bend that is this much deeper than the valley beside it is another one, rad.
OTHER_BEND_RAD = np.radians(5.0)
#: Share of the change that must be undone where a plié begins or ends.
UNDONE = 0.8
#: At the bottom the knees are within this of their greatest bend, rad (catalogue 6.4); a bottom that lasts longer is held, s.
BOTTOM_RAD = np.radians(3.0)
HELD_S = 0.15
#: A smooth way down ends so much later than its second share is behind it, counted in the time between the two shares
#: (minimum jerk, Flash & Hogan 1985: 80 % of the way at 67.3 %, 97 % at 84.6 % of the time).
ARRIVING = (0.8, 0.97)
STILL_TO_COME = (1 - 0.846) / (0.846 - 0.673)


def _loaded_knees(course: Course) -> tuple[Floats, Floats]:
    """Bend (F,) and its rate of the knees that carry: the mean of both feet down, or the one of the single foot; else NaN.

    Of two loaded knees of which one is not known, the other tells it.
    """

    def mean(curve: Floats) -> Floats:
        carries = course.feet.on & np.isfinite(curve)
        total = carries.sum(axis=1)
        return np.where(total > 0, np.where(carries, curve, 0.0).sum(axis=1) / np.maximum(total, 1), np.nan)

    return mean(course.knee_rad), mean(course.knee_rate_rad_s)


def held_bottom(bend_rad: Floats, rate_hz: float) -> tuple[float, int]:
    """When knees (K,) arrive at the bottom of one bend (frame with fraction), and the last frame before they push.

    The bottom is within 3° of the greatest bend (catalogue 6.4). It is left where the knees stretch faster than 15°/s; it is
    reached where the smooth way down ends, told by the last part of that way, since its very end is too slow to
    be seen. A bend that is not held arrives at its deepest. NaN samples take no part; all NaN gives (NaN, 0).
    """
    known = np.isfinite(bend_rad)
    if not known.any():
        return float("nan"), 0
    bend = bend_rad if known.all() else np.interp(np.arange(bend_rad.size), np.flatnonzero(known), bend_rad[known])
    rate = derivative(bend, rate_hz, 1, BODY_WINDOW_S) if bend.size >= 5 else np.zeros(bend.size)
    deepest = int(np.argmax(bend))
    low = np.flatnonzero(bend < bend[deepest] - BOTTOM_RAD)
    first = int(low[low < deepest][-1]) + 1 if (low < deepest).any() else 0
    last = int(low[low > deepest][0]) - 1 if (low > deepest).any() else bend.size - 1
    resting = first + np.flatnonzero(np.abs(rate[first : last + 1]) < MOVING_RAD_S)
    calm, leave = (int(resting[0]), int(resting[-1])) if resting.size else (deepest, deepest)
    leave = max(leave, deepest) if not resting.size else leave
    level, start = float(np.median(bend[calm : leave + 1])), float(bend[: calm + 1].min())
    crossings = []
    for share in ARRIVING:
        below = np.flatnonzero(bend[: calm + 1] < start + share * (level - start))
        if not below.size:
            return float(deepest), leave
        before = int(below[-1])
        step = bend[min(before + 1, bend.size - 1)] - bend[before]
        part = (start + share * (level - start) - bend[before]) / step if step > 0 else 0.0
        crossings.append(before + float(np.clip(part, 0.0, 1.0)))
    arrival = crossings[1] + STILL_TO_COME * (crossings[1] - crossings[0])
    held = leave - arrival > HELD_S * rate_hz
    return (arrival if held else float(deepest)), leave


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


def find_bends(course: Course) -> tuple[Bend, ...]:
    """Pliés with depth, bottom, support and share of the dancer's own best; what they are for is told later.

    Unknown knees or a body in the air give none. The bottom is where the centre of mass is lowest near the greatest bend.
    """
    bend, rate = _loaded_knees(course)
    # Peaks are sought on the knees themselves, so that the change of feet at a step is no bend.
    mean = np.where(np.isfinite(bend), bend, -1.0)
    found = peaks(mean, LEAST_BEND_RAD, LEAST_CHANGE_RAD, distance=course.samples(0.1))
    plies = []
    for index, peak in enumerate(found.frame.tolist()):
        earliest = int(found.left_base[index])
        latest = int(found.right_base[index])
        if index:
            earliest = max(earliest, int(found.frame[index - 1]))
        if index + 1 < found.frame.size:
            latest = min(latest, int(found.frame[index + 1]))
        start = _bound(bend, rate, peak, earliest - 1, -1)
        end = _bound(bend, rate, peak, latest + 1, 1)
        bottom = _bottom(course, bend, start, peak, end)
        if bottom is not None:
            plies.append(_bend(course, bend, start, peak, bottom, end))
    return tuple(plies)


def _depth(course: Course, start: int, bottom: int, end: int) -> float:
    return float(max(course.com_m[start, 2], course.com_m[end, 2]) - course.com_m[bottom, 2])


def _bottom(course: Course, bend: Floats, start: int, peak: int, end: int) -> int | None:
    """Frame of the bottom; None where the body does not sink enough, or folds instead."""
    height = course.com_m[start : end + 1, 2]
    if end - start < course.samples(0.1) or not np.isfinite(height).any():
        return None
    bottom = start + int(np.nanargmin(height))
    if abs(bottom - peak) > 0.3 * (end - start):
        bottom = peak
    if not _depth(course, start, bottom, end) >= LEAST_DROP * course.leg_length_m or bend[peak] - bend[start] < LEAST_CHANGE_RAD:
        return None
    tipped = max(abs(float(course.movement.angle(name)[bottom])) for name in ("trunk_pitch", "trunk_roll"))
    return None if tipped > FOLDED_RAD else bottom


def _bend(course: Course, bend: Floats, start: int, peak: int, bottom: int, end: int) -> Bend:
    on = course.feet.on[bottom]
    side: Side = "both" if on.all() else SIDES[int(np.argmax(on))]
    arrival, push = held_bottom(bend[start : end + 1], course.rate_hz)
    best, depth = course.movement.standing.demi_plie_rad, _depth(course, start, bottom, end)
    own = best if side == "both" else best[[SIDES.index(side)]]
    return Bend(
        side=side,
        start=start,
        end=end,
        start_s=start / course.rate_hz,
        end_s=end / course.rate_hz,
        support=side,
        depth_m=depth,
        depth_leg_lengths=depth / course.leg_length_m,
        depth_ratio=float(bend[peak] / np.mean(own)) if np.isfinite(own).all() else None,
        bottom_s=bottom / course.rate_hz,
        arrival_s=(start + arrival if push - arrival > HELD_S * course.rate_hz else bottom) / course.rate_hz,
        push_s=(start + push) / course.rate_hz,
        knee_flexion_deg=float(np.degrees(bend[peak])),
        size="grand" if bend[peak] > GRAND_PLIE_RAD else "demi",
    )
