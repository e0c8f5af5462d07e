"""Somebody carries the body: stances that the heights of the feet miss, because feet of a skeleton sink and float."""

from __future__ import annotations

import numpy as np

from ..runs import runs
from ..take import Floats
from ..units import GRAVITY
from .signals import Mask, derivative, from_runs, hysteresis, lasting

#: Above this acceleration of the centre of mass, m/s², the body does not fall: a foot is on the ground. Proposed default.
CARRIED_M_S2 = -0.5 * GRAVITY
#: Window of that acceleration, s.
WINDOW_S = {"markers": 0.08, "skeleton": 0.12}
#: A carrying foot seems to float by less than this, m: on pointe a little, in a skeleton, whose feet are estimates, a lot.
FLOATING_M = {"markers": 0.04, "skeleton": 0.15}
#: Time without any foot that is believed to be an error of the heights, s. Markers time a take-off better than the body does.
SHORTEST_S = {"markers": 0.04, "skeleton": 0.015}
#: Feet that left or will meet the ground this near to such a time carry in it, s.
ADJACENT_S = 0.035
#: ... but not while the other foot is so much lower, m, for so long, s: the weight has gone over to it. Proposed defaults.
LOWER_M, OVER_S = 0.02, 0.06

Stances = list[tuple[float, float]]


def stance_mask(stances: Stances | tuple[tuple[float, float], ...], frames: int) -> Mask:
    """Frames (F,) inside the stances, which are given in frames with fractions."""
    stretches = [(int(np.ceil(on)), min(frames, int(np.floor(off)) + 1)) for on, off in stances]
    return from_runs([(a, b) for a, b in stretches if b > a], frames)


def with_carrying_foot(
    stances: tuple[Stances, Stances], low_m: Floats, known: Mask, com_z_m: Floats, rate_hz: float, kind: str
) -> tuple[Stances, Stances]:
    """Stances of both feet, prolonged or added where neither foot seems to be down although the body does not fall.

    stances: touch-down and lift-off in frames with fractions. low_m (F, 2): lowest point above the ground; known (F, 2).
    com_z_m (F,); where it is NaN nothing is added. A foot that stood just before or will stand just after goes on standing, but
    while the other one is clearly lower; otherwise the lower foot gets a stance of its own.
    """
    frames = low_m.shape[0]
    acceleration = derivative(com_z_m, rate_hz, 2, WINDOW_S[kind])
    off = ~stance_mask(stances[0], frames) & ~stance_mask(stances[1], frames)
    lowest = np.where(known.all(axis=1), low_m.min(axis=1), np.inf)
    missed = off & (acceleration > CARRIED_M_S2) & (lowest < FLOATING_M[kind])
    near, shortest = max(1.5, ADJACENT_S * rate_hz), SHORTEST_S[kind] * rate_hz
    result: tuple[Stances, Stances] = (list(stances[0]), list(stances[1]))
    for start, stop in runs(missed):
        if stop - start < shortest:
            continue
        last = stop - 1.0
        before = [foot for foot in range(2) if any(-near <= end - start <= 1.0 for _, end in result[foot])]
        after = [foot for foot in range(2) if any(-1.0 <= begin - last <= near for begin, _ in result[foot])]
        standing = before or after or [int(np.argmin(np.median(low_m[start:stop], axis=0)))]
        over = [(start + a, start + b) for a, b in runs(_gone_over(low_m[start:stop], standing, OVER_S * rate_hz))]
        goes_on = [(start + a, start + b) for a, b in runs(~from_runs([(a - start, b - start) for a, b in over], stop - start))]
        for foot in standing:
            # What a stance lacks to this time is part of it.
            left = [end for _, end in result[foot] if before and -near <= end - start <= 0.0]
            comes = [begin for begin, _ in result[foot] if not before and 0.0 <= begin - last <= near]
            ends = {start: min([start, *left]), stop: max([last, *comes])}
            result[foot].extend((float(ends.get(a, a)), float(ends.get(b, b - 1))) for a, b in goes_on)
        result[1 - standing[0]].extend((float(a), float(b - 1)) for a, b in over)
    return _joined(result[0], near), _joined(result[1], near)


def _gone_over(low_m: Floats, standing: list[int], shortest: float) -> Mask:
    """Where (K,) of a time without contact, low_m (K, 2), the weight has gone over from the one foot that stood to the other."""
    if len(standing) == 2:
        return np.zeros(len(low_m), dtype=bool)
    higher = low_m[:, standing[0]] - low_m[:, 1 - standing[0]]
    return lasting(hysteresis(higher > LOWER_M, higher <= 0.0), max(1, round(shortest)))


def _joined(stances: Stances, gap: float) -> Stances:
    """Stances in order, those that touch or overlap made one."""
    joined: Stances = []
    for on, off in sorted(stances):
        if joined and on - joined[-1][1] < min(gap, 2.0):
            joined[-1] = (joined[-1][0], max(joined[-1][1], off))
        else:
            joined.append((on, off))
    return joined
