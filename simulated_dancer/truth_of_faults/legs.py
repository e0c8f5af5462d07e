"""Legs and feet (catalogue 5.3)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...analysis_core.body.anatomy import SIDES
from ..score import Step
from .dance import ON_THE_FLOOR_MM, SIDE_BY_SIDE, TOE, Dance, TrueValue, support_of
from .turns import Frames, alone, upright

_REST_AIR_S = 0.2
#: A foot that is about to stand is shaped for the floor.
_ABOUT_TO_STAND_S = 0.2
#: A knee that moves faster than this at an end of a hold is on its way.
_ON_ITS_WAY_DEG_S = 30.0


def legs(dance: Dance) -> Iterator[TrueValue | None]:
    """Pliés, standing knees, lifted legs, feet."""
    for step in dance.of_kind("plie"):
        yield from _plie(dance, step)
    for step in (*dance.of_kind("plie"), *dance.of_kind("landing"), *dance.of_kind("jump")):
        yield from _knee_over_foot(dance, step)
    for step in (*dance.of_kind("plie"), *dance.of_kind("landing")):
        yield from _arches(dance, step)
    for step in (*dance.of_kind("turn"), *dance.of_kind("balance"), *dance.of_kind("leg-gesture")):
        yield from _standing_knee(dance, step)
        yield from _feet(dance, step)
    for step in dance.of_kind("leg-gesture"):
        yield from _working_knee(dance, step)
    yield from _heights(dance)


def bent_frames(dance: Dance, step: Step) -> Frames:
    """Frames of a step that bends: the plié, the landing to its lowest and on to the next push, the push before a jump."""
    if step.kind == "plie":
        return on_two_feet(dance, step)
    if step.kind == "jump":
        return dance.frames(step.moments["bottom_s"] - 0.1, step.start_s)
    return dance.frames(step.start_s, step.end_s + 0.1)


def on_two_feet(dance: Dance, step: Step) -> Frames:
    """Frames of a plié with both feet on the floor, around its bottom."""
    whole = dance.frames(step.start_s, step.end_s)
    both = (dance.down("left") & dance.down("right"))[whole]
    bottom = int(np.argmin(np.abs(dance.time_s[whole] - step.moments["bottom_s"])))
    before, after = np.flatnonzero(~both[:bottom]), np.flatnonzero(~both[bottom:])
    return whole[(before[-1] + 1 if before.size else 0) : (bottom + after[0] if after.size else whole.size)]


def _flat(dance: Dance) -> NDArray[np.bool_]:
    return np.asarray((dance.heel("left") < ON_THE_FLOOR_MM) & (dance.heel("right") < ON_THE_FLOOR_MM))


def _plie(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    m = step.moments
    whole = on_two_feet(dance, step)
    going_down = whole[dance.time_s[whole] <= m["hold_end_s"]]
    bends = [dance.bend(side) for side in SIDES]
    grand = step.facts.get("grand") == "grand"
    for side in SIDES:
        if not grand:
            # A foot that comes to its place over the ball has its heel on the way down, not up.
            flat = going_down[dance.heel(side)[going_down] < ON_THE_FLOOR_MM]
            lifts = going_down[going_down >= flat[0]] if flat.size else going_down
            yield dance.value("heels-lift-in-plie", "height", step, side, dance.heel(side), lifts)
    mean = 0.5 * (bends[0] + bends[1])
    deepest = int(whole[int(np.argmax(mean[whole]))])
    own = np.degrees(float(np.mean(dance.simulation.movement.standing.demi_plie_rad)))
    if not grand and dance.shows(np.where(_flat(dance), np.minimum(*bends), 0.0), own):
        yield dance.value("shallow-plie", "share", step, None, mean / own, np.array([deepest]))
    apart = dance.value("uneven-plie", "bend", step, None, np.abs(bends[0] - bends[1]), np.array([deepest]))
    if apart is not None and step.facts.get("position", "fourth") not in SIDE_BY_SIDE:
        # One foot before the other: the catalogue allows five degrees more.
        apart = replace(apart, limits=(apart.ok[0], apart.ok[1] + 5.0))
    yield apart
    if step.facts.get("position") in SIDE_BY_SIDE:
        feet = 0.5 * (dance.support("left") + dance.support("right"))
        beside = np.sum((dance.joint("pelvis")[:, :2] - feet) * dance.rightward, axis=1)
        yield dance.value("uneven-plie", "shift", step, None, beside - beside[whole[0]], whole, "away")


def _knee_over_foot(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    window = bent_frames(dance, step)
    for side in SIDES:
        bent = window[(dance.bend(side)[window] > 25.0) & dance.down(side)[window]]
        if not bent.size:
            continue
        inside = dance.knee_inside(side)
        yield dance.value("knee-inside-toes", "angle", step, side, inside, bent)
        counted = bent[inside[bent] > 4.0]
        if counted.size:
            yield dance.value("knee-inside-toes", "displacement", step, side, dance.knee_displaced(side), counted)
        middling = bent[(dance.bend(side)[bent] >= 30.0) & (dance.bend(side)[bent] <= 60.0)]
        if step.kind == "plie" and middling.size:
            told = dance.value("foot-forces-turnout", "angle", step, side, inside, middling)
            assert told is not None
            yield replace(told, value=float(np.median(inside[middling])))


def _arches(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    # With the sole on the floor the arch sinks by what its own height lacks.
    window = bent_frames(dance, step)
    for side in SIDES:
        flat = window[np.abs(dance.lifted(side)[window, :TOE]).max(axis=1) < ON_THE_FLOOR_MM]
        if flat.size:
            yield dance.value("foot-wings", "drop", step, side, dance.arch_sunk(side), flat)


def _standing_knee(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    stands, _ = support_of(step)
    bend = dance.bend(stands) - dance.standing("knee_flexion", stands)
    if step.kind == "leg-gesture":
        # From when the leg is off the floor and the standing knee has stretched: the swing's own middle.
        window = dance.frames(step.moments["peak_s"] - 0.1, step.moments["hold_end_s"] + 0.1)
    else:
        window = upright(dance, step)
    yield dance.value("knee-bends-supporting", "flexion", step, stands, bend, window)
    yield dance.value("knee-hyperextends", "beyond", step, stands, -bend, window)


def _feet(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    stands, works = support_of(step)
    if step.kind == "leg-gesture":
        window = dance.frames(step.start_s, step.end_s)
        height = dance.angle("leg_elevation", works)
        # The foot on its way from and to the floor is shaped for the floor.
        lifted = window[height[window] >= 0.8 * height[window].max()]
    else:
        lifted = alone(dance, step)
    if lifted.size:
        first, last = dance.time_s[lifted[0]] + _REST_AIR_S, dance.time_s[lifted[-1]] - _ABOUT_TO_STAND_S
        lifted = lifted[(dance.time_s[lifted] >= first) & (dance.time_s[lifted] <= last)]
    rested = lifted
    if rested.size:
        yield dance.value("foot-sickles", "working", step, works, dance.angle("foot_deviation", works), rested, "least")
    if step.kind == "turn" or step.facts.get("demi_pointe") == "yes":
        up = upright(dance, step)
        yield dance.value("foot-sickles", "supporting", step, stands, dance.angle("foot_deviation", stands), up, "least")


def _working_knee(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    """Bend of the lifted knee: at the peak, or the 90th percentile over a hold: from the knee unfolded until just before
    it bends to go on."""
    _, works = support_of(step)
    lifted = dance.angle("leg_elevation", works)
    bend = dance.bend(works) - dance.standing("knee_flexion", works)
    around = dance.frames(step.start_s, step.end_s)
    peak = int(around[int(np.argmax(lifted[around]))])
    high = around[lifted[around] >= lifted[peak] - 10.0]
    hold = dance.time_s[high[-1]] - dance.time_s[high[0]]
    if hold >= 0.3:
        bends_by = np.diff(bend[high]) / np.diff(dance.time_s[high])
        while bends_by.size and bends_by[0] < -_ON_ITS_WAY_DEG_S:
            high, bends_by = high[1:], bends_by[1:]
        while bends_by.size and bends_by[-1] > _ON_ITS_WAY_DEG_S:
            high, bends_by = high[:-1], bends_by[:-1]
        value, window = float(np.percentile(bend[high], 90)), high
    else:
        window = dance.frames(dance.time_s[peak] - 0.05, dance.time_s[peak] + 0.05)
        value = float(np.mean(bend[window]))
    told = dance.value("knee-bends-working", "flexion", step, works, bend, window)
    assert told is not None
    yield replace(told, value=value)


def _heights(dance: Dance) -> Iterator[TrueValue | None]:
    """How much lower one leg goes than the other where the same step is danced with both."""
    peaks: dict[tuple[str, str], list[float]] = {}
    steps: dict[tuple[str, str], list[Step]] = {}
    for step in dance.of_kind("leg-gesture"):
        _, works = support_of(step)
        lifted = dance.angle("leg_elevation", works)[dance.frames(step.start_s, step.end_s)]
        key = str(step.facts["direction"]), works
        peaks.setdefault(key, []).append(float(lifted.max()))
        steps.setdefault(key, []).append(step)
    for (direction, side), heights in peaks.items():
        other = peaks.get((direction, "left" if side == "right" else "right"))
        if other is None:
            continue
        lower = float(np.mean(other) - np.mean(heights))
        # One number of all of them: told in whichever it is shown.
        first, last = min(s.start_s for s in steps[direction, side]), max(s.end_s for s in steps[direction, side])
        for step in steps[direction, side]:
            peak = step.moments["peak_s"]
            yield TrueValue("uneven-height", "difference", step.id, step.kind, side, first, peak, last, lower)
