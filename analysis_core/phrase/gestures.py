"""Gestures of the leg that is in the air (catalogue 6.4)."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import SIDES
from ..take import Floats
from .course import Course
from .peaks import peaks
from .phase import Direction, FoundLegGesture

# Limits of catalogue 6.4, proposed defaults without a published norm.
#: Smallest peak of the leg's elevation and smallest prominence of it, rad.
LEAST_RAD = np.radians(30.0)
PROMINENCE_RAD = np.radians(15.0)
#: The leg is at its height while it is within this of the peak, rad.
NEAR_PEAK_RAD = np.radians(5.0)
#: The leg is to the front up to the first azimuth, to the back from the second, rad.
FRONT_RAD = np.radians(45.0)
BACK_RAD = np.radians(135.0)


def direction_of(azimuth_rad: Floats) -> Direction:
    """Direction of a leg from its azimuth (K,), outward from forward; mean direction, NaN samples left out."""
    known = azimuth_rad[np.isfinite(azimuth_rad)]
    mean = abs(float(np.arctan2(np.sin(known).mean(), np.cos(known).mean()))) if known.size else 0.0
    return "front" if mean < FRONT_RAD else "back" if mean > BACK_RAD else "side"


def find_gestures(course: Course) -> tuple[FoundLegGesture, ...]:
    """Leg gestures with peak elevation, direction, knee and hold; ids are given later.

    Only a leg whose foot is seen off the ground at the peak while the other foot carries; in flight the legs are the jump's.
    """
    rate = course.rate_hz
    gestures = []
    for leg, side in enumerate(SIDES):
        elevation = course.elevation_rad[:, leg]
        found = peaks(np.where(np.isfinite(elevation), elevation, -1.0), LEAST_RAD, PROMINENCE_RAD)
        for index, peak in enumerate(found.frame.tolist()):
            if not course.single(1 - leg)[peak]:
                continue
            left, right = int(found.left_base[index]), int(found.right_base[index])
            # The gesture begins where the foot leaves the ground or the leg begins to rise, whichever is later.
            down = course.feet.on[:, leg]
            before, after = np.flatnonzero(down[left : peak + 1]), np.flatnonzero(down[peak : right + 1])
            begin = left + int(before[-1]) if before.size else left
            end = peak + int(after[0]) if after.size else right
            begin += int(np.nanargmin(elevation[begin : peak + 1]))
            end = peak + int(np.nanargmin(elevation[peak : end + 1]))
            high = np.abs(elevation[begin : end + 1] - elevation[peak]) < NEAR_PEAK_RAD
            around = slice(max(begin, peak - course.samples(0.05)), min(end, peak + course.samples(0.05)) + 1)
            gestures.append(
                FoundLegGesture(
                    side=side,
                    start=begin,
                    end=end,
                    start_s=begin / rate,
                    end_s=end / rate,
                    support=SIDES[1 - leg],
                    elevation_deg=float(np.degrees(elevation[peak])),
                    direction=direction_of(course.azimuth_rad[around, leg]),
                    peak_s=peak / rate,
                    knee_flexion_deg=float(np.degrees(course.knee_rad[peak, leg])),
                    hold_s=float(high.sum()) / rate,
                )
            )
    return tuple(sorted(gestures, key=lambda phase: phase.start))
