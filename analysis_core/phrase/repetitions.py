"""The same step again: phases of one kind, side and shape, so that "4 of 5 times" can be said."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import pdist, squareform

from ..take import Floats
from .course import Course
from .phase import Phase

# Limits, proposed defaults without a published norm.
#: RMS distance of shape below which two steps are the same, in the units of _WEIGHTS (about one clear difference to the eye).
SAME_SHAPE = 1.0
#: Steps whose lengths differ by more than this factor are not the same step.
SAME_LENGTH = 1.8
#: Samples to which a step is stretched for the comparison.
SAMPLES = 32
#: What counts as one unit of difference: joint angles and the leg's lift, rad; height and heel, m; yaw, rad.
_WEIGHTS = {"angle": np.radians(20.0), "height": 0.06, "heel": 0.04, "yaw": np.radians(60.0)}

#: Properties by which a step has a name of its own: different values are different steps.
NAMES = {
    "turn": ("direction", "support"),
    "jump": ("take_off_feet", "landing_feet"),
    "plie": ("support", "size"),
    "releve": ("support",),
    "balance": ("support", "pose"),
    "leg-gesture": ("direction",),
    "landing": ("landing_feet",),
    "step": ("direction",),
    "static": (),
}


def _shape(course: Course, phase: Phase) -> Floats:
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


def _groups(course: Course, phases: list[Phase]) -> list[list[Phase]]:
    """Phases of one name, split by shape and length (average linkage on RMS distances)."""
    if len(phases) < 2:
        return [phases]
    shapes = np.stack([_shape(course, phase) for phase in phases])
    distances = squareform(pdist(shapes)) / np.sqrt(shapes.shape[1])
    lengths = np.array([max(phase.end_s - phase.start_s, 1.0 / course.rate_hz) for phase in phases])
    ratio = np.maximum(lengths[:, None] / lengths[None, :], lengths[None, :] / lengths[:, None])
    distances = np.where(ratio > SAME_LENGTH, np.maximum(distances, 3.0 * SAME_SHAPE), distances)
    np.fill_diagonal(distances, 0.0)
    labels = fcluster(linkage(squareform(distances, checks=False), "average"), SAME_SHAPE, "distance")
    return [[phase for phase, label in zip(phases, labels, strict=True) if label == number] for number in sorted(set(labels))]


def mark_repetitions(course: Course, phases: Iterable[Phase]) -> None:
    """Write ``same_as`` (id of the first of its kind), ``repetition`` (1, 2, …) and ``repetitions`` into every phase.

    The same step is the same kind and side, the same named properties, and a similar course of knees, legs, heels, height and
    yaw. Phases must carry their ids and come in order of time.
    """
    named: dict[tuple[object, ...], list[Phase]] = {}
    for phase in phases:
        name = (phase.kind, phase.side, *(phase.properties.get(key) for key in NAMES[phase.kind]))
        named.setdefault(name, []).append(phase)
    for alike in named.values():
        for group in _groups(course, alike):
            ordered = sorted(group, key=lambda phase: phase.start)
            for number, phase in enumerate(ordered, start=1):
                phase.properties["same_as"] = ordered[0].id
                phase.properties["repetition"] = float(number)
                phase.properties["repetitions"] = float(len(ordered))
