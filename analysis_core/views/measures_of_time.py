"""What to draw for times, counts and areas."""

from __future__ import annotations

import numpy as np

from ..body.geometry import UP, interpolated
from ..take import Floats
from .drawing import Area, Marks, Shape, Way
from .seen import ABOVE_FLOOR_M, Seen, Shapes, on_floor


def _time(seen: Seen, places: Floats) -> Shapes:
    """The way of a point (F, 3) in the time that the number tells, up to the decisive moment where there is room before it."""
    movement = seen.evidence.movement
    length = abs(seen.value)
    end = seen.frame / movement.rate_hz
    start = max(end - length, 0.0)
    inside = np.linspace(start, start + length, 24)
    points = interpolated(inside, movement.time_s, places)
    known = np.isfinite(points).all(axis=1)
    points = np.where(known[:, None], points, seen.now.mass)
    return [Way(points, inside, "measured"), Marks(points[[0, -1]], "measured")], "time", points[-1]


def heel_time(seen: Seen) -> Shapes:
    """The way of the heel."""
    return _time(seen, seen.evidence.foot_point(seen.side, "heel"))


def head_time(seen: Seen) -> Shapes:
    """The way of the face: a hand's breadth before the middle of the head."""
    return _time(seen, seen.evidence.joint("head") + 0.14 * seen.evidence.movement.segment("head")[:, :, 0])


def toe_time(seen: Seen) -> Shapes:
    """The way of the foot that comes later."""
    return _time(seen, seen.evidence.joint("toe", seen.side))


def mass_time(seen: Seen) -> Shapes:
    """The way of the centre of mass."""
    return _time(seen, seen.evidence.movement.centre_of_mass_m)


def touches(seen: Seen) -> Shapes:
    """A mark on the floor for every touch of the heel."""
    heel = on_floor(seen.now.foot(seen.side, "heel"))
    count = max(round(seen.value), 1)
    step = 0.05 * seen.now.outward(seen.side)
    points = np.stack([heel + number * step for number in range(count)])
    return [Marks(points, "measured")], "count", points[-1] + UP * 0.06


def sway(seen: Seen) -> Shapes:
    """The area in which the centre of mass wandered, and the usual one, on the floor."""
    start, end = (seen.told.start, seen.told.end) if seen.told is not None else (seen.frame, seen.frame + 1)
    path = seen.evidence.movement.centre_of_mass_m[start : end + 1] * [1, 1, 0] + UP * ABOVE_FLOOR_M
    known = path[np.isfinite(path).all(axis=1)]
    middle, covariance = known.mean(axis=0), np.cov(known[:, :2].T)
    values, vectors = np.linalg.eigh(covariance)
    # 95 % of a plane normal distribution: the square root of 5.991 SD along each axis.
    half = np.sqrt(5.991 * np.maximum(values, 1e-12))
    circle = np.linspace(0, 2 * np.pi, 65)[:-1]
    ring = (np.stack([np.cos(circle), np.sin(circle)], axis=1) * half) @ vectors.T
    outline = np.concatenate([ring, np.zeros((len(ring), 1))], axis=1)
    shrunk = outline / np.sqrt(max(seen.value, 1e-6))
    times = seen.evidence.movement.time_s[start : start + len(known)]
    shapes: list[Shape] = [
        Area(middle + outline, "measured"),
        Area(middle + shrunk, "reference"),
        Way(known, times, "aid"),
    ]
    high = seen.finding.band[1]
    if high is not None:
        shapes.append(Area(middle + shrunk * np.sqrt(high), "band"))
    return shapes, "areas", middle + np.array([0.0, 0.0, 0.08])
