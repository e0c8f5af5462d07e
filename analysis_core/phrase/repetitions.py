"""The same step again: phases of one kind, side and shape, so that "4 of 5 times" can be said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..body.anatomy import SIDE_SUFFIXES
from ..take import Floats
from .course import Course
from .phase import Found, FoundStep

# Limits, proposed defaults without a published norm; on real dance whose steps were listed by people who watched it, the same
# step again lies below 0.55, another step of its kind and foot above 0.7.
#: RMS distance of shape below which two steps are the same, in the units of _UNITS.
SAME_SHAPE = 0.6
#: Steps whose lengths differ by more than this factor are not the same step.
SAME_LENGTH = 1.8
#: Samples to which a step is stretched for the comparison.
SAMPLES = 32
#: At least so much of the dance is compared, s: a touch-down alone says nothing of its step.
LEAST_SEEN_S = 0.4
#: What counts as one unit of difference: the body's height and the heel, m; the foot's place from the pelvis, leg lengths;
#: the knee and the way turned, rad.
_UNITS = {"height": 0.06, "heel": 0.04, "place": 0.25, "knee": np.radians(20.0), "yaw": np.radians(60.0)}


def _seen(step: Found) -> tuple[float, float]:
    """When a step is looked at, s: with the way of the foot that steps, and for LEAST_SEEN_S at least."""
    start_s = step.start_s - (step.swing_s or 0.0) if isinstance(step, FoundStep) else step.start_s
    more_s = max(0.0, LEAST_SEEN_S - (step.end_s - start_s)) / 2
    return start_s - more_s, step.end_s + more_s


def _curves(course: Course) -> list[tuple[Floats, bool]]:
    """Curves (F,) that make a step's shape, in units of difference, and whether they count from the step's start."""
    movement, yaw = course.movement, course.yaw_rad
    forward = np.stack([np.cos(yaw), np.sin(yaw), np.zeros_like(yaw)], axis=1)
    left = np.stack([-np.sin(yaw), np.cos(yaw), np.zeros_like(yaw)], axis=1)
    curves = [(course.com_m[:, 2] / _UNITS["height"], True), (yaw / _UNITS["yaw"], True)]
    for leg, suffix in enumerate(SIDE_SUFFIXES):
        away = (movement.joint("ankle" + suffix) - movement.joint("pelvis")) / (course.leg_length_m * _UNITS["place"])
        curves += [((away * forward).sum(axis=1), False), ((away * left).sum(axis=1), False), (away[:, 2], False)]
        curves += [(course.knee_rad[:, leg] / _UNITS["knee"], False), (course.heel_m[:, leg] / _UNITS["heel"], False)]
    return curves


def _shape(course: Course, curves: Sequence[tuple[Floats, bool]], step: Found) -> Floats:
    """Curves of a step, each stretched to 32 samples (C·32,); unknown curves are 0."""
    start_s, end_s = _seen(step)
    place = np.linspace(start_s * course.rate_hz, end_s * course.rate_hz, SAMPLES)
    # A little more than the step, so that an unknown sample at its edge is bridged from beside it.
    beside = course.samples(0.1)
    first, last = max(0, int(place[0]) - beside), min(course.frames, int(place[-1]) + 1 + beside)
    frames = np.arange(first, last)

    def stretched(curve: Floats, from_start: bool) -> Floats:
        curve = curve[first:last]
        known = np.isfinite(curve)
        if not known.any():
            return np.zeros(SAMPLES)
        values = np.interp(place, frames[known], curve[known])
        return np.asarray(values - values[0] if from_start else values)

    return np.concatenate([stretched(curve, from_start) for curve, from_start in curves])


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
    curves = _curves(course)
    shapes = np.stack([_shape(course, curves, step) for step in steps])
    distances = np.sqrt(((shapes[:, None] - shapes[None, :]) ** 2).mean(axis=2))
    lengths = np.array([float(np.diff(_seen(step))[0]) for step in steps])
    own, other = lengths[:, None], lengths[None, :]
    ratio = np.maximum(own / other, other / own)
    distances = np.where(ratio > SAME_LENGTH, np.maximum(distances, 3.0 * SAME_SHAPE), distances)
    return alike(distances, SAME_SHAPE)


def repetitions(course: Course, steps: Sequence[Found]) -> list[list[int]]:
    """Places in ``steps`` of those that are the same step: a list for every different step, in order of time.

    The same step is the same name (kind, side, ...) and a similar course of feet, knees, heels, height and yaw.
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
