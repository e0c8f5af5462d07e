"""The same step again: phases of one kind, side and shape, so that "4 of 5 times" can be said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..take import Floats
from .course import Course
from .phase import Found

# Limits, proposed defaults without a published norm.
#: RMS distance of shape below which two steps are the same, in the units of _WEIGHTS (about one clear difference to the eye).
SAME_SHAPE = 1.0
#: Steps whose lengths differ by more than this factor are not the same step.
SAME_LENGTH = 1.8
#: Samples to which a step is stretched for the comparison.
SAMPLES = 32
#: What counts as one unit of difference: joint angles and the leg's lift, rad; height and heel, m; yaw, rad.
_WEIGHTS = {"angle": np.radians(20.0), "height": 0.06, "heel": 0.04, "yaw": np.radians(60.0)}


def _shape(course: Course, phase: Found) -> Floats:
    """Curves of a step, each stretched to 32 samples and scaled to comparable units (C·32,); unknown curves are 0."""
    place = np.linspace(phase.start, phase.end, SAMPLES)
    # A little more than the step, so that an unknown sample at its edge is bridged from beside it.
    beside = course.samples(0.1)
    first, last = max(0, phase.start - beside), min(course.frames, phase.end + 1 + beside)
    frames = np.arange(first, last)

    def stretched(curve: Floats, unit: float, *, from_start: bool) -> Floats:
        curve = curve[first:last]
        known = np.isfinite(curve)
        if not known.any():
            return np.zeros(SAMPLES)
        values = np.interp(place, frames[known], curve[known])
        return np.asarray((values - (values[0] if from_start else 0.0)) / unit)

    curves = [stretched(course.com_m[:, 2], _WEIGHTS["height"], from_start=True)]
    curves.append(stretched(course.yaw_rad, _WEIGHTS["yaw"], from_start=True))
    for leg in range(2):
        curves.append(stretched(course.knee_rad[:, leg], _WEIGHTS["angle"], from_start=False))
        curves.append(stretched(course.elevation_rad[:, leg], _WEIGHTS["angle"], from_start=False))
        curves.append(stretched(course.heel_m[:, leg], _WEIGHTS["heel"], from_start=False))
    return np.concatenate(curves)


def alike(distances: Floats, limit: float) -> list[int]:
    """Number of the group (from 1, in order of appearance) of each of N things by their distances (N, N).

    Average linkage: the two groups that are nearest on average become one, until none are within the limit. Source: Sokal
    and Michener 1958.
    """
    count = distances.shape[0]
    between = distances + np.where(np.eye(count, dtype=np.bool_), np.inf, 0.0)
    size = np.ones(count)
    group = np.arange(count)
    for _ in range(count - 1):
        first, second = sorted(divmod(int(np.argmin(between)), count))
        if not between[first, second] <= limit:
            break
        mean = (size[first] * between[first] + size[second] * between[second]) / (size[first] + size[second])
        between[first], between[:, first] = mean, mean
        between[second], between[:, second], between[first, first] = np.inf, np.inf, np.inf
        size[first] += size[second]
        group[group == second] = first
    # A group keeps the place of its first member, so that counting places counts groups in order of appearance.
    return [int(number) + 1 for number in np.searchsorted(np.unique(group), group)]


def _groups(course: Course, steps: Sequence[Found]) -> list[int]:
    """Number of the group of each of some steps of one name, by shape and length (average linkage on RMS distances)."""
    if len(steps) < 2:
        return [1] * len(steps)
    shapes = np.stack([_shape(course, step) for step in steps])
    distances = np.sqrt(((shapes[:, None] - shapes[None, :]) ** 2).mean(axis=2))
    lengths = np.array([max(step.end_s - step.start_s, 1.0 / course.rate_hz) for step in steps])
    ratio = np.maximum(lengths[:, None] / lengths[None, :], lengths[None, :] / lengths[:, None])
    distances = np.where(ratio > SAME_LENGTH, np.maximum(distances, 3.0 * SAME_SHAPE), distances)
    return alike(distances, SAME_SHAPE)


def repetitions(course: Course, steps: Sequence[Found]) -> list[list[int]]:
    """Places in ``steps`` of those that are the same step: a list for every different step, in order of time.

    The same step is the same name (kind, side, ...) and a similar course of knees, legs, heels, height and yaw.
    """
    named: dict[tuple[object, ...], list[int]] = {}
    for place, step in enumerate(steps):
        named.setdefault(step.name, []).append(place)
    groups: list[list[int]] = []
    for places in named.values():
        labels = _groups(course, [steps[place] for place in places])
        for label in sorted(set(labels)):
            same = [place for place, own in zip(places, labels, strict=True) if own == label]
            groups.append(sorted(same, key=lambda place: steps[place].start))
    return groups
