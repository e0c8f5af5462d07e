"""Balances and standing still (catalogue 6.4)."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import SIDE_SUFFIXES
from ..runs import runs
from ..take import Floats, Side
from .course import Course
from .gestures import direction_of
from .phase import FoundBalance, FoundStatic
from .signals import Mask, bridged, lasting

# Limits of catalogue 6.4, proposed defaults without a published norm.
#: A hold: the centre of mass slower than this, m/s, and the pelvis turning slower than this, rad/s, for at least this long, s.
SLOW_M_S = 0.06
#: A hold that sways stays below this; otherwise the balance that sways most would be none. Proposed default.
SWAY_M_S = 0.15
CALM_RAD_S = np.radians(20.0)
HOLD_S = 1.0
#: Both heels above this are on relevé, m.
RELEVE_M = 0.03
#: A lifted leg above this is a leg in the air rather than a foot beside the other, rad; a knee beyond this is bent.
LIFTED_RAD = np.radians(30.0)
BENT_RAD = np.radians(40.0)
RETIRE_RAD = np.radians(70.0)


def _pose(course: Course, support: str, start: int, stop: int) -> str:
    """Name of the held pose in the words of the class."""
    if support == "both":
        return "two feet on relevé" if np.nanmin(np.nanmedian(course.heel_m[start:stop], axis=0)) > RELEVE_M else "two feet"
    working = 1 if support == "left" else 0
    elevation = float(np.nanmedian(course.elevation_rad[start:stop, working]))
    knee = float(np.nanmedian(course.knee_rad[start:stop, working]))
    where = direction_of(course.azimuth_rad[start:stop, working])
    if knee > RETIRE_RAD and elevation < np.radians(75.0) and where != "back":
        own, others = SIDE_SUFFIXES[working], SIDE_SUFFIXES[1 - working]
        foot, height, ankle = (
            course.movement.joint(name)[start:stop, 2] for name in ("ankle" + own, "knee" + others, "ankle" + others)
        )
        share = np.nanmedian(foot - ankle) / np.nanmedian(height - ankle)
        return "retiré" if share > 0.5 else "cou-de-pied"
    if elevation < LIFTED_RAD:
        return "one foot"
    if knee > BENT_RAD:
        return {"back": "attitude derrière", "front": "attitude devant", "side": "bent leg to the side"}[where]
    return {"back": "arabesque", "front": "leg to the front", "side": "leg to the side"}[where]


def _drift_m_s(course: Course) -> Floats:
    """How fast the centre of mass gets anywhere (F,), m/s, over a second around each frame: to and fro gets nowhere."""
    half = max(1, course.samples(0.5))
    frames = np.arange(course.com_m.shape[0])
    before, after = np.maximum(frames - half, 0), np.minimum(frames + half, frames[-1])
    away = np.linalg.norm(course.com_m[after] - course.com_m[before], axis=1)
    return np.asarray(away * course.rate_hz / np.maximum(after - before, 1))


def find_holds(course: Course) -> tuple[FoundBalance | FoundStatic, ...]:
    """Holds on one foot or on relevé (balances) and standing on flat feet with straight knees (static).

    A hold in which the centre of mass is not known is none, nor is kneeling, sitting or lying still. Bent knees on two
    flat feet are a held plié, not a hold of these.
    """
    slow = (course.com_speed_m_s < SLOW_M_S) | ((course.com_speed_m_s < SWAY_M_S) & (_drift_m_s(course) < SLOW_M_S))
    quiet = bridged(slow & (np.abs(course.yaw_rate_rad_s) < CALM_RAD_S), course.samples(0.05))
    on = course.feet.on
    states: dict[Side, Mask] = {
        "left": course.single(0),
        "right": course.single(1),
        "both": on.all(axis=1),
    }
    phases: list[FoundBalance | FoundStatic] = []
    rate = course.rate_hz
    for support, state in states.items():
        for start, stop in runs(lasting(quiet & state & course.stands, course.samples(HOLD_S))):
            pose = _pose(course, support, start, stop)
            standing = pose == "two feet"
            if standing and np.nanmin(np.nanmedian(course.knee_rad[start:stop], axis=0)) > LIFTED_RAD:
                continue
            made = FoundStatic if standing else FoundBalance
            phases.append(
                made(
                    side=support,
                    start=start,
                    end=stop - 1,
                    start_s=start / rate,
                    end_s=(stop - 1) / rate,
                    support=support,
                    hold_s=(stop - start) / rate,
                    pose=pose,
                )
            )
    return tuple(sorted(phases, key=lambda phase: phase.start))
