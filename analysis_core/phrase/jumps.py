"""Jumps and their landings, from flights that free fall has proved (catalogue 6.2 to 6.4)."""

from __future__ import annotations

import numpy as np

from ..units import GRAVITY
from .course import Course
from .flight import Flight
from .phase import FoundJump, FoundLanding, Jump
from .signals import at

#: After a landing the body has recovered when its centre of mass is slower than this, m/s (catalogue 6.4), for this long, s.
RECOVERED_M_S = 0.10
RECOVERED_FOR_S = 0.1
#: A landing that never comes to rest is followed this long, s; its lowest point is sought within the shorter time.
LONGEST_LANDING_S = 1.5
LOWEST_WITHIN_S = 0.7
#: A landing whose lowest point lies closer than this, s, to the end of the take may go on sinking after it: it is left out, as
#: flights are that the end cuts. Proposed default: the reach of the smoothing there.
CUT_WITHIN_S = 0.1
#: The body still sinks while its centre of mass moves faster than this, m/s.
SINKING_M_S = -0.03
#: The bend before the push begins at most this long before the take-off, s.
LONGEST_PUSH_S = 1.2


def _push(course: Course, flight: Flight, earliest: int) -> tuple[int, int]:
    """Frames at which the bend before a take-off begins and is deepest."""
    take_off = int(flight.take_off)
    first = max(earliest, take_off - course.samples(LONGEST_PUSH_S))
    height = course.com_m[first : take_off + 1, 2]
    if height.size < 2 or not np.isfinite(height).any():
        return take_off, take_off
    # Back from the take-off along the rise, then along the descent before it.
    speed = course.com_velocity_m_s[first : take_off + 1, 2]
    sinking = np.flatnonzero(~(speed > 0))
    bottom = int(sinking[-1]) if sinking.size else 0
    rising = np.flatnonzero(speed[: bottom + 1] > 0.02)
    begin = int(rising[-1]) + 1 if rising.size else 0
    return first + min(begin, bottom), first + bottom


def find_jumps(course: Course, flights: tuple[Flight, ...]) -> tuple[FoundJump, ...]:
    """One phase per flight, from take-off to landing; height from the centre of mass (catalogue M23)."""
    rate = course.rate_hz
    jumps = []
    path = course.movement.centre_of_mass_m
    for index, flight in enumerate(flights):
        previous = int(flights[index - 1].landing) if index else 0
        begin, bottom = _push(course, flight, previous)
        time = (flight.landing - flight.take_off) / rate
        first, last = round(flight.take_off), round(flight.landing)
        travel = path[min(last, course.frames - 1), :2] - path[first, :2]
        turned = course.yaw_rad[min(last, course.frames - 1)] - course.yaw_rad[first]
        jumps.append(
            FoundJump(
                side=flight.landing_feet,
                start=first,
                end=last,
                start_s=flight.take_off / rate,
                end_s=flight.landing / rate,
                height_m=flight.rise_m,
                height_by_time_m=GRAVITY * time**2 / 8.0,
                flight_s=time,
                take_off_s=flight.take_off / rate,
                landing_s=flight.landing / rate,
                apex_s=flight.apex / rate,
                fitted_gravity=flight.gravity_m_s2,
                falling_share=flight.falling_share,
                take_off_feet=flight.take_off_feet,
                landing_feet=flight.landing_feet,
                preparation_s=begin / rate,
                push_s=bottom / rate,
                travel_m=float(np.linalg.norm(travel)),
                turned_deg=float(np.degrees(turned)) if course.turns_counted[first : last + 1].all() else None,
            )
        )
    return tuple(jumps)


def find_landings(course: Course, jumps: tuple[Jump, ...]) -> tuple[FoundLanding, ...]:
    """The landing of every jump, from contact to recovery or the next take-off.

    lowest_s is where the centre of mass is lowest; recovered_s is None when it never rests. Landings that the end of the take
    cuts are left out: how deep they go is not in it.
    """
    rate = course.rate_hz
    landings = []
    for index, jump in enumerate(jumps):
        start = jump.end
        limit = jumps[index + 1].start if index + 1 < len(jumps) else course.frames - 1
        stop = min(limit, start + course.samples(LONGEST_LANDING_S))
        reach = min(stop, start + course.samples(LOWEST_WITHIN_S))
        speed_up = course.com_velocity_m_s[start : reach + 1, 2]
        if stop <= start or not np.isfinite(speed_up).any():
            continue
        # The first time the sinking has stopped; one sample after contact at the earliest.
        stopped = np.flatnonzero(speed_up[1:] >= SINKING_M_S)
        lowest = start + 1 + int(stopped[0]) if stopped.size else start + int(np.nanargmin(course.com_m[start : reach + 1, 2]))
        if lowest + course.samples(CUT_WITHIN_S) >= course.frames:
            continue
        slow = course.com_speed_m_s[lowest : stop + 1] < RECOVERED_M_S
        # At the lowest point itself the body is slow for a moment: recovery lasts.
        needed = course.samples(RECOVERED_FOR_S)
        calm = np.convolve(slow, np.ones(needed), mode="valid") >= needed - 0.5 if slow.size >= needed else np.zeros(0)
        calm_at = np.flatnonzero(calm)
        recovered = lowest + int(calm_at[0]) if calm_at.size else None
        end = recovered if recovered is not None else stop
        path = course.movement.centre_of_mass_m[:, 2]
        at_contact = at(path, jump.landing_s * rate)
        rose = jump.height_m is not None and jump.height_m > 0
        landings.append(
            FoundLanding(
                side=jump.side,
                start=start,
                end=max(end, lowest),
                start_s=start / rate,
                end_s=max(end, lowest) / rate,
                jump=jump.id,
                lowest_s=lowest / rate,
                recovered_s=None if recovered is None else recovered / rate,
                landing_feet=jump.landing_feet,
                stopping_m=at_contact - float(path[lowest]),
                fall_m=at(path, jump.apex_s * rate) - at_contact if rose else None,
            )
        )
    return tuple(landings)
