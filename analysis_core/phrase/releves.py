"""Relevés: the heel rises while the forefoot carries (catalogue 6.4)."""

from __future__ import annotations

import numpy as np

from ..runs import runs
from ..take import Floats, Side
from .course import CARRYING_SHARE, Course
from .phase import FoundReleve
from .signals import bridged, lasting

# Limits; crossing and plateau are catalogue 6.4's, all proposed defaults without a published norm.
#: Heel height that is up, m.
UP_M = 0.015
#: Smallest relevé, m: less is a heel that lifts, not a rise. The heels of a skeleton are estimates: they float by as much.
LEAST_M = {"markers": 0.03, "skeleton": 0.05}
#: The top is held while the heel rises or falls slower than this, m/s.
PLATEAU_M_S = 0.02
#: A rise that is neither lowered with the forefoot down nor held this long is a push into a step or a jump, s.
HELD_S = 0.15
#: One heel alone up while both feet are down is a relevé only when this share of the body is over it.
ALONE_SHARE = 0.5
#: Knees that bend further than this while the heel rises make it another step: the heels of a grand plié rise by design, rad.
BENDING_RAD = np.radians(8.0)
#: Share of its greatest height at which a heel has risen.
RISEN = 0.7
#: Both heels belong to one relevé when each is up for this share of the shorter rise.
TOGETHER_SHARE = 0.6


def _rises(course: Course, foot: int) -> list[tuple[int, int]]:
    heel = course.heel_m[:, foot]
    up = np.nan_to_num(heel, nan=0.0) > UP_M
    carrying = course.feet.on[:, foot] & (course.load[:, foot] >= 1.0 - CARRYING_SHARE)
    found = []
    for start, stop in runs(lasting(bridged(up & carrying, course.samples(0.05)), course.samples(0.1))):
        height = heel[start:stop]
        if np.nanmax(height) < LEAST_M[course.movement.kind]:
            continue
        if _bends(course.knee_rad[start:stop, foot], height):
            continue
        lowered = stop < course.frames and course.feet.on[min(stop, course.frames - 1), foot]
        slow = np.abs(np.gradient(height) * course.rate_hz) < PLATEAU_M_S
        high = height > RISEN * np.nanmax(height)
        held = int(np.sum(slow & high)) >= course.samples(HELD_S)
        arrives = any(abs(start - on) <= course.samples(0.05) for on, _ in course.feet.stances[foot])
        rose = np.nanmax(height) - height[0] >= LEAST_M[course.movement.kind] - UP_M
        # Weight that leaves with the heel up is a push-off, a heel that comes down at a landing, or as weight comes onto the
        # foot, rolls through it; one that rose from the ground and comes back down was a rise.
        carries = course.load[min(stop, course.frames - 1), foot] >= 1.0 - CARRYING_SHARE
        if held or (lowered and rose and not arrives and carries):
            found.append((start, stop))
    return found


def _bends(knee: Floats, height: Floats) -> bool:
    """Whether the knee (K,) bends while the heel (K,) rises; a knee that is not known does not say so."""
    risen = int(np.flatnonzero(height > RISEN * np.nanmax(height))[0])
    way = knee[: risen + 1]
    way = way[np.isfinite(way)]
    return way.size > 0 and bool(way.max() > way[0] + BENDING_RAD)


def find_releves(course: Course) -> tuple[FoundReleve, ...]:
    """Relevés with height and plateau, on one foot or both; ids are given later. Heels that are not known give none."""
    left, right = _rises(course, 0), _rises(course, 1)
    groups: list[tuple[Side, int, int]] = []
    used: set[int] = set()

    def bears(foot: int, start: int, stop: int) -> bool:
        return float(np.mean(course.load[start:stop, foot])) >= ALONE_SHARE

    for start, stop in left:
        partner = None
        for index, (a, b) in enumerate(right):
            overlap = min(stop, b) - max(start, a)
            if index not in used and overlap >= TOGETHER_SHARE * min(stop - start, b - a):
                partner = index
                break
        if partner is None and bears(0, start, stop):
            groups.append(("left", start, stop))
        elif partner is not None:
            used.add(partner)
            groups.append(("both", min(start, right[partner][0]), max(stop, right[partner][1])))
    groups += [("right", a, b) for index, (a, b) in enumerate(right) if index not in used and bears(1, a, b)]
    return tuple(_releve(course, side, start, stop) for side, start, stop in sorted(groups, key=lambda item: item[1]))


def _releve(course: Course, side: Side, start: int, stop: int) -> FoundReleve:
    columns = [0, 1] if side == "both" else [0 if side == "left" else 1]
    height = np.nanmean(course.heel_m[start:stop, columns], axis=1)
    # The height that the rise comes to: the 90th percentile, as in the catalogue's measure of a turn on relevé.
    top = float(np.nanpercentile(height, 90))
    speed = np.abs(np.gradient(height) * course.rate_hz) if height.size > 1 else np.zeros(1)
    plateau = np.flatnonzero((speed < PLATEAU_M_S) & (height > RISEN * top))
    rate = course.rate_hz
    return FoundReleve(
        side=side,
        start=start,
        end=stop - 1,
        start_s=start / rate,
        end_s=(stop - 1) / rate,
        support=course.main_support(start, stop),
        height_m=top,
        plateau_start_s=(start + int(plateau[0])) / rate if plateau.size else None,
        plateau_end_s=(start + int(plateau[-1])) / rate if plateau.size else None,
    )
