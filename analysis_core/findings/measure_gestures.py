"""Measures of legs that are lifted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.movement import SIDES
from ..phrase.phase import LegGesture, Phase
from ..wording import findings as say
from .evidence import Evidence
from .limits import LEGS, LEVERS, READING
from .observation import NotTold
from .parts_of_measures import knee_bend, right_minus_left, without_ways
from .reading import HIGHEST, Measure, Told, over


def _high(evidence: Evidence, gesture: LegGesture, side: str, peak: int) -> tuple[int, int, bool]:
    """First and last frame in which a leg is at its height, and whether it is held there."""
    elevation = evidence.degrees("leg_elevation", side)
    low = np.flatnonzero(~(elevation >= elevation[peak] - LEGS.held_deg))
    before, after = low[(low >= gesture.start) & (low < peak)], low[(low <= gesture.end) & (low > peak)]
    first = int(before[-1]) + 1 if before.size else gesture.start
    last = int(after[0]) - 1 if after.size else gesture.end
    if last - first >= evidence.samples(LEGS.held_s):
        # A développé still unfolds where the leg has nearly come to its height: that knee is on its way, not bent.
        return *without_ways(knee_bend(evidence, side), (first, last), evidence.rate_hz), True
    around = evidence.samples(LEGS.peak_s)
    return max(peak - around, 0), min(peak + around, evidence.frames - 1), False


def _steps(evidence: Evidence, gesture: Phase, side: str, peak: int) -> bool:
    """Whether a leg that is not lifted high comes down where it was not lifted: a step, or the way into another position."""
    if not evidence.degrees("leg_elevation", side)[peak] < LEGS.high_leg_deg:
        return False
    down = np.flatnonzero(evidence.on(side))
    before, after = down[down < peak], down[down > peak]
    if not before.size or not after.size:
        return False
    moved = evidence.ball(side)[after[0], :2] - evidence.ball(side)[before[-1], :2]
    return bool(np.linalg.norm(moved) > LEGS.step_share * evidence.movement.standing.foot_length_m)


@dataclass(frozen=True)
class Lifted:
    """A gesture of a leg, and the frame of its peak."""

    gesture: LegGesture
    side: str
    peak: int


def _lifted(evidence: Evidence) -> Iterator[Lifted]:
    """Gestures of one leg that have a peak."""
    for gesture in evidence.gestures:
        peak = evidence.at(gesture.peak_s)
        if peak is not None and gesture.side in SIDES:
            yield Lifted(gesture, str(gesture.side), peak)


_WORKING = Measure("knee-bends-working", "flexion", HIGHEST, LEG_JOINTS, knee_bend)


@over(_lifted)
def knee_bends_working(evidence: Evidence, lifted: Lifted) -> Told:
    """Working knee of a leg that is meant to be straight: at its highest point, or all the time that it is held there."""
    gesture, side, bend = lifted.gesture, lifted.side, knee_bend(evidence, lifted.side)
    first, last, held = _high(evidence, gesture, side, lifted.peak)
    part = evidence.steady_part(bend, first, last)
    known = part[np.isfinite(part)]
    if known.size < READING.least_known * part.size:
        yield NotTold(_WORKING.fault, gesture, say.knee_unseen_at_the_height(side))
        return
    # Bent for most of the time it is an attitude or a retiré; a low leg that comes down elsewhere is a step.
    if np.median(known) > LEGS.attitude_deg or _steps(evidence, gesture, side, lifted.peak):
        return
    value = float(np.quantile(known, LEGS.most_of_a_hold) if held else np.mean(known))
    frames = (gesture.start, first + int(np.nanargmin(np.abs(part - value))), gesture.end)
    yield _WORKING.on(side).told(gesture, value, frames, bend[gesture.start : gesture.end + 1])


_HEIGHTS = Measure(
    "uneven-height", "difference", HIGHEST, ("hip.L", "ankle.L", "hip.R", "ankle.R"),
    partial(right_minus_left, name="leg_elevation"), sided=False, lever_m=LEVERS.leg_m,
)  # fmt: skip


def _same_gestures(evidence: Evidence) -> Iterator[dict[str, list[LegGesture]]]:
    """Gestures to one direction, by side, where both legs are lifted."""
    for direction in ("front", "side", "back"):
        legs: dict[str, list[LegGesture]] = {
            side: [g for g in evidence.gestures if g.side == side and g.direction == direction] for side in SIDES
        }
        if all(legs.values()):
            yield legs


@over(_same_gestures)
def uneven_height(evidence: Evidence, legs: dict[str, list[LegGesture]]) -> Told:
    """The same gesture lower on one side than on the other."""
    heights = {side: np.array([g.elevation_deg for g in group]) for side, group in legs.items()}
    # Small swings of a step are no battement.
    least = LEGS.no_swing * max(float(group.max()) for group in heights.values())
    heights = {side: group[group > least] for side, group in heights.items()}
    if not all(group.size for group in heights.values()):
        return
    means = {side: float(group.mean()) for side, group in heights.items()}
    lower = min(means, key=lambda side: means[side])
    phase = min(legs[lower], key=lambda g: abs(g.elevation_deg - means[lower]))
    spread = max((float(np.std(group, ddof=1)) for group in heights.values() if group.size > 1), default=0.0)
    error = spread * float(np.sqrt(2 / min(group.size for group in heights.values())))
    frames = (phase.start, evidence.at(phase.peak_s) or phase.start, phase.end)
    yield _HEIGHTS.on(lower).told(phase, abs(means["left"] - means["right"]), frames, extra_sd=error)
