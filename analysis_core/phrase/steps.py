"""Steps: the body goes over from one foot to the other."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import SIDES
from ..take import Floats
from .course import CARRYING_SHARE, Course
from .gestures import direction_of
from .phase import FoundStep
from .signals import at

# Limits, proposed defaults without a published norm.
#: Shortest way of a foot that is a step, m; less is a foot put down where it was.
LEAST_WAY_M = 0.08
#: Where a standing foot is not seen, its place this near in time, s, is its place.
SEEN_WITHIN_S = 0.2
#: The body has to arrive over the new foot within this time of the touch-down, s.
LONGEST_S = 1.0


def _centres(course: Course) -> Floats:
    """Middle (F, 2, 2) of the points of each foot over the floor, metres; NaN where one of them is not known."""
    return np.asarray(course.movement.foot_points_m[..., :2].mean(axis=2))


def _where(places: Floats, course: Course) -> Floats:
    """The first of some places (K, 2) of a standing foot that is known, within 0.2 s; NaN where none is."""
    near = places[: course.samples(SEEN_WITHIN_S)]
    known = np.flatnonzero(np.isfinite(near).all(axis=1))
    return near[int(known[0])] if known.size else np.full(2, np.nan)


def find_steps(course: Course) -> tuple[FoundStep, ...]:
    """Steps from the touch-down of a foot until the body is over it; side is the foot stepped on; ids are given later.

    A foot that touches without taking the weight, and a landing from both feet in the air, are no steps.
    """
    rate = course.rate_hz
    centre = _centres(course)
    steps = []
    for foot, side in enumerate(SIDES):
        stances = course.feet.stances[foot]
        for index, (on, off) in enumerate(stances):
            start = int(np.ceil(on))
            if index == 0 or start >= course.frames or not course.feet.on[start, 1 - foot]:
                continue
            until = min(course.frames, int(off) + 1, start + course.samples(LONGEST_S))
            arrived = np.flatnonzero(course.load[start:until, foot] >= CARRYING_SHARE)
            if not arrived.size:
                continue
            end = start + int(arrived[0])
            left_at = stances[index - 1][1]
            way = _where(centre[start:until, foot], course) - _where(centre[: int(left_at) + 1, foot][::-1], course)
            # A foot that was not seen where it left or came down has gone no way that could be told.
            if not np.linalg.norm(way) >= LEAST_WAY_M:
                continue
            yaw = at(course.yaw_rad, float(start))
            outward = (1.0 if foot == 1 else -1.0) * (yaw - float(np.arctan2(way[1], way[0])))
            steps.append(
                FoundStep(
                    side=side,
                    start=start,
                    end=end,
                    start_s=on / rate,
                    end_s=max(end / rate, on / rate),
                    length_m=float(np.linalg.norm(way)),
                    direction=direction_of(np.array([outward])),
                    rise_m=float(course.feet.ground_m[start, foot] - course.feet.ground_m[int(left_at), foot]),
                    swing_s=(on - left_at) / rate,
                )
            )
    return tuple(sorted(steps, key=lambda phase: phase.start))
