"""The body's own fall tells when the feet let it go and when they catch it: toes that trail close over the floor do not.

In a low jump with pointed feet the toes skim the floor for half of the flight. Who falls freely stands on nothing.
"""

from __future__ import annotations

import numpy as np

from ..runs import runs
from ..take import Floats
from ..units import GRAVITY
from .carrying import Stances, stance_mask
from .signals import Mask, derivative

#: The centre of mass falls where it accelerates downwards faster than this, m/s², over this window, s, for this long, s; by a
#: parabola of its own its gravity is within the tolerance, m/s². Proposed defaults.
FALLS_M_S2 = -0.6 * GRAVITY
WINDOW_S = 0.1
SHORTEST_S = 0.06
GRAVITY_TOLERANCE = 2.5
#: Share of that time at either end in which it may still be pushed.
TRIM = 0.2
#: A path that is rougher than this about its parabola, RMS, m, does not time anything.
ROUGHEST_M = 0.002
#: The path has left its parabola where it lies above it by the first and by the second, m, and by so many times its roughness.
#: How fast it goes on leaving tells when it began: a push that fades evenly leaves with the cube of the time.
LEFT_M = (0.0015, 0.005)
TIMES_ROUGH = 3.0
#: A foot that seems to meet the ground so soon after the end of a fall, s, ended it: heights tell a soft contact late.
NEAR_S = 0.03
#: So far around a fall its ends are looked for, s.
REACH_S = 0.2


def _left(height: Floats, limits: tuple[float, float]) -> float | None:
    """When a path began to leave its parabola, in samples from the first of its heights (K,) over it; None when it does not."""
    passed = []
    for limit in limits:
        over = np.flatnonzero(~(height <= limit))
        if not over.size or over[0] == 0 or not np.isfinite(height[over[0]]):
            return None
        before = int(over[0]) - 1
        passed.append(before + float((limit - height[before]) / (height[over[0]] - height[before])))
    near, far = np.cbrt(limits)
    return float(max((passed[0] * far - passed[1] * near) / (far - near), 0.0))


def _ends(path: Floats, start: int, stop: int, rate_hz: float) -> tuple[float, float] | None:
    """Beginning and end (frames with fractions) of the free fall that goes on from one frame to another; None when it is none."""
    rest = int(TRIM * (stop - start))
    core = np.arange(start + rest, stop - rest)
    if core.size < 4 or not np.isfinite(path[core]).all():
        return None
    middle = float(core.mean())
    time = (core - middle) / rate_hz
    if abs(2.0 * float(np.polyfit(time, path[core], 2)[0]) + GRAVITY) > GRAVITY_TOLERANCE:
        return None
    line = np.polyfit(time, path[core] + 0.5 * GRAVITY * time**2, 1)
    reach = round(REACH_S * rate_hz)
    frames = np.arange(max(start - reach, 0), min(stop + reach, path.size))
    away = (frames - middle) / rate_hz
    over = path[frames] - np.polyval(line, away) + 0.5 * GRAVITY * away**2
    rough = float(np.sqrt(np.mean(over[core - frames[0]] ** 2)))
    if rough > ROUGHEST_M:
        return None
    limits = (max(LEFT_M[0], TIMES_ROUGH * rough), max(LEFT_M[1], 2 * TIMES_ROUGH * rough))
    first, last = int(core[0] - frames[0]), int(core[-1] - frames[0])
    before, after = _left(over[: first + 1][::-1], limits), _left(over[last:], limits)
    if before is None or after is None:
        return None
    return float(core[0]) - before, float(core[-1]) + after


def free_falls(path: Floats, off: Mask, rate_hz: float) -> list[tuple[float, float]]:
    """Free falls of the centre of mass, each with its beginning and end in frames with fractions.

    path (F,): its height, metres; off (F,): frames without any foot on the ground: a fall in which there is none is no flight.
    Falls that are cut by the take, that are rough or do not fall with gravity are left out. Source: physics.
    """
    falling = derivative(path, rate_hz, 2, WINDOW_S) < FALLS_M_S2
    found = []
    for start, stop in runs(falling):
        if stop - start >= SHORTEST_S * rate_hz and off[start:stop].any():
            ends = _ends(path, start, stop, rate_hz)
            if ends is not None:
                found.append(ends)
    return found


def _outside(stance: tuple[float, float], begins: float, ends: float) -> Stances:
    """What of a stance lies before and after a fall."""
    on, off = stance
    return [(a, b) for a, b in ((on, min(off, begins)), (max(on, ends), off)) if b > a]


def timed_by_falls(stances: tuple[Stances, Stances], path: Floats, rate_hz: float) -> tuple[Stances, Stances]:
    """Stances of both feet without what of them lies in a free fall, each fall from the last lift-off to the first touch-down.

    A rest of a stance that is too short to stand is left out. stances: touch-down and lift-off in frames with fractions; path
    (F,): height of the centre of mass, NaN where it is not known.
    """
    off = ~stance_mask(stances[0], path.size) & ~stance_mask(stances[1], path.size)
    for begins, ends in free_falls(path, off, rate_hz):
        left, right = (
            [part for stance in side for part in _outside(stance, begins, ends) if part == stance or _stands(part, rate_hz)]
            for side in stances
        )
        stances = _caught(left, right, ends, NEAR_S * rate_hz)
    return stances


def _caught(left: Stances, right: Stances, ends: float, near: float) -> tuple[Stances, Stances]:
    """Stances whose first touch-down is the end of a fall; those that follow it within so many frames come as much earlier."""
    late = min([on - ends for on, _ in (*left, *right) if ends <= on <= ends + near], default=0.0)
    moved = [[(on - late if ends <= on <= ends + near else on, off) for on, off in side] for side in (left, right)]
    return moved[0], moved[1]


def _stands(part: tuple[float, float], rate_hz: float) -> bool:
    return part[1] - part[0] >= SHORTEST_S * rate_hz
