"""Measures of jumps and landings."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import pairwise

import numpy as np

from ..body.movement import SIDES, SUFFIXES
from ..phrase.phase import Jump, Landing
from ..take import Floats
from ..units import GRAVITY
from .evidence import Evidence, made_once, runs
from .limits import JUMPS, LOAD, SERIES
from .load import landing_load_sd, mean_landing_load
from .measure_legs import plie_share, right_minus_left
from .observation import NotTold, Observation
from .reading import Reading, Window, extreme

Told = Iterator[Observation | NotTold | None]


def _joints(*names: str) -> tuple[str, ...]:
    return tuple(name + suffix for suffix in (".L", ".R") for name in names)


def heavy_landing(evidence: Evidence) -> Told:
    """Mean load from the height fallen and the distance in which the centre of mass is stopped."""
    for landing in evidence.landings:
        fall, stop, lowest = landing.fall_m, landing.stopping_m, evidence.at(landing.lowest_s)
        if fall is None or stop is None or lowest is None or not stop > LOAD.stopping_sd_m:
            continue
        time_s = lowest / evidence.rate_hz - landing.start_s
        abrupt = fall > JUMPS.least_fall_m and time_s < JUMPS.short_stop_s
        yield Observation(
            "heavy-landing",
            "load",
            landing,
            landing.side,
            mean_landing_load(fall, stop),
            landing.start,
            lowest,
            max(landing.end, lowest),
            _joints("hip", "ankle"),
            lever_m=0.4,
            beyond_fault=abrupt,
            extra_sd=landing_load_sd(fall, stop),
        )


def stiff_landing(evidence: Evidence) -> Told:
    """Greatest bend of the landing knees after contact against the own demi-plié."""
    for landing in evidence.landings:
        end = min(landing.start + evidence.samples(JUMPS.landing_s), evidence.frames - 1)
        following = [jump.start for jump in evidence.jumps if jump.start > landing.start]
        yield from plie_share(evidence, "stiff-landing", landing, landing.start, min([end, *following]))


def _arrival_s(evidence: Evidence, side: str, landing: Landing) -> float:
    """When the lowest point of a foot comes within JUMPS.arrived_mm of the floor around a landing, seconds; NaN when it does not.

    The same rule for both feet: how long a foot takes to settle after that is no part of it.
    """
    start = max(0, landing.start - evidence.samples(JUMPS.together_s))
    height = (
        1000 * evidence.movement.foot_heights_m[start : landing.start + evidence.samples(JUMPS.together_s) + 1, SIDES.index(side)]
    )
    lowest = height.min(axis=1)
    above = np.flatnonzero(~(lowest < JUMPS.arrived_mm))
    # From the last frame above it: a foot that was down all the time did not arrive.
    if not above.size or above[-1] + 1 >= lowest.size or not np.isfinite(lowest[above[-1]]):
        return float("nan")
    before = int(above[-1])
    part = (lowest[before] - JUMPS.arrived_mm) / (lowest[before] - lowest[before + 1])
    return (start + before + float(part)) / evidence.rate_hz


def uneven_landing(evidence: Evidence) -> Told:
    """Feet that arrive one after the other, or knees that bend unequally, in landings on two feet side by side."""
    for landing in evidence.landings:
        jump = evidence.jump_before(landing)
        # A jump from both feet whose second foot comes within this time was to land on both.
        if jump is None or "both" not in (landing.landing_feet, jump.take_off_feet):
            continue
        times = {side: _arrival_s(evidence, side, landing) for side in SIDES}
        if not np.isfinite(list(times.values())).all():
            continue
        later = max(times, key=lambda side: times[side])
        down = evidence.frame(times[later])
        lowest = evidence.at(landing.lowest_s)
        standing = max(down, lowest or down)
        apart = evidence.joint("ankle", "right")[standing] - evidence.joint("ankle", "left")[standing]
        ahead = abs(float(apart @ evidence.movement.segment("pelvis")[standing, :, 0]))
        beside = ahead < 0.10 and bool(np.linalg.norm(apart[:2]) > 0.14)
        # Up and down from both feet comes down on both at once, in any position. Of other jumps the closing foot may come later
        # by design, unless the feet land side by side.
        on_the_spot = jump.take_off_feet == "both" and (jump.travel_m or 0.0) < JUMPS.held_travel_m
        if not beside and not on_the_spot:
            continue
        yield Observation(
            "uneven-landing",
            "time",
            landing,
            later,
            abs(times["left"] - times["right"]),
            landing.start,
            down,
            down,
            ("toe.L", "toe.R"),
            extra_sd=0.5 / evidence.rate_hz,
        )
        bends = {side: evidence.degrees("knee_flexion", side) for side in SIDES}
        if lowest is None or not beside or landing.landing_feet != "both":
            continue
        around = evidence.samples(0.05)
        window = (max(0, lowest - around), min(lowest + around, evidence.frames - 1))
        difference = np.abs(bends["left"] - bends["right"])
        told = extreme(
            evidence,
            Reading(
                "uneven-landing",
                "bend",
                1,
                joints=_joints("hip", "knee", "ankle"),
                side=later,
                made_of=partial(right_minus_left, name="knee_flexion"),
            ),
            landing,
            Window(difference, window, moves=False),
        )
        yield told


def _floor_time(evidence: Evidence, landing: Landing) -> tuple[int, int, bool]:
    """First and last frame on the floor after a landing, and whether another jump follows."""
    following = [jump.start for jump in evidence.jumps if jump.start > landing.start]
    end = min([landing.start + evidence.samples(JUMPS.landing_s), evidence.frames - 1, *following])
    return landing.start, end, bool(following) and end == min(following)


def heels_miss_floor(evidence: Evidence) -> Told:
    """Lowest heel after a landing, and how often it touches the floor before the next jump."""
    for landing in evidence.landings:
        start, end, _ = _floor_time(evidence, landing)
        if (end - start) / evidence.rate_hz < JUMPS.floor_time_s:
            continue
        feet = landing.landing_feet
        for side in SIDES if feet == "both" else (str(feet),):
            heel = evidence.heel_mm(side) if side in SIDES else np.full(evidence.frames, np.nan)
            part = evidence.steady_part(heel, start, end)
            if np.isfinite(part).mean() < 0.5:
                yield NotTold("heels-miss-floor", landing, f"the {side} heel could not be seen for long enough")
                continue
            lowest = start + int(np.nanargmin(part))
            joints = ("heel" + SUFFIXES[side],)
            yield Observation(
                "heels-miss-floor",
                "height",
                landing,
                side,
                float(np.nanmin(part)),
                start,
                lowest,
                end,
                joints,
                beyond_fault=True,
                made_of=partial(Evidence.heel_mm, side=side),
            )
            touches = _touches(heel[start : end + 1], evidence.samples(JUMPS.touch_s))
            if touches > 1:
                yield Observation("heels-miss-floor", "touches", landing, side, float(touches), start, lowest, end, joints)


def _touches(heel: Floats, shortest: int) -> int:
    """How often a heel (K,) comes down, having clearly left the floor in between."""
    down = [(a, b) for a, b in runs(np.nan_to_num(heel, nan=np.inf) < JUMPS.touch_mm) if b - a >= shortest]
    return sum(1 for i, (a, _) in enumerate(down) if i == 0 or np.nanmax(heel[down[i - 1][1] - 1 : a + 1]) > JUMPS.left_mm)


def rushed_take_off(evidence: Evidence) -> Told:
    """Depth of the plié before a jump against the own demi-plié."""
    for jump in evidence.jumps:
        start = evidence.at(jump.preparation_s)
        before = [landing.start for landing in evidence.landings if landing.start < jump.start]
        if before and (start is None or start < max(before)):
            start = max(before)
        # A jump from a run or a step has another take-off.
        if start is None or jump.take_off_feet != "both" or jump.start - start > evidence.samples(2.0):
            continue
        yield from plie_share(evidence, "rushed-take-off", jump, start, jump.start)


def _same_step(one: Jump, other: Jump, jumps: tuple[Jump, ...]) -> bool:
    """Whether two jumps are the same step: by their course, or from and to the same feet in one unbroken series."""
    if one.same_as == other.same_as:
        return True
    feet = [(jump.take_off_feet, jump.landing_feet) for jump in (one, other)]
    first, last = sorted((jumps.index(one), jumps.index(other)))
    breaks = [b.start_s - a.end_s for a, b in pairwise(jumps[first : last + 1])]
    return feet[0] == feet[1] and max(breaks) < SERIES.series_s


def low_jump(evidence: Evidence) -> Told:
    """Height of a jump against the own best of the same step."""
    jumps = evidence.jumps
    for jump in jumps:
        height = jump.height_m
        group = [j for j in jumps if _same_step(jump, j, jumps)]
        heights = [j.height_m for j in group if j.height_m is not None]
        if len(heights) < 2 or height is None:
            continue
        apex = evidence.at(jump.apex_s) or (jump.start + jump.end) // 2
        share = height / max(heights)
        yield Observation(
            "low-jump",
            "share",
            jump,
            jump.side,
            share,
            jump.start,
            apex,
            jump.end,
            _joints("hip", "ankle"),
            extra_sd=0.011 / max(heights),
        )


@made_once
def _pointed_share(evidence: Evidence, side: str, own_deg: float) -> Floats:
    return evidence.degrees("plantarflexion", side) / own_deg


def feet_not_pointed(evidence: Evidence) -> Told:
    """Greatest stretch of the feet in flight against the own greatest."""
    for jump in evidence.jumps:
        if (jump.end - jump.start) / evidence.rate_hz < 0.15:
            continue
        for index, side in enumerate(SIDES):
            own = np.degrees(evidence.movement.standing.pointed_rad[index])
            if not np.isfinite(own):
                continue
            share_of = partial(_pointed_share, side=side, own_deg=float(own))
            share = share_of(evidence)
            told = extreme(
                evidence,
                Reading(
                    "feet-not-pointed",
                    "share",
                    1,
                    joints=("ankle" + SUFFIXES[side], "toe" + SUFFIXES[side]),
                    side=side,
                    lever_m=0.2,
                    made_of=share_of,
                ),
                jump,
                Window(share, (jump.start, jump.end), moves=False),
            )
            yield told


def turnout_lost_in_air(evidence: Evidence) -> Told:
    """Turnout of the feet in flight and at landing against the plié of the take-off, in jumps with both legs under the body."""
    for jump in evidence.jumps:
        push = evidence.at(jump.push_s)
        if push is None or jump.take_off_feet != "both" or jump.landing_feet != "both":
            continue
        for side in SIDES:
            elevation = evidence.degrees("leg_elevation", side)[jump.start : jump.end + 1]
            if not np.nanmax(np.append(elevation, 0)) < 35.0:
                continue
            turnout = evidence.degrees("foot_turnout", side)
            asked = evidence.before(turnout, push - evidence.samples(0.03), push + evidence.samples(0.03))
            yield extreme(
                evidence,
                Reading(
                    "turnout-lost-in-air",
                    "loss",
                    1,
                    joints=("heel" + SUFFIXES[side], "toe" + SUFFIXES[side]),
                    side=side,
                    lever_m=0.18,
                    least_sd=JUMPS.pointed_azimuth_deg,
                    made_of=partial(Evidence.degrees, name="foot_turnout", side=side),
                    against=push,
                ),
                jump,
                Window(asked - turnout, (jump.start, min(jump.end + evidence.samples(0.05), evidence.frames - 1))),
            )


#: Points whose hull is a smaller share of the square around them lie on one line.
_A_LINE = 1e-9


def margin_of_stability(place: Floats, velocity: Floats, leg_m: float, support: Floats) -> float:
    """Signed distance of the extrapolated centre of mass from the edge of the support, metres, + = inside.

    place, velocity (2,): of the centre of mass over the floor; leg_m: its height above the support; support (N, 2): points of
    the feet on the floor. Source: Hof 2005. NaN with fewer than three points that span an area.
    """
    extrapolated = place + velocity / np.sqrt(GRAVITY / leg_m)
    centre = support.mean(axis=0)
    angle = np.arctan2(*(support - centre).T[::-1])
    outline = hull(support[np.argsort(angle)])
    if len(outline) < 3:
        return float("nan")
    edge = np.roll(outline, -1, axis=0) - outline
    length = np.linalg.norm(edge, axis=1)
    inward = np.stack([-edge[:, 1], edge[:, 0]], axis=1) / length[:, None]
    distance = ((extrapolated - outline) * inward).sum(axis=1)
    if (distance >= 0).all():
        return float(distance.min() + JUMPS.outline_m)
    along = np.clip(((extrapolated - outline) * edge).sum(axis=1) / length**2, 0, 1)
    nearest = outline + along[:, None] * edge
    return float(JUMPS.outline_m - np.linalg.norm(extrapolated - nearest, axis=1).min())


def hull(points: Floats) -> Floats:
    """Convex hull of points (N, 2), counter-clockwise; empty when they lie on one line. Monotone chain (Andrew 1979)."""
    ordered = np.unique(points, axis=0).tolist()

    def chain(along: list[list[float]]) -> list[list[float]]:
        kept: list[list[float]] = []
        for x, y in along:
            # The last point goes when the way to this one does not turn left at it.
            while len(kept) > 1 and not (
                (kept[-1][0] - kept[-2][0]) * (y - kept[-2][1]) > (kept[-1][1] - kept[-2][1]) * (x - kept[-2][0])
            ):
                kept.pop()
            kept.append([x, y])
        return kept[:-1]

    around = np.array(chain(ordered) + chain(ordered[::-1])).reshape(-1, 2)
    # Twice the area, against that of the box around the points: rounding leaves a sliver of points on a line.
    area = np.abs((around[:, 0] * np.roll(around[:, 1], -1) - around[:, 1] * np.roll(around[:, 0], -1)).sum())
    return around if around.size and area > _A_LINE * np.ptp(points, axis=0).max() ** 2 else np.empty((0, 2))


def landing_off_axis(evidence: Evidence) -> Told:
    """Whether a landing that is meant to be held ends inside the support, and how long the body needs to be still."""
    mass = evidence.movement.centre_of_mass_m
    velocity = np.gradient(mass, axis=0) * evidence.rate_hz if evidence.frames > 1 else np.zeros_like(mass)
    for landing in evidence.landings:
        jump = evidence.jump_before(landing)
        start, lowest = landing.start, evidence.at(landing.lowest_s)
        soon = [j for j in evidence.jumps if start < j.start < start + evidence.samples(1.2)]
        end = start + evidence.samples(2.5)
        if jump is None or lowest is None or soon or end >= evidence.frames or (jump.travel_m or 0.0) > JUMPS.held_travel_m:
            continue
        speed = np.linalg.norm(velocity[start : end + 1, :2], axis=1)
        still = [a for a, b in runs(speed < JUMPS.still_m_s) if b - a >= evidence.samples(JUMPS.still_for_s)]
        if not still:
            continue
        settled = start + still[0]
        joints = ("pelvis", "toe.L", "toe.R")
        yield Observation(
            "landing-off-axis", "settling", landing, landing.side, still[0] / evidence.rate_hz, start, settled, settled, joints
        )
        on = [
            side
            for side in SIDES
            if np.nan_to_num(evidence.movement.foot_heights_m[lowest, SIDES.index(side)].min(), nan=1.0) < 0.03
        ]
        points = (
            np.concatenate([evidence.movement.foot_points_m[lowest, SIDES.index(side), :, :2] for side in on])
            if on
            else np.empty((0, 2))
        )
        points = points[np.isfinite(points).all(axis=1)]
        if len(points) >= 3 and np.isfinite(mass[lowest]).all():
            margin = 1000 * margin_of_stability(mass[lowest, :2], velocity[lowest, :2], float(mass[lowest, 2]), points)
            if np.isfinite(margin):
                yield Observation("landing-off-axis", "margin", landing, landing.side, margin, start, lowest, settled, joints)
