"""Jumps and landings (catalogue 5.4)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy.spatial import ConvexHull

from ...analysis_core.body.anatomy import SIDES
from ..score import Step
from .dance import ON_THE_FLOOR_MM, SIDE_BY_SIDE, Dance, TrueValue

#: The sole reaches this far beyond the markers of the foot (catalogue M21).
_OUTLINE_MM = 10.0


def jumps(dance: Dance) -> Iterator[TrueValue | None]:
    """Take-offs, flights and landings."""
    for step in dance.of_kind("jump"):
        yield from _take_off(dance, step)
        yield from _flight(dance, step)
    for step in dance.of_kind("landing"):
        yield from _landing(dance, step)
        yield from _heels(dance, step)
        yield _margin(dance, step)


def _own_plie(dance: Dance) -> float:
    return float(np.degrees(np.mean(dance.simulation.movement.standing.demi_plie_rad)))


def _take_off(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    before = dance.frames(step.moments["bottom_s"] - 0.25, step.start_s)
    mean = 0.5 * (dance.bend("left") + dance.bend("right")) / _own_plie(dance)
    yield dance.value("rushed-take-off", "share", step, None, mean, before)


def _flight(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    flight = dance.frames(step.moments["take_off_s"], step.moments["landing_s"])
    for i, side in enumerate(SIDES):
        own = np.degrees(float(dance.simulation.movement.standing.pointed_rad[i]))
        off, land = step.moments["take_off_s"], step.moments["landing_s"]
        middle = dance.frames(off + 0.4 * (land - off), off + 0.8 * (land - off))
        yield dance.value("feet-not-pointed", "share", step, side, dance.angle("plantarflexion", side) / own, middle)
        reached = dance.rises_at(dance.angle("plantarflexion", side), 0.9 * own, off, land)
        if reached is not None and land - off >= 0.25:
            late = reached - off - 0.4 * (land - off)
            yield TrueValue("feet-not-pointed", "late", step.id, "jump", side, off, reached, land, late)
        out = dance.foot_out(side)
        loss = dance.at(out, step.moments["bottom_s"]) - out
        yield dance.value("turnout-lost-in-air", "loss", step, side, loss, flight)


def _touches(dance: Dance, step: Step, side: str) -> float:
    """When this foot comes down."""
    around = dance.frames(step.start_s - 0.1, step.start_s + 0.25)
    up = around[~dance.down(side)[around]]
    return float(dance.time_s[min(up[-1] + 1, dance.time_s.size - 1)]) if up.size else step.start_s


def _landing(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    touched = {side: _touches(dance, step, side) for side in SIDES}
    contact = min(touched.values())
    jump = max((s for s in dance.of_kind("jump") if s.start_s < step.start_s), key=lambda s: s.start_s)
    height = dance.mass[:, 2]
    after = dance.frames(contact, contact + 0.6)
    # The first lowest point: what comes after a wait is the next push.
    falling = np.flatnonzero(np.diff(height[after]) >= 0.0)
    lowest = int(after[int(falling[0])]) if falling.size else int(after[-1])
    top = height[dance.frames(jump.start_s, step.start_s)].max()
    # The mean force is exact from the moment that it begins (catalogue M24): toes that touch before that carry nothing.
    caught = dance.at(height, step.start_s)
    fall, stop = top - caught, caught - height[lowest]
    yield dance.value("heavy-landing", "load", step, None, np.full(height.size, 1.0 + fall / stop), np.array([lowest]))
    landed = dance.frames(contact, contact + 0.5)
    mean = 0.5 * (dance.bend("left") + dance.bend("right"))
    before_push = landed[dance.time_s[landed] <= _next_take_off(dance, step)]
    yield dance.value("stiff-landing", "share", step, None, mean / _own_plie(dance), before_push)
    apart = np.abs(dance.bend("left") - dance.bend("right"))
    deepest = int(before_push[int(np.argmax(mean[before_push]))])
    later = max(touched, key=lambda side: touched[side])
    yield dance.value("uneven-landing", "bend", step, None, apart, np.array([deepest]))
    late = abs(touched["left"] - touched["right"])
    # In fifth the closing foot comes later by design.
    if step.facts.get("position") in SIDE_BY_SIDE:
        yield TrueValue("uneven-landing", "time", step.id, "landing", later, contact, contact, float(dance.time_s[lowest]), late)


def _margin(dance: Dance, step: Step) -> TrueValue | None:
    """Least distance of the extrapolated centre of mass to the edge of the support (M21), inside positive.

    From the lowest point on: while a landing is on the balls alone the base is a strip that every landing body passes over.
    """
    later = [s for s in dance.steps if s.start_s > step.start_s and s.kind not in ("static", "landing")]
    # The push to the next jump is not the landing any more.
    following = [s.moments.get("bottom_s", s.start_s) for s in later]
    window = dance.frames(step.moments["lowest_s"], min([step.start_s + 1.5, *following]))
    speed = np.gradient(dance.mass[:, :2], dance.time_s, axis=0)
    ahead = dance.mass[:, :2] + speed / np.sqrt(9810.0 / dance.mass[:, 2:])
    margins = np.full(dance.time_s.size, np.nan)
    for i in window:
        points = [dance.foot(side)[i][dance.lifted(side)[i] < ON_THE_FLOOR_MM][:, :2] for side in SIDES]
        touching = np.concatenate(points)
        if len(touching) >= 3:
            edges = ConvexHull(touching).equations
            margins[i] = _OUTLINE_MM - float(np.max(edges[:, :2] @ ahead[i] + edges[:, 2]))
    return dance.value("landing-off-axis", "margin", step, None, margins, window, "least")


def _next_take_off(dance: Dance, step: Step) -> float:
    return min((s.start_s for s in dance.of_kind("jump") if s.start_s > step.start_s), default=float(dance.time_s[-1]))


def _heels(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    """Lowest heel while the dancer is on the floor, and how often it touches."""
    ends = min(_next_take_off(dance, step), step.start_s + 1.0)
    stance = dance.frames(step.start_s, ends)
    for side in SIDES:
        heel = dance.heel(side)
        yield dance.value("heels-miss-floor", "height", step, side, heel, stance, "least")
        touching = np.concatenate([[0], (heel[stance] < 10.0).astype(int), [0]])
        starts, stops = np.flatnonzero(np.diff(touching) > 0), np.flatnonzero(np.diff(touching) < 0)
        frame_s = float(np.median(np.diff(dance.time_s)))
        count = float(np.sum((stops - starts) * frame_s >= 0.03))
        if count:
            yield dance.value("heels-miss-floor", "touches", step, side, np.full(heel.size, count), stance)
