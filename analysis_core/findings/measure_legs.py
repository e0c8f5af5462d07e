"""Measures of knees, feet and pliés."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import SIDE_SUFFIXES
from ..body.angles import knee_direction, medial_knee_displacement
from ..body.geometry import unit
from ..body.movement import SIDE_SIGNS, SIDES, RecordedMovement
from ..known import nothing_known_gives_nan
from ..phrase.phase import Balance, Jump, LegGesture, Phase, Plie, Releve, Turn
from ..runs import runs
from ..take import Floats
from ..wording import findings as say
from .evidence import OTHER, Evidence, Pirouette, made_once
from .limits import LEGS, LEVERS, READING, STEPS
from .observation import NotTold, Observation
from .reading import FURTHEST, HIGHEST, LOWEST, Measure, Reading, Told, Window, extreme, over

_LEG = ("hip", "knee", "ankle")
_BOTH_LEGS = tuple(name + suffix for suffix in SIDE_SUFFIXES for name in _LEG)
_BOTH_FEET = tuple(name + suffix for suffix in SIDE_SUFFIXES for name in ("heel", "toe"))


@dataclass(frozen=True)
class Standing:
    """A step on a leg. frames: those in which the leg is looked at."""

    phase: Phase
    side: str
    frames: tuple[int, int]


def knee_bend(evidence: Evidence, side: str) -> Floats:
    """Bend (F,) of a knee against standing, degrees."""
    return evidence.change("knee_flexion", side)


def _leg(evidence: Evidence, side: str) -> tuple[Floats, Floats, Floats]:
    return evidence.joint("hip", side), evidence.joint("knee", side), evidence.joint("ankle", side)


def _fully_up(evidence: Evidence) -> dict[str, tuple[int, int]]:
    """Frames in which turns on one foot stand fully up, by their id."""
    return {turn.phase.id: (turn.rise, turn.sink) for turn in evidence.turns}


def _standing_legs(evidence: Evidence) -> Iterator[Standing]:
    """Standing legs of turns while fully up, balances, gestures and stands."""
    turns = _fully_up(evidence)
    for phase in evidence.phrase.phases:
        if phase.kind in ("balance", "static", "leg-gesture") or phase.id in turns:
            for side in evidence.supports(phase):
                yield Standing(phase, side, turns.get(phase.id, (phase.start, phase.end)))


_BEYOND = Measure("knee-hyperextends", "beyond", HIGHEST, _LEG, knee_bend)


@over(_standing_legs)
def knee_hyperextends(evidence: Evidence, leg: Standing) -> Told:
    """Standing knee beyond its own straight in standing."""
    # Of a standing in the phrase nobody knows whether it was straight.
    doubt = 0.0 if evidence.movement.standing.from_static else LEGS.absolute_knee_deg
    window = Window(-knee_bend(evidence, leg.side), leg.frames, moves=False)
    yield extreme(evidence, _BEYOND.on(leg.side, extra_sd=doubt), leg.phase, window)


@made_once
def knee_against_foot(evidence: Evidence, side: str) -> Floats:
    """Foot direction minus knee direction (F,), degrees, + = knee inside the foot; source: catalogue M04."""
    hip, knee, ankle = _leg(evidence, side)
    sign = SIDE_SIGNS[SIDES.index(side)]
    forward = evidence.movement.segment("pelvis")[:, :, 0]
    direction = knee_direction(hip, knee, ankle, forward, sign)
    apart = evidence.degrees("foot_turnout", side) - np.degrees(direction.azimuth)
    return np.asarray((apart + 180) % 360 - 180)


@made_once
def _across_deg(evidence: Evidence, side: str) -> Floats:
    """1-SD error (F,) of the direction of a knee of a solved skeleton, degrees; markers tell their own (0)."""
    if isinstance(evidence.movement, RecordedMovement):
        return np.zeros(evidence.frames)
    return _direction_sd(evidence, side)


@made_once
def _direction_sd(evidence: Evidence, side: str) -> Floats:
    """1-SD error (F,) of the direction of a knee, degrees, by how far it stands off the line from hip to ankle; source: M03."""
    hip, knee, ankle = _leg(evidence, side)
    direction = knee_direction(hip, knee, ankle, evidence.movement.segment("pelvis")[:, :, 0], SIDE_SIGNS[SIDES.index(side)])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.nan_to_num(np.degrees(np.arctan(LEGS.across_m / direction.distance_m))))


@made_once
def knee_inside_mm(evidence: Evidence, side: str) -> Floats:
    """Knee (F,) inside the vertical plane through the ankle along the foot, mm; source: catalogue M05."""
    _, knee, ankle = _leg(evidence, side)
    foot = evidence.movement.foot_line(side)
    return 1000 * medial_knee_displacement(knee, ankle, foot, SIDE_SIGNS[SIDES.index(side)])


_INSIDE = Measure("knee-inside-toes", "angle", HIGHEST, (*_LEG, "toe"), knee_against_foot)
_PLACE = Measure("knee-inside-toes", "displacement", HIGHEST, (*_LEG, "toe"), knee_inside_mm)


def _bent_legs(evidence: Evidence) -> Iterator[Standing]:
    """Legs that stand during a plié or a landing."""
    for side in SIDES:
        for phase in evidence.judged("plie", "landing"):
            if phase.feet in (side, "both"):
                yield Standing(phase, side, (phase.start, phase.end))


def _deep(evidence: Evidence, leg: Standing) -> NDArray[np.bool_] | None:
    """Frames (F,) in which a leg is bent for the greatest part of its way and its foot flat; None of a leg that is not seen."""
    bend = evidence.degrees("knee_flexion", leg.side)
    part = bend[leg.phase.start : leg.phase.end + 1]
    if not np.isfinite(part).any():
        return None
    deep = bend > max(LEGS.clearly_bent_deg, LEGS.deep * np.nanmax(part))
    return np.asarray(deep & evidence.on(leg.side) & ~(evidence.heel_mm(leg.side) >= STEPS.risen_mm))


@over(_bent_legs)
def knee_inside_toes(evidence: Evidence, leg: Standing) -> Told:
    """Knee inside the line of the foot while it is bent, in pliés and landings."""
    phase, side, deep = leg.phase, leg.side, _deep(evidence, leg)
    if deep is None:
        yield NotTold(_INSIDE.fault, phase, say.not_seen(f"the {side} leg"))
        return
    apart, displacement = knee_against_foot(evidence, side), knee_inside_mm(evidence, side)
    bent = np.where(evidence.degrees("knee_flexion", side) > LEGS.least_bend_deg, apart, np.nan)
    told = extreme(evidence, _INSIDE.on(side), phase, Window(apart, leg.frames, deep))
    yield _with_course(told, bent, _across_deg(evidence, side))
    # The foot of a skeleton is too rough for a place across it; the directions of leg and foot serve (catalogue).
    if evidence.movement.kind != "skeleton":
        # Beyond its own error, of knee and foot: a leg that leans is no knee that is turned in.
        apart_sd = np.hypot(_direction_sd(evidence, side), LEGS.absolute_turnout_deg)
        turned_in = deep & (apart - apart_sd > LEGS.turned_in_deg)
        told = extreme(evidence, _PLACE.on(side), phase, Window(displacement, leg.frames, turned_in))
        yield _with_course(told, displacement) if isinstance(told, Observation) else None


def _with_course(told: Observation | NotTold | None, curve: Floats, error: Floats | None = None) -> Observation | NotTold | None:
    """The whole course in place of the part that was searched, and an error (F,) at the decisive frame on top."""
    if not isinstance(told, Observation):
        return told
    extra = told.extra_sd if error is None else float(np.hypot(told.extra_sd, error[told.peak]))
    return replace(told, curve=curve[told.start : told.end + 1], extra_sd=extra)


def turnout_of_both(evidence: Evidence) -> Floats:
    """Turnout (F,) of both feet together, degrees."""
    return evidence.degrees("foot_turnout", "left") + evidence.degrees("foot_turnout", "right")


_BEYOND_HIPS = Measure(
    "foot-forces-turnout", "beyond_hips", HIGHEST, _BOTH_FEET, turnout_of_both, sided=False,
    lever_m=LEVERS.foot_m, extra_sd=LEGS.absolute_turnout_deg,
)  # fmt: skip
_FORCED = Measure("foot-forces-turnout", "angle", HIGHEST, ("knee", "ankle", "toe"), knee_against_foot)


def foot_forces_turnout(evidence: Evidence) -> Told:
    """Foot turned out beyond the knee from the first bend on and all through the plié, on both ways; and beyond the hips."""
    yield from _beyond_the_hips(evidence)
    yield from _forced_legs(evidence)


def _standing_plies(evidence: Evidence) -> tuple[Plie, ...]:
    """Pliés on two feet that stand flat from beginning to end."""
    return tuple(plie for plie in evidence.plies if plie.support == "both" and evidence.stands(plie))


@over(_standing_plies)
def _beyond_the_hips(evidence: Evidence, plie: Plie) -> Told:
    """Turnout of both feet against what the hips have by a measured range."""
    passive = float(np.degrees(evidence.movement.standing.passive_turnout_rad.sum()))
    if np.isfinite(passive):
        window = Window(turnout_of_both(evidence) - passive, (plie.start, plie.start + evidence.samples(LEGS.settled_s)))
        yield extreme(evidence, _BEYOND_HIPS.on(), plie, window)


def _plie_legs(evidence: Evidence) -> Iterator[Standing]:
    """Legs of pliés."""
    for side in SIDES:
        for plie in evidence.plies:
            if plie.feet in (side, "both"):
                yield Standing(plie, side, (plie.start, plie.end))


@over(_plie_legs)
def _forced_legs(evidence: Evidence, leg: Standing) -> Told:
    """A foot that points outside the knee already while it bends."""
    phase, side, part = leg.phase, leg.side, slice(leg.phase.start, leg.phase.end + 1)
    apart, bend = knee_against_foot(evidence, side)[part], evidence.degrees("knee_flexion", side)[part]
    bent = bend > LEGS.bending_deg
    early = np.flatnonzero(bent & (bend < LEGS.bent_deg))
    with nothing_known_gives_nan():
        turnout = np.nanmedian(evidence.degrees("foot_turnout", side)[part])
        screwed, widest = float(np.nanmedian(apart[early])), np.nanmax(apart[bent], initial=-np.inf)
    if not np.isfinite(apart).any() or early.size < evidence.samples(LEGS.early_s) or turnout < LEGS.least_turnout_deg:
        return
    # A knee that falls in only when the bend gets deep is not a forced foot.
    if widest > LEGS.falls_in * max(screwed, LEGS.least_screw_deg):
        return
    peak = phase.start + int(early[0])
    error = LEGS.error_of_a_median * float(_across_deg(evidence, side)[peak])
    yield _FORCED.on(side).told(phase, screwed, (phase.start, peak, phase.end), np.where(bent, apart, np.nan), extra_sd=error)


def _in_the_air(evidence: Evidence, side: str) -> NDArray[np.bool_]:
    """Frames (F,) in which a foot has left the floor for some time, and is not about to come back to it."""
    return np.asarray(_shrunk(~evidence.on(side), evidence.samples(LEGS.in_the_air_s), evidence.samples(LEGS.back_s)))


def _at_its_height(evidence: Evidence, foot: ShapedFoot) -> NDArray[np.bool_]:
    """Frames (F,) in which a working foot is in the air and its leg near its height: on its way there and back it passes the
    floor and the other leg, and is shaped for that."""
    up, lifted = _in_the_air(evidence, foot.side), evidence.degrees("leg_elevation", foot.side)
    part = slice(foot.frames[0], foot.frames[1] + 1)
    highest = float(np.nanmax(np.append(np.where(up, lifted, np.nan)[part], 0.0)))
    return np.asarray(up & ~(lifted < LEGS.at_its_height * highest))


def _shrunk(mask: NDArray[np.bool_], first: int, last: int) -> NDArray[np.bool_]:
    """A mask (F,) without so many frames at the beginning and the end of every stretch; the ends of the take are no ends."""
    kept = np.zeros(mask.size, dtype=bool)
    for start, stop in runs(mask):
        kept[start + (first if start else 0) : stop - (last if stop < mask.size else 0)] = True
    return kept


def foot_deviation(evidence: Evidence, side: str) -> Floats:
    """Angle (F,) of a foot against the line of the leg, against standing, degrees; negative: sickled."""
    return evidence.change("foot_deviation", side)


@dataclass(frozen=True)
class ShapedFoot:
    """A foot that is looked at in a step. name: of the measure, "working" or "supporting"."""

    phase: Phase
    side: str
    name: str
    frames: tuple[int, int]


def _shaped_feet(evidence: Evidence) -> Iterator[ShapedFoot]:
    """Both feet of jumps, and of balances and turns on one foot, where they last for long enough."""
    turns = _fully_up(evidence)
    for phase in evidence.judged("jump", "balance", "turn"):
        frames = turns.get(phase.id, (phase.start, phase.end))
        on_one = phase.feet in SIDES and (not isinstance(phase, Turn) or phase.id in turns)
        if frames[1] - frames[0] < evidence.samples(LEGS.shaped_s):
            continue
        if isinstance(phase, Jump):
            yield from (ShapedFoot(phase, side, "working", frames) for side in SIDES)
        elif on_one:
            yield ShapedFoot(phase, OTHER[str(phase.feet)], "working", frames)
            yield ShapedFoot(phase, str(phase.feet), "supporting", frames)


_SICKLES = {
    name: Measure(
        "foot-sickles", name, LOWEST, ("ankle", "toe"), foot_deviation, lever_m=LEVERS.forefoot_m, least_sd=LEGS.foot_deg
    )
    for name in ("working", "supporting")
}


@over(_shaped_feet)
def foot_sickles(evidence: Evidence, foot: ShapedFoot) -> Told:
    """Foot against the line of the leg: working foot in the air in balances and turns, standing one on relevé, both in flight."""
    asked = None
    if foot.name == "supporting":
        asked = (evidence.heel_mm(foot.side) > STEPS.risen_mm) & evidence.forefoot_down(foot.side)
    elif foot.phase.kind != "jump":
        asked = _at_its_height(evidence, foot)
    window = Window(foot_deviation(evidence, foot.side), foot.frames, asked)
    yield extreme(evidence, _SICKLES[foot.name].on(foot.side), foot.phase, window)


def foot_wings(evidence: Evidence) -> Told:
    """Never judged: without markers at the arch nothing tells how far it sinks."""
    for plie in evidence.phrase.of(Plie)[:1]:
        yield NotTold("foot-wings", plie, say.NO_ARCH_MARKERS)


def _high(evidence: Evidence, gesture: LegGesture, side: str, peak: int) -> tuple[int, int, bool]:
    """First and last frame in which a leg is at its height, and whether it is held there."""
    elevation = evidence.degrees("leg_elevation", side)
    low = np.flatnonzero(~(elevation >= elevation[peak] - LEGS.held_deg))
    before, after = low[(low >= gesture.start) & (low < peak)], low[(low <= gesture.end) & (low > peak)]
    first = int(before[-1]) + 1 if before.size else gesture.start
    last = int(after[0]) - 1 if after.size else gesture.end
    if last - first >= evidence.samples(LEGS.held_s):
        return first, last, True
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


_WORKING = Measure("knee-bends-working", "flexion", HIGHEST, _LEG, knee_bend)


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


def _still_standing(bend: Floats, window: tuple[int, int], rate_hz: float) -> tuple[int, int]:
    """A window without the part at its beginning in which the knee (F,) still stretches, and the part at its end in which it
    already bends for what comes next."""
    part = bend[window[0] : window[1] + 1]
    if part.size < 3 or not np.isfinite(part).all():
        return window
    rate = np.gradient(part) * rate_hz
    stretched, bends = np.flatnonzero(rate > -LEGS.knee_moves_deg_s), np.flatnonzero(rate < LEGS.knee_moves_deg_s)
    if not stretched.size or not bends.size or bends[-1] <= stretched[0]:
        return window
    return window[0] + int(stretched[0]), window[0] + int(bends[-1])


def _straight_legs(evidence: Evidence) -> Iterator[Standing]:
    """Standing legs where a straight one is asked for: turns while fully up, and balances; not those in fondu."""
    held = [Standing(turn.phase, turn.support, (turn.rise, turn.sink)) for turn in evidence.turns]
    for balance in evidence.phrase.of(Balance):
        held += [Standing(balance, side, (balance.start, balance.end)) for side in evidence.supports(balance)]
    for leg in held:
        part = knee_bend(evidence, leg.side)[leg.frames[0] : leg.frames[1] + 1]
        if not (np.isfinite(part).any() and np.nanmedian(part) > LEGS.fondu_deg):
            yield leg


_SUPPORTING = Measure("knee-bends-supporting", "flexion", HIGHEST, _LEG, knee_bend)


@over(_straight_legs)
def knee_bends_supporting(evidence: Evidence, leg: Standing) -> Told:
    """Standing knee where a straight leg is asked for: turns while fully up, and balances."""
    bend = knee_bend(evidence, leg.side)
    window = Window(bend, _still_standing(bend, leg.frames, evidence.rate_hz))
    yield extreme(evidence, _SUPPORTING.on(leg.side), leg.phase, window)


@made_once
def right_minus_left(evidence: Evidence, name: str) -> Floats:
    """An angle (F,) of the right side less that of the left, degrees."""
    return evidence.degrees(name, "right") - evidence.degrees(name, "left")


_HEIGHTS = Measure(
    "uneven-height", "difference", HIGHEST, ("hip.L", "ankle.L", "hip.R", "ankle.R"),
    partial(right_minus_left, name="leg_elevation"), sided=False, lever_m=LEVERS.leg_m,
)  # fmt: skip


def _same_gestures(evidence: Evidence) -> Iterator[dict[str, list[LegGesture]]]:
    """Gestures to one direction, by side, where both legs are lifted."""
    for direction in ("front", "side", "back"):
        legs = {side: [g for g in evidence.gestures if g.side == side and g.direction == direction] for side in SIDES}
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


@made_once
def _sideways(evidence: Evidence) -> Floats:
    """The dancer's right on the floor (F, 2), by the pelvis."""
    ahead = evidence.movement.segment("pelvis")[:, :2, 0]
    return np.asarray(unit(np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)))


@made_once
def hips_from_middle_mm(evidence: Evidence) -> Floats:
    """How far (F,) the middle of the hips is to the right of the middle of the feet, mm; source: catalogue, uneven-plie."""
    middle = 0.25 * sum(evidence.ball(side) + evidence.foot_point(side, "heel") for side in SIDES)
    return np.asarray(1000 * ((evidence.joint("pelvis") - middle)[:, :2] * _sideways(evidence)).sum(axis=1))


@made_once
def side_by_side(evidence: Evidence) -> Floats:
    """1 where the feet (F,) stand side by side (first, second, parallel), 0 elsewhere."""
    apart = (evidence.joint("ankle", "right") - evidence.joint("ankle", "left"))[:, :2]
    right = _sideways(evidence)
    beside = (apart * right).sum(axis=1)
    ahead = np.abs((apart * np.stack([-right[:, 1], right[:, 0]], axis=1)).sum(axis=1))
    return np.asarray((beside > LEGS.beside_m) & (ahead < LEGS.ahead_share * beside), dtype=np.float64)


_BENDS = Measure(
    "uneven-plie", "bend", HIGHEST, _BOTH_LEGS, partial(right_minus_left, name="knee_flexion"), sided=False
)  # fmt: skip
_SHIFT = Measure(
    "uneven-plie", "shift", FURTHEST, ("hip.L", "hip.R", "ankle.L", "ankle.R"), hips_from_middle_mm, sided=False
)  # fmt: skip


def _even_plies(evidence: Evidence) -> tuple[Plie, ...]:
    """Pliés on two standing feet; the weight of a preparation in fourth, and of a landing or take-off, is judged elsewhere."""
    return tuple(plie for plie in _standing_plies(evidence) if plie.use in ("plié", None))


@over(_even_plies)
def uneven_plie(evidence: Evidence, plie: Plie) -> Told:
    """Knees that bend unequally, and hips that leave the middle between feet that stand side by side, in pliés on two feet."""
    part, frames = slice(plie.start, plie.end + 1), (plie.start, plie.end)
    beside = bool(np.median(side_by_side(evidence)[part]) > LEGS.mostly)
    told = _unequal_knees(evidence, plie)
    yield replace(told, widened=(1.0, LEGS.crossed_deg)) if isinstance(told, Observation) and not beside else told
    if beside:
        offset = hips_from_middle_mm(evidence)
        offset = offset - evidence.before(offset, plie.start, plie.start + evidence.samples(LEGS.settled_s))
        yield extreme(evidence, _SHIFT.on(against=plie.start), plie, Window(offset, frames, evidence.on_both))


def _unequal_knees(evidence: Evidence, plie: Plie) -> Observation | NotTold | None:
    """Knees at the greatest bend: on the way one may begin first."""
    left, right = (evidence.degrees("knee_flexion", side) for side in SIDES)
    part, together = slice(plie.start, plie.end + 1), np.fmin(left, right)
    deepest = np.nanmax(np.append(together[part], 0.0))
    bottom = (together > LEGS.least_bend_deg) & (together > deepest - LEGS.at_the_bottom_deg) & evidence.on_both
    more = "left" if np.nansum((left - right)[part]) > 0 else "right"
    return extreme(evidence, _BENDS.on(more), plie, Window(np.abs(left - right), (plie.start, plie.end), bottom))


_HEEL = Measure("heels-lift-in-plie", "height", HIGHEST, ("heel",), Evidence.heel_mm)


def _flat_legs(evidence: Evidence) -> Iterator[Standing]:
    """Legs of demi-pliés that are danced with heels down, from their beginning to their bottom."""
    for plie in evidence.plies:
        bottom = evidence.at(plie.bottom_s)
        asked = plie.use == "take-off" or (plie.use in ("plié", None) and evidence.stands(plie))
        if bottom is not None and plie.size != "grand" and asked:
            for side in evidence.supports(plie):
                yield Standing(plie, side, (plie.start + evidence.samples(LEGS.begun_s), bottom))


@over(_flat_legs)
def heels_lift_in_plie(evidence: Evidence, leg: Standing) -> Told:
    """Heel above the floor in a demi-plié on the way down and at the bottom."""
    heel, start = evidence.heel_mm(leg.side), leg.phase.start
    # A plié on relevé has no heel to lose.
    if not evidence.before(heel, start, start + evidence.samples(LEGS.settled_s)) > STEPS.risen_mm:
        yield extreme(evidence, _HEEL.on(leg.side), leg.phase, Window(heel, leg.frames, evidence.on(leg.side)))


def _rises_from(evidence: Evidence, plie: Plie) -> bool:
    """Whether a plié on two feet is the preparation of a relevé on one."""
    bottom = evidence.at(plie.bottom_s)
    # Down to the bottom: from there the dancer is on the way up to the other foot.
    if (
        bottom is None
        or plie.support != "both"
        or not evidence.stands(replace(plie, end=bottom, end_s=bottom / evidence.rate_hz))
    ):
        return False
    releves = (releve for releve in evidence.phrase.of(Releve) if releve.support in SIDES)
    return any(bottom <= releve.start <= plie.end + evidence.samples(LEGS.rises_within_s) for releve in releves)


def shallow_plie(evidence: Evidence) -> Told:
    """Depth of the pliés that prepare something against the own demi-plié with heels down."""
    for plie in evidence.plies:
        raised = plie.use == "plié" and _rises_from(evidence, plie)
        if raised or plie.use in ("preparation", "landing and take-off"):
            yield from plie_share(evidence, SHALLOW, plie, plie.start, plie.end)
    for turn in evidence.turns:
        start = turn.alone - evidence.samples(LEGS.prepared_within_s)
        if _pushed(evidence, turn, start):
            yield from plie_share(evidence, SHALLOW, turn.phase, start, turn.alone)


def _pushed(evidence: Evidence, turn: Pirouette, start: int) -> bool:
    """Whether a bend prepares a turn that is too small to be seen as a plié of its own: the standing foot was down, its knee
    bent a little, and pushed."""
    if evidence.at(turn.phase.preparation_s) is not None or start < 0:
        return False
    begins, ends = start / evidence.rate_hz, turn.alone / evidence.rate_hz
    feet = (c for c in evidence.phrase.contacts if c.foot == turn.support and c.part == "foot")
    stood = any(contact.start_s <= begins and contact.end_s >= ends for contact in feet)
    bend = evidence.degrees("knee_flexion", turn.support)[start : turn.alone + 1]
    return stood and bool(np.nanmax(np.append(bend, 0.0)) > LEGS.least_preparation_deg)


def _shows_own_plie(evidence: Evidence, own_rad: Floats) -> bool:
    """Whether what is taken for the own demi-plié of some knees is one: a plié for its own sake comes to it, or it was told from
    elsewhere, deeper than all that the take shows. Preparations and landings show only how deep they are themselves."""
    own = float(np.degrees(own_rad.mean()))
    plain = [p for p in evidence.plies if p.use in ("plié", None) and p.support == "both" and p.size != "grand"]
    both = np.mean([evidence.degrees("knee_flexion", side) for side in SIDES], axis=0)
    if any(np.nanmax(np.append(both[p.start : p.end + 1], 0.0)) >= LEGS.shown_share * own for p in plain):
        return True
    flat = np.all([evidence.heel_mm(side) < STEPS.flat_mm for side in SIDES], axis=0)
    return bool(np.nanmax(np.append(both[flat], 0.0)) < LEGS.shown_share * own)


@made_once
def bend_share(evidence: Evidence, sides: tuple[str, ...], own_deg: float) -> Floats:
    """Bend (F,) of the knees of some legs, their mean, as a share of the own demi-plié."""
    return np.asarray(np.mean([evidence.degrees("knee_flexion", side) for side in sides], axis=0) / own_deg)


SHALLOW = Measure("shallow-plie", "share", HIGHEST, _LEG, bend_share, sided=False)


def _own_plie(evidence: Evidence, sides: Sequence[str]) -> Floats:
    """The own demi-plié of some legs, radians; NaN where it is not known."""
    return np.array([evidence.movement.standing.demi_plie_rad[SIDES.index(side)] for side in sides])


def _stands_bent(evidence: Evidence, sides: tuple[str, ...], own_deg: float, frames: tuple[int, int]) -> Floats:
    """Bend (F,) of standing knees as a share of their own demi-plié."""
    share = bend_share(evidence, sides=sides, own_deg=own_deg)
    # The knee of a foot that has left the floor bends for what comes next.
    together = len(sides) == 2 and evidence.on_both[frames[0] : frames[1] + 1].any()
    return np.where(evidence.on_both, share, np.nan) if together else share


def plie_share(evidence: Evidence, measure: Measure, phase: Phase, start: int, end: int) -> Told:
    """Greatest bend of the standing knees between two frames as a share of the own demi-plié."""
    sides = evidence.supports(phase) or SIDES
    own = _own_plie(evidence, sides)
    own_deg = float(np.degrees(own.mean()))
    if not np.isfinite(own).all():
        return
    share = _stands_bent(evidence, sides, own_deg, (start, end))
    if not np.isfinite(share[start : end + 1]).any():
        yield NotTold(measure.fault, phase, say.not_seen("the knees"))
        return
    part = evidence.steady_part(share, start, end)
    part = part if np.isfinite(part).any() else share[start : end + 1]
    deepest = int(np.nanargmax(part))
    told = _leg_share(measure, sides, own_deg).told(phase, float(part[deepest]), (start, start + deepest, end))
    unknown = told.value > LEGS.less_than_shown and not _shows_own_plie(evidence, own)
    yield NotTold(measure.fault, phase, say.NO_SLOW_PLIE) if unknown else told


def _leg_share(measure: Measure, sides: tuple[str, ...], own_deg: float) -> Reading:
    """A share of the own demi-plié of some legs."""
    side = "both" if len(sides) == 2 else sides[0]
    return measure.on(side, joints=_BOTH_LEGS if side == "both" else _LEG, sides=sides, own_deg=own_deg)
