"""Flights proved by free fall, and the scale that free fall tells (catalogue 6.2 and 6.3)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..body.movement import Movement
from ..take import Floats, Side
from ..units import GRAVITY
from .contacts import Feet, find_feet
from .course import FOOT_SIDES, Course
from .signals import at, derivative, runs

# Limits of catalogue 6.2, proposed defaults without a published norm.
#: Shortest flight, s.
SHORTEST_S = 0.06
#: The centre of mass falls with gravity within this, m/s², during at least this share of the flight.
GRAVITY_TOLERANCE = 2.5
FALLING_SHARE = 0.6
#: Feet that leave or meet the ground within this time of each other do so together, s.
TOGETHER_S = 0.06
#: Share of a flight at either end that is left out of the fitted parabola: smoothing carries the push into it.
TRIM = 0.12
#: Window of the acceleration of the centre of mass, s: short flights must not be smeared by the push.
ACCELERATION_WINDOW_S = 0.07
#: For the scale: shortest flight that is used, s, and how far the centre of mass may be from its parabola, share of its rise.
SCALE_SHORTEST_S = 0.2
SCALE_MISFIT = 0.08
#: Lengths differ from the true ones by a factor between these when the file has no unit that can be trusted.
SCALE_RANGE = (0.6, 1.6)


@dataclass(frozen=True)
class Flight:
    """A time with both feet off the ground; take_off, landing and apex in frames with fractions.

    gravity_m_s2: fitted to the path of the centre of mass, positive down. falling_share: of the flight in which its
    acceleration is gravity. misfit_m: RMS distance from the parabola. rise_m: from take-off to apex. feet as they leave and land.
    """

    take_off: float
    landing: float
    apex: float
    gravity_m_s2: float
    falling_share: float
    misfit_m: float
    rise_m: float
    take_off_feet: Side
    landing_feet: Side


def _edges(feet: Feet, start: int, stop: int, together: float) -> tuple[float, float, Side, Side]:
    """Take-off and landing (frames with fractions) of a time without contact, and the feet that leave and land."""
    offs = [max((off for _, off in feet.stances[foot] if off <= stop), default=-np.inf) for foot in range(2)]
    ons = [min((on for on, _ in feet.stances[foot] if on >= start - 1), default=np.inf) for foot in range(2)]
    leaving: Side = "both" if abs(offs[0] - offs[1]) <= together else FOOT_SIDES[int(np.argmax(offs))]
    landing: Side = "both" if abs(ons[0] - ons[1]) <= together else FOOT_SIDES[int(np.argmin(ons))]
    return max(offs), min(ons), leaving, landing


def _free_fall(path: Floats, rate_hz: float, take_off: float, landing: float) -> tuple[float, float, float, float]:
    """Gravity, apex (frame), RMS misfit and rise above the take-off of the parabola through a flight; NaN when too short."""
    length = landing - take_off
    first, last = int(np.ceil(take_off + TRIM * length)), int(np.floor(landing - TRIM * length)) + 1
    place = np.arange(first, last)
    height = path[first:last]
    known = np.isfinite(height)
    if known.sum() < 4:
        return float("nan"), float("nan"), float("nan"), float("nan")
    time = (place - 0.5 * (take_off + landing)) / rate_hz
    parabola = np.polyfit(time[known], height[known], 2)
    gravity = -2.0 * float(parabola[0])
    misfit = float(np.sqrt(np.mean((np.polyval(parabola, time[known]) - height[known]) ** 2)))
    if gravity <= 0:
        return gravity, float("nan"), misfit, float("nan")
    summit = float(parabola[1]) / gravity
    apex = float(np.clip(summit * rate_hz + 0.5 * (take_off + landing), take_off, landing))
    top = float(np.polyval(parabola, (apex - 0.5 * (take_off + landing)) / rate_hz))
    return gravity, apex, misfit, top - at(path, take_off)


def candidate_flights(feet: Feet, movement: Movement) -> tuple[Flight, ...]:
    """Every time of at least 60 ms with both feet seen off the ground, with what its centre of mass does; not yet proved.

    Flights that are cut by the start or the end of the take are left out: their take-off or landing is not in it.
    """
    rate = movement.rate_hz
    off = ~feet.on.any(axis=1) & feet.known.all(axis=1)
    path = movement.centre_of_mass_m[:, 2]
    acceleration = derivative(path, rate, 2, ACCELERATION_WINDOW_S)
    flights = []
    for start, stop in runs(off):
        if start == 0 or stop == off.size:
            continue
        take_off, landing, leaving, landing_on = _edges(feet, start, stop, TOGETHER_S * rate)
        if not np.isfinite(take_off) or not np.isfinite(landing) or landing - take_off < SHORTEST_S * rate:
            continue
        inside = acceleration[int(np.ceil(take_off)) : int(np.floor(landing)) + 1]
        share = float(np.mean(np.abs(inside + GRAVITY) <= GRAVITY_TOLERANCE)) if inside.size else 0.0
        gravity, apex, misfit, rise = _free_fall(path, rate, take_off, landing)
        flights.append(Flight(take_off, landing, apex, gravity, share, misfit, rise, leaving, landing_on))
    return tuple(flights)


def find_flights(course: Course) -> tuple[Flight, ...]:
    """Flights proved by free fall: both feet off ≥ 60 ms and the centre of mass falls with gravity for ≥ 60 % of it."""
    flights = candidate_flights(course.feet, course.movement)
    return tuple(item for item in flights if item.falling_share >= FALLING_SHARE and np.isfinite(item.apex))


@dataclass(frozen=True)
class Scale:
    """What free fall says about lengths: multiply them by ``factor``; ± ``plus_minus`` (1 SD of the mean); flights used; why."""

    factor: float
    plus_minus: float
    flights: int
    why: str


def scale_from_free_fall(movement: Movement) -> Scale | None:
    """Factor by which all lengths must be multiplied so that flights fall with gravity; None when no flight can tell.

    Uses every time of ≥ 0.2 s with both feet off in which the centre of mass follows a parabola (weight: length of the
    flight to the fourth, the precision of its curvature). A wrong frame rate changes the same number (by the square of the
    rates' ratio) and cannot be told from a wrong scale by the fall alone: only the size of the body tells them apart.
    """
    usable = [
        item
        for item in candidate_flights(find_feet(movement), movement)
        if item.landing - item.take_off >= SCALE_SHORTEST_S * movement.rate_hz
        and SCALE_RANGE[0] <= GRAVITY / max(item.gravity_m_s2, 0.1) <= SCALE_RANGE[1]
        and item.misfit_m <= SCALE_MISFIT * max(item.rise_m, 0.02)
    ]
    if not usable:
        return None
    gravity = np.array([item.gravity_m_s2 for item in usable])
    weight = np.array([(item.landing - item.take_off) ** 4 for item in usable])
    middle = np.median(gravity)
    near = np.abs(gravity - middle) <= 0.2 * middle
    gravity, weight = gravity[near], weight[near] / weight[near].sum()
    mean = float(weight @ gravity)
    # One flight alone shows no spread: a tenth is what smoothing and an adult's proportions may do to it.
    spread = float(np.sqrt(weight @ (gravity - mean) ** 2 / (gravity.size - 1))) if gravity.size > 1 else 0.1 * mean
    factor = GRAVITY / mean
    why = (
        f"{gravity.size} flight{'s' if gravity.size != 1 else ''} fall with {mean:.2f} m/s² where gravity is {GRAVITY:.2f}; "
        "a wrong frame rate would look the same: compare the body's height"
    )
    return Scale(factor, factor * spread / mean, int(gravity.size), why)
