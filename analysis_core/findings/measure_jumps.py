"""Measures of jumps and landings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np

from ..body.anatomy import SIDE_SUFFIXES
from ..body.geometry import hull
from ..body.movement import SIDES
from ..phrase.phase import Jump, Landing
from ..runs import runs
from ..take import Floats
from ..units import GRAVITY
from ..wording.names import part_on
from .evidence import Evidence, made_once
from .limits import JUMPS, LEVERS, LOAD, READING, SERIES
from .load import landing_load_sd, mean_landing_load
from .measure_plies import SHALLOW, plie_share, side_by_side
from .observation import NotTold, Observation
from .parts_of_measures import foot_turnout, right_minus_left
from .reading import HIGHEST, LOWEST, Measure, Told, Window, extreme, over


def _legs(*names: str) -> tuple[str, ...]:
    return tuple(name + suffix for suffix in SIDE_SUFFIXES for name in names)


def landings(evidence: Evidence) -> tuple[Landing, ...]:
    """Landings that are judged."""
    return evidence.landings


def jumps(evidence: Evidence) -> tuple[Jump, ...]:
    """Jumps that are judged."""
    return evidence.jumps


_LOAD = Measure("heavy-landing", "load", HIGHEST, _legs("hip", "ankle"), sided=False)


@over(landings)
def heavy_landing(evidence: Evidence, landing: Landing) -> Told:
    """Mean load from the height fallen and the distance in which the centre of mass is stopped."""
    fall, stop, lowest = landing.fall_m, landing.stopping_m, evidence.at(landing.lowest_s)
    if fall is None or stop is None or lowest is None or not stop > LOAD.stopping_sd_m:
        return
    abrupt = fall > JUMPS.least_fall_m and lowest / evidence.rate_hz - landing.start_s < JUMPS.short_stop_s
    load, error = mean_landing_load(fall, stop), landing_load_sd(fall, stop)
    frames = (landing.start, lowest, max(landing.end, lowest))
    yield _LOAD.on(landing.side).told(landing, load, frames, extra_sd=error, beyond_fault=abrupt)


_STIFF, _RUSHED = (replace(SHALLOW, fault=fault) for fault in ("stiff-landing", "rushed-take-off"))


def _floor_time(evidence: Evidence, landing: Landing) -> tuple[int, int]:
    """First and last frame on the floor after a landing, until another jump follows."""
    following = [jump.start for jump in evidence.jumps if jump.start > landing.start]
    return landing.start, min([landing.start + evidence.samples(JUMPS.landing_s), evidence.frames - 1, *following])


@over(landings)
def stiff_landing(evidence: Evidence, landing: Landing) -> Told:
    """Greatest bend of the landing knees after contact against the own demi-plié."""
    yield from plie_share(evidence, _STIFF, landing, *_floor_time(evidence, landing))


def _arrival_s(evidence: Evidence, side: str, landing: Landing) -> float:
    """When the lowest point of a foot comes near the floor around a landing (arrived_mm), seconds; NaN when it does not.

    The same rule for both feet: how long a foot takes to settle after that is no part of it. Toes that trail just above the floor
    pass that height on their way, too: only a foot that has clearly left it (flown_mm) arrives by it.
    """
    around = evidence.samples(JUMPS.together_s)
    start = max(0, landing.start - around)
    lowest = 1000 * evidence.movement.foot_heights_m[start : landing.start + around + 1, SIDES.index(side)].min(axis=1)
    above = np.flatnonzero(~(lowest < JUMPS.arrived_mm))
    # From the last frame above it: a foot that was down all the time did not arrive.
    if not above.size or above[-1] + 1 >= lowest.size or not np.isfinite(lowest[above[-1]]):
        return float("nan")
    if np.nanmax(lowest[: above[-1] + 1]) < JUMPS.flown_mm:
        return float("nan")
    before = int(above[-1])
    part = (lowest[before] - JUMPS.arrived_mm) / (lowest[before] - lowest[before + 1])
    return (start + before + float(part)) / evidence.rate_hz


_TIME = Measure("uneven-landing", "time", HIGHEST, ("toe.L", "toe.R"), sided=False)
_BEND = Measure(
    "uneven-landing", "bend", HIGHEST, _legs("hip", "knee", "ankle"), partial(right_minus_left, name="knee_flexion"), sided=False
)


def _touch_down_s(evidence: Evidence, side: str, landing: Landing) -> float:
    """When a foot meets the floor around a landing by the contacts of the phrase, seconds; NaN when it does not."""
    starts = [contact.start_s for contact in evidence.phrase.contacts if contact.foot == side and contact.part == "foot"]
    return min((s for s in starts if abs(s - landing.start_s) < JUMPS.together_s), default=float("nan"))


def _arrivals_s(evidence: Evidence, landing: Landing) -> dict[str, float]:
    """When both feet arrive at a landing, by the same rule for both; NaN for one that does not.

    Where the toes of one trail near the floor all through the flight, the contacts tell it, which know the fall.
    """
    by_height: dict[str, float] = {side: _arrival_s(evidence, side, landing) for side in SIDES}
    if evidence.movement.kind == "skeleton" or np.isfinite([*by_height.values()]).all():
        return by_height
    return {side: _touch_down_s(evidence, side, landing) for side in SIDES}


@over(landings)
def uneven_landing(evidence: Evidence, landing: Landing) -> Told:
    """Feet that arrive one after the other, or knees that bend unequally, in landings on two feet side by side."""
    jump, lowest = evidence.jump_before(landing), evidence.at(landing.lowest_s)
    times = _arrivals_s(evidence, landing)
    # A jump from both feet whose second foot comes within this time was to land on both.
    if jump is None or "both" not in (landing.landing_feet, jump.take_off_feet) or not np.isfinite([*times.values()]).all():
        return
    later = max(times, key=lambda side: times[side])
    down = evidence.frame(times[later])
    beside = bool(side_by_side(evidence)[max(down, lowest or down)])
    # Up and down from both feet comes down on both at once, in any position. Of other jumps the closing foot may come later by
    # design, unless the feet land side by side.
    if beside or (jump.take_off_feet == "both" and (jump.travel_m or 0.0) < JUMPS.held_travel_m):
        apart, error = abs(times["left"] - times["right"]), 0.5 / evidence.rate_hz
        yield _TIME.on(later).told(landing, apart, (landing.start, down, down), extra_sd=error)
    if lowest is not None and beside and landing.landing_feet == "both":
        yield _unequal_bend(evidence, landing, lowest, later)


def _unequal_bend(evidence: Evidence, landing: Landing, lowest: int, later: str) -> Observation | NotTold | None:
    """Knees at the lowest point of a landing."""
    around = evidence.samples(JUMPS.lowest_s)
    frames = (max(0, lowest - around), min(lowest + around, evidence.frames - 1))
    difference = np.abs(right_minus_left(evidence, name="knee_flexion"))
    return extreme(evidence, _BEND.on(later), landing, Window(difference, frames, moves=False))


_MISSES = Measure("heels-miss-floor", "height", LOWEST, ("heel",), Evidence.heel_mm)
_TOUCHES = Measure("heels-miss-floor", "touches", HIGHEST, ("heel",))


def _landed_heels(evidence: Evidence) -> Iterator[tuple[Landing, str, int, int]]:
    """Heels of the feet that land, with the first and last frame of their time on the floor, where that is long enough."""
    for landing in evidence.landings:
        start, end = _floor_time(evidence, landing)
        if (end - start) / evidence.rate_hz >= JUMPS.floor_time_s:
            for side in SIDES if landing.landing_feet == "both" else (landing.landing_feet,):
                if side in SIDES:
                    yield landing, side, start, end


@over(_landed_heels)
def heels_miss_floor(evidence: Evidence, landed: tuple[Landing, str, int, int]) -> Told:
    """Lowest heel after a landing, and how often it touches the floor before the next jump."""
    landing, side, start, end = landed
    heel = evidence.heel_mm(side)
    part = evidence.steady_part(heel, start, end)
    if np.isfinite(part).mean() < READING.least_known:
        yield _MISSES.on(side).unseen(landing, part_on("heel", side))
        return
    frames = (start, start + int(np.nanargmin(part)), end)
    yield _MISSES.on(side).told(landing, float(np.nanmin(part)), frames, beyond_fault=True)
    touches = _touches(heel[start : end + 1], evidence.samples(JUMPS.touch_s))
    if touches > 1:
        yield _TOUCHES.on(side).told(landing, float(touches), frames)


def _touches(heel: Floats, shortest: int) -> int:
    """How often a heel (K,) comes down, having clearly left the floor in between."""
    down = [(a, b) for a, b in runs(np.nan_to_num(heel, nan=np.inf) < JUMPS.touch_mm) if b - a >= shortest]
    return sum(1 for i, (a, _) in enumerate(down) if i == 0 or np.nanmax(heel[down[i - 1][1] - 1 : a + 1]) > JUMPS.left_mm)


@over(jumps)
def rushed_take_off(evidence: Evidence, jump: Jump) -> Told:
    """Depth of the plié before a jump against the own demi-plié."""
    start = evidence.at(jump.preparation_s)
    before = [landing.start for landing in evidence.landings if landing.start < jump.start]
    if before and (start is None or start < max(before)):
        start = max(before)
    # A jump from a run or a step has another take-off.
    if start is not None and jump.take_off_feet == "both" and jump.start - start <= evidence.samples(JUMPS.prepared_within_s):
        yield from plie_share(evidence, _RUSHED, jump, start, jump.start)


def _same_step(one: Jump, other: Jump, jumps: Sequence[Jump]) -> bool:
    """Whether two jumps are the same step: by their course, or from and to the same feet in one unbroken series."""
    if one.same_as == other.same_as:
        return True
    feet = [(jump.take_off_feet, jump.landing_feet) for jump in (one, other)]
    first, last = sorted((jumps.index(one), jumps.index(other)))
    breaks = [b.start_s - a.end_s for a, b in pairwise(jumps[first : last + 1])]
    return feet[0] == feet[1] and max(breaks) < SERIES.series_s


_LOW = Measure("low-jump", "share", LOWEST, _legs("hip", "ankle"), sided=False)


@over(jumps)
def low_jump(evidence: Evidence, jump: Jump) -> Told:
    """Height of a jump against the own best of the same step."""
    group = [other for other in evidence.jumps if _same_step(jump, other, evidence.jumps)]
    heights = [other.height_m for other in group if other.height_m is not None]
    if len(heights) < 2 or jump.height_m is None:
        return
    apex = evidence.at(jump.apex_s) or (jump.start + jump.end) // 2
    best, frames = max(heights), (jump.start, apex, jump.end)
    yield _LOW.on(jump.side).told(jump, jump.height_m / best, frames, extra_sd=JUMPS.two_heights_sd_m / best)


@made_once
def pointed_share(evidence: Evidence, side: str, own_deg: float) -> Floats:
    """Stretch (F,) of a foot as a share of the own greatest."""
    return evidence.degrees("plantarflexion", side) / own_deg


_POINTED = Measure("feet-not-pointed", "share", HIGHEST, ("ankle", "toe"), pointed_share, lever_m=LEVERS.pointed_foot_m)


def _feet_in_flight(evidence: Evidence) -> Iterator[tuple[Jump, str]]:
    """Both feet of jumps that are long enough to stretch them."""
    for jump in evidence.jumps:
        if (jump.end - jump.start) / evidence.rate_hz >= JUMPS.least_flight_s:
            yield from ((jump, side) for side in SIDES)


_LATE = Measure("feet-not-pointed", "late", HIGHEST, ("ankle", "toe"))


def _stretched_late(evidence: Evidence, jump: Jump, side: str, own_deg: float) -> Observation | None:
    """How long after two fifths of a flight a foot has stretched; None of one that never does, and of a short flight."""
    flight_s = jump.landing_s - jump.take_off_s
    stretch = pointed_share(evidence, side=side, own_deg=own_deg)[jump.start : jump.end + 1]
    reached = np.flatnonzero(stretch >= JUMPS.stretched_share)
    if flight_s < JUMPS.timed_flight_s or not reached.size:
        return None
    frame = jump.start + int(reached[0])
    late_s = frame / evidence.rate_hz - jump.take_off_s - JUMPS.stretched_by * flight_s
    speed = float(np.gradient(stretch)[reached[0]]) * evidence.rate_hz if stretch.size > 1 else 0.0
    # When a foot that hardly moves any more has stretched is known as badly as its own furthest.
    error_s = min(JUMPS.stretch_sd / max(speed, JUMPS.stretch_sd / flight_s), flight_s)
    return _LATE.on(side).told(jump, late_s, (jump.start, frame, jump.end), extra_sd=error_s)


@over(_feet_in_flight)
def feet_not_pointed(evidence: Evidence, flown: tuple[Jump, str]) -> Told:
    """Greatest stretch of the feet in flight against the own greatest, and how late they have it.

    In the part in which it should be there: the push stretches every foot that leaves the floor, also one that is let go then,
    and every foot reaches for the floor before it lands.
    """
    jump, side = flown
    first, last = (jump.start + round(share * (jump.end - jump.start)) for share in (JUMPS.stretched_by, JUMPS.reaches_from))
    own = float(np.degrees(evidence.movement.standing.pointed_rad[SIDES.index(side)]))
    if np.isfinite(own):
        window = Window(pointed_share(evidence, side=side, own_deg=own), (first, last), moves=False)
        yield extreme(evidence, _POINTED.on(side, own_deg=own), jump, window)
        yield _stretched_late(evidence, jump, side, own)


def _feet_under_the_body(evidence: Evidence) -> Iterator[tuple[Jump, str, int]]:
    """Feet of jumps from both feet to both whose legs stay under the body, with the frame of the push."""
    for jump in evidence.jumps:
        push = evidence.at(jump.push_s)
        if push is None or jump.take_off_feet != "both" or jump.landing_feet != "both":
            continue
        for side in SIDES:
            lifted = evidence.degrees("leg_elevation", side)[jump.start : jump.end + 1]
            if np.nanmax(np.append(lifted, 0)) < JUMPS.under_the_body_deg:
                yield jump, side, push


_LOSS = Measure(
    "turnout-lost-in-air", "loss", HIGHEST, ("heel", "toe"), foot_turnout,
    lever_m=LEVERS.foot_m, least_sd=JUMPS.pointed_azimuth_deg,
)  # fmt: skip


@over(_feet_under_the_body)
def turnout_lost_in_air(evidence: Evidence, flown: tuple[Jump, str, int]) -> Told:
    """Turnout of the feet in flight and at landing against the plié of the take-off, in jumps with both legs under the body."""
    jump, side, push = flown
    turnout, around = evidence.degrees("foot_turnout", side), evidence.samples(JUMPS.push_s)
    asked = evidence.before(turnout, push - around, push + around)
    end = min(jump.end + evidence.samples(JUMPS.just_landed_s), evidence.frames - 1)
    yield extreme(evidence, _LOSS.on(side, against=push), jump, Window(asked - turnout, (jump.start, end)))


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


_SETTLING = Measure("landing-off-axis", "settling", HIGHEST, ("pelvis", "toe.L", "toe.R"), sided=False)
_MARGIN = Measure("landing-off-axis", "margin", LOWEST, ("pelvis", "toe.L", "toe.R"), sided=False)


def _held_landings(evidence: Evidence) -> Iterator[tuple[Landing, int]]:
    """Landings that are meant to be held, with their lowest frame: no jump follows soon, and the jump did not travel."""
    for landing in evidence.landings:
        jump, start, lowest = evidence.jump_before(landing), landing.start, evidence.at(landing.lowest_s)
        soon = any(start < other.start < start + evidence.samples(JUMPS.next_jump_s) for other in evidence.jumps)
        shown = start + evidence.samples(JUMPS.shown_s) < evidence.frames
        if jump is not None and lowest is not None and shown and not soon and not (jump.travel_m or 0.0) > JUMPS.held_travel_m:
            yield landing, lowest


@over(_held_landings)
def landing_off_axis(evidence: Evidence, held: tuple[Landing, int]) -> Told:
    """Whether a landing that is meant to be held ends inside the support, and how long the body needs to be still."""
    (landing, lowest), start = held, held[0].start
    velocity = np.gradient(evidence.movement.centre_of_mass_m, axis=0) * evidence.rate_hz
    speed = np.linalg.norm(velocity[start : start + evidence.samples(JUMPS.shown_s) + 1, :2], axis=1)
    still = [a for a, b in runs(speed < JUMPS.still_m_s) if b - a >= evidence.samples(JUMPS.still_for_s)]
    if not still:
        return
    settled = start + still[0]
    yield _SETTLING.on(landing.side).told(landing, still[0] / evidence.rate_hz, (start, settled, settled))
    margin_mm = _margin_mm(evidence, lowest, velocity[lowest])
    if np.isfinite(margin_mm):
        yield _MARGIN.on(landing.side).told(landing, margin_mm, (start, lowest, settled))


def _margin_mm(evidence: Evidence, frame: int, velocity: Floats) -> float:
    """Margin of stability at a frame on the feet that are down, mm; NaN where they or the body are not known."""
    heights, mass = evidence.movement.foot_heights_m[frame].min(axis=1), evidence.movement.centre_of_mass_m[frame]
    points = evidence.movement.foot_points_m[frame, np.nan_to_num(heights, nan=np.inf) < JUMPS.down_m, :, :2].reshape(-1, 2)
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 3 or not np.isfinite(mass).all():
        return float("nan")
    return 1000 * margin_of_stability(mass[:2], velocity[:2], float(mass[2]), points)
