"""Flights proved by free fall, and the scale that free fall tells (catalogue 6.2 and 6.3)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..body.anatomy import GROWN_M, SIDES, STATURE_SPREAD, USUAL_STATURE_M
from ..body.movement import Movement
from ..runs import runs
from ..take import Floats, Side
from ..units import GRAVITY
from ..wording import capture as say
from .contacts import Feet, find_feet
from .course import Course
from .phase import Phase, Phrase
from .signals import at, derivative
from .upright import stands

# Limits of catalogue 6.2, proposed defaults without a published norm.
#: Shortest flight, s.
SHORTEST_S = 0.06
#: The centre of mass falls with gravity within this, m/s², during at least this share of the flight.
GRAVITY_TOLERANCE = 2.5
FALLING_SHARE = 0.6
#: Feet that leave or meet the ground within this time of each other do so together, s.
TOGETHER_S = 0.06
#: Where the path is too rough for its acceleration, a fitted parabola proves the fall: in a flight of at least this length, s,
#: and rise, m, with the path no further from the parabola than this share of the rise, and gravity within the tolerance;
#: wider for skeletons, whose lengths may be off by a fifth and whose feet time the flight badly.
PARABOLA_SHORTEST_S = 0.12
PARABOLA_LEAST_RISE_M = 0.02
PARABOLA_MISFIT = 0.05
PARABOLA_TOLERANCE = {"markers": 2.5, "skeleton": 4.0}
#: Share of a flight at either end that is left out of the fitted parabola: smoothing carries the push into it.
TRIM = 0.12
#: Window of the acceleration of the centre of mass: share of the flight, and bounds, s: the push must not be smeared into it.
WINDOW_SHARE = 0.3
WINDOW_S = (0.07, 0.15)
#: For the scale: shortest flight that is used, s, and how far the centre of mass may be from its parabola, share of its rise.
SCALE_SHORTEST_S = 0.2
SCALE_MISFIT = 0.08
#: 1 SD, as a share: what one flight tells apart from its misfit (edges, an adult's proportions), and what the size of the body
#: told before. Proposed defaults.
FLIGHT_ERROR = 0.05
BODY_SIZE_ERROR = 0.12
#: A fall that takes a body further from the usual stature than people are (STATURE_SPREAD), and than its file has it, is weighed
#: against it. Of a fall alone no stature beyond GROWN_M is believed, a body that is smaller or taller by its own file may go this
#: much further: it tells of another rate or of a body that was moved. Proposed default.
FURTHER = 1.1
#: The path of the centre of mass holds about this much, Hz (catalogue 3.2: jumps).
SMOOTHED_TO_HZ = 12.0
#: Lengths differ from the true ones by a factor between these when the file has no unit that can be trusted.
SCALE_RANGE = (0.6, 1.6)
#: A wrong rate or unit shows where all of both feet is this far off the floor, m, for so many frames; the share beyond which
#: the fall is doubted.
OFF_THE_FLOOR_M, LEAST_FRAMES, DOUBT_SHARE = 0.012, 8, 0.03
#: ... and in flights that are flights: both feet come at least so far off the floor, m, and the body falls at least so far from
#: the top, m (a flight of 0.2 s): in the small hops of quick steps the feet still push where the body seems to fall. Both are
#: lengths, so that a wrong rate changes nothing. Proposed defaults.
DOUBT_CLEAR_M, DOUBT_LEAST_FALL_M = 0.03, 0.03
#: Where none of them falls so far, flights that fall at least so far, m, tell too, when so many agree that the body falls slower
#: or faster than this share of gravity: no push that goes on under feet so far off the floor leaves so little, none adds to it.
DOUBT_SMALL_FALL_M, DOUBT_SMALL_FLIGHTS, DOUBT_SMALL_SHARES = 0.01, 2, (0.5, 1.3)

#: Fields of a phase that are lengths or speeds end so.
_HANGS_ON_UNITS = ("_m", "_deg_s")


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
    leaving: Side = "both" if abs(offs[0] - offs[1]) <= together else SIDES[int(np.argmax(offs))]
    landing: Side = "both" if abs(ons[0] - ons[1]) <= together else SIDES[int(np.argmin(ons))]
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
    flights = []
    for start, stop in runs(off):
        if start == 0 or stop == off.size:
            continue
        take_off, landing, leaving, landing_on = _edges(feet, start, stop, TOGETHER_S * rate)
        if not np.isfinite(take_off) or not np.isfinite(landing) or landing - take_off < SHORTEST_S * rate:
            continue
        window = float(np.clip(WINDOW_SHARE * (landing - take_off) / rate, *WINDOW_S))
        around = slice(max(0, int(take_off) - round(rate * 0.2)), int(landing) + round(rate * 0.2))
        fall = derivative(path[around], rate, 2, window)
        inside = fall[int(np.ceil(take_off)) - around.start : int(np.floor(landing)) + 1 - around.start]
        share = float(np.mean(np.abs(inside + GRAVITY) <= GRAVITY_TOLERANCE)) if inside.size else 0.0
        gravity, apex, misfit, rise = _free_fall(path, rate, take_off, landing)
        flights.append(Flight(take_off, landing, apex, gravity, share, misfit, rise, leaving, landing_on))
    return tuple(flights)


def find_flights(course: Course) -> tuple[Flight, ...]:
    """Flights proved by free fall: both feet off ≥ 60 ms and the centre of mass falls with gravity for ≥ 60 % of it.

    Or, where a rough path hides its acceleration, a parabola with gravity within the same tolerance fits it closely.
    """

    def proved(item: Flight) -> bool:
        parabola = (
            item.landing - item.take_off >= PARABOLA_SHORTEST_S * course.rate_hz
            and item.rise_m >= PARABOLA_LEAST_RISE_M
            and abs(item.gravity_m_s2 - GRAVITY) <= PARABOLA_TOLERANCE[course.movement.kind]
            and item.misfit_m <= PARABOLA_MISFIT * item.rise_m
        )
        return item.falling_share >= FALLING_SHARE or parabola

    return tuple(item for item in candidate_flights(course.feet, course.movement) if np.isfinite(item.apex) and proved(item))


@dataclass(frozen=True)
class Scale:
    """What free fall says about lengths: multiply them by ``factor``.

    plus_minus: 1 SD of the factor. fall_factor: what the flights alone say. flights: how many were used. why: in words. doubt: a
    sentence where the fall is not believed because nobody is so tall or short.
    """

    factor: float
    plus_minus: float
    fall_factor: float
    flights: int
    why: str
    doubt: str | None


@dataclass(frozen=True)
class Fall:
    """How the flights of a take fall: gravity_m_s2 by all of them, sd_share its 1 SD as a share, flights how many agree."""

    gravity_m_s2: float
    sd_share: float
    flights: int


def _fall_of(usable: list[tuple[float, float, float]]) -> Fall | None:
    """What flights say together, each (gravity m/s², RMS misfit m, fitted time s), by how surely it tells its curvature."""
    if not usable:
        return None
    gravity, misfit, fitted_s = np.array(usable).T
    # Curvature of a fitted parabola: SD = σ·√(180/n)/T² for n independent samples of error σ over the time T.
    independent = np.maximum(3.0, 2.0 * SMOOTHED_TO_HZ * fitted_s)
    error = np.hypot(2.0 * misfit * np.sqrt(180.0 / independent) / fitted_s**2 / gravity, FLIGHT_ERROR)
    weight = 1.0 / error**2
    # The weighted median is one of the flights, so that at least that one stays.
    ranked = np.argsort(gravity)
    middle = gravity[ranked][np.searchsorted(np.cumsum(weight[ranked]), 0.5 * weight.sum())]
    near = np.abs(gravity - middle) <= 0.2 * middle
    logs, weight = np.log(gravity[near]), weight[near]
    said = float(weight @ logs / weight.sum())
    spread = float(weight @ (logs - said) ** 2 / weight.sum() / max(1, logs.size - 1))
    return Fall(float(np.exp(said)), float(np.sqrt(max(1.0 / float(weight.sum()), spread))), int(logs.size))


def scale_from_free_fall(movement: Movement) -> Scale | None:
    """Factor by which all lengths must be multiplied so that flights fall with gravity; None when no flight can tell.

    Weighed against what was concluded from the size of the body beforehand (factor 1 ± 12 %) and against how tall people are,
    which matters when there are one or two flights only. A wrong frame rate changes the same number (by the square of the rates'
    ratio) and cannot be told from a wrong scale by the fall: only the size of the body tells them apart.
    """
    rate = movement.rate_hz
    fall = _fall_of(
        [
            (item.gravity_m_s2, item.misfit_m, (1 - 2 * TRIM) * (item.landing - item.take_off) / rate)
            for item in candidate_flights(find_feet(movement), movement)
            if item.landing - item.take_off >= SCALE_SHORTEST_S * rate
            and SCALE_RANGE[0] <= GRAVITY / max(item.gravity_m_s2, 0.1) <= SCALE_RANGE[1]
            and item.misfit_m <= SCALE_MISFIT * max(item.rise_m, 0.02)
        ]
    )
    if fall is None:
        return None
    said, variance = float(np.log(GRAVITY / fall.gravity_m_s2)), fall.sd_share**2
    stature_m = movement.standing.stature_m
    lowest = GROWN_M[0] if stature_m >= GROWN_M[0] else stature_m / FURTHER
    highest = GROWN_M[1] if stature_m <= GROWN_M[1] else stature_m * FURTHER
    by_fall_m = float(np.exp(said)) * stature_m
    beyond = float(np.nan_to_num(np.log(by_fall_m / np.clip(by_fall_m, lowest, highest))))
    doubt = say.no_body_so_tall(fall.flights, by_fall_m) if beyond else None
    # A fall that is not believed errs at least by what it would make of the body.
    log_factor, together = _weighed(said, variance + beyond**2, stature_m)
    why = say.scale_by_fall(fall.flights, fall.gravity_m_s2, GRAVITY)
    # What the fall and a human body disagree by is not known.
    error = float(np.hypot(np.sqrt(together), log_factor - said if doubt is not None else 0.0))
    factor = float(np.exp(log_factor))
    return Scale(factor, factor * error, float(np.exp(said)), fall.flights, why, doubt)


def _weighed(said: float, variance: float, stature_m: float) -> tuple[float, float]:
    """Logarithm of the factor, and its variance, that the fall (said, its variance) and the size of the body tell together.

    stature_m: of the body as the file has it.
    """
    told, weights = [said, 0.0], [1.0 / variance, 1.0 / BODY_SIZE_ERROR**2]
    log_factor = float(np.average(told, weights=weights))
    usual = np.log(USUAL_STATURE_M / stature_m)
    likely = min(usual - STATURE_SPREAD, 0.0), max(usual + STATURE_SPREAD, 0.0)
    if not likely[0] <= log_factor <= likely[1]:
        told, weights = [*told, float(np.clip(log_factor, *likely))], [*weights, 1.0 / STATURE_SPREAD**2]
        log_factor = float(np.average(told, weights=weights))
    return log_factor, 1.0 / sum(weights)


def _fall_without_floor(movement: Movement) -> Fall | None:
    """How a body falls while both feet are well off the floor, whatever its rate is; None where no flight can tell."""
    rate = movement.rate_hz
    path = movement.centre_of_mass_m[:, 2]
    heights = movement.foot_heights_m + movement.ground_m[:, :, None]
    of_each = np.where(np.isfinite(heights), heights, np.inf).min(axis=2)
    lowest = np.where(np.isfinite(of_each), of_each, -np.inf).min(axis=1)
    far: list[tuple[float, float, float]] = []
    small: list[tuple[float, float, float]] = []
    for start, stop in runs((lowest > OFF_THE_FLOOR_M) & stands(movement)):
        length = stop - start
        if start == 0 or stop == lowest.size or length < LEAST_FRAMES:
            continue
        gravity, apex, misfit, _ = _free_fall(path, rate, float(start), float(stop - 1))
        fitted_s = (1 - 2 * TRIM) * length / rate
        # From the top to either end; a smaller dip is too shallow for its curvature to be trusted.
        fallen = gravity * fitted_s**2 / 8
        clear = lowest[start:stop].max() >= DOUBT_CLEAR_M
        if clear and np.isfinite(apex) and fallen >= DOUBT_SMALL_FALL_M and misfit <= PARABOLA_MISFIT * fallen:
            (far if fallen >= DOUBT_LEAST_FALL_M else small).append((gravity, misfit, fitted_s))
    if far:
        return _fall_of(far)
    fall = _fall_of(small)
    slow, fast = DOUBT_SMALL_SHARES
    told = fall is not None and fall.flights >= DOUBT_SMALL_FLIGHTS and not slow <= fall.gravity_m_s2 / GRAVITY <= fast
    return fall if told else None


def doubt_by_free_fall(movement: Movement) -> str | None:
    """A sentence when the body does not fall as bodies do, so that the rate or the unit must be wrong; None when it does.

    Looks at every flight in which both feet are well off the floor, the hips over them, and the centre of mass follows a
    parabola: that needs no rate to be right; who lies with the feet up does not fly. Source: physics; doubted beyond 3 % (the
    figure that a review is built on) and twice its own error.
    """
    rate = movement.rate_hz
    fall = _fall_without_floor(movement)
    if fall is None:
        return None
    # The proportions of a skeleton, hence its centre of mass, are those of whoever solved it.
    spread = np.hypot(fall.sd_share, 0.0 if movement.kind == "markers" else BODY_SIZE_ERROR)
    if abs(np.log(GRAVITY / fall.gravity_m_s2)) <= 2.0 * np.hypot(DOUBT_SHARE / 2, spread):
        return None
    gravity, lengths = fall.gravity_m_s2, GRAVITY / fall.gravity_m_s2
    would_fit = float(rate * np.sqrt(lengths))
    return say.does_not_fall(fall.flights, gravity, 2 * fall.sd_share * gravity, GRAVITY, would_fit, lengths)


def without_heights_and_speeds(phrase: Phrase) -> Phrase:
    """The same steps without what hangs on a rate or unit that is doubted: lengths, heights and speeds are None (not told)."""

    def without(phase: Phase) -> Phase:
        told: dict[str, Any] = {name: None for name in vars(phase) if name.endswith(_HANGS_ON_UNITS)}
        return replace(phase, **told)

    return replace(phrase, phases=tuple(map(without, phrase.phases)))
