"""Measures of knees, feet and pliés."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..body.angles import knee_direction, medial_knee_displacement
from ..body.geometry import unit
from ..body.movement import SIDE_SIGNS, SIDES, SUFFIXES
from ..phrase.phase import Balance, Jump, LegGesture, Phase, Plie, Releve, Turn
from ..take import Floats
from ..wording.findings import NO_SLOW_PLIE
from .evidence import OTHER, Evidence, made_once, runs
from .limits import LEGS, READING, STEPS
from .observation import NotTold, Observation
from .reading import Reading, Window, extreme

Told = Iterator[Observation | NotTold | None]


def _leg(evidence: Evidence, side: str) -> tuple[Floats, Floats, Floats]:
    return evidence.joint("hip", side), evidence.joint("knee", side), evidence.joint("ankle", side)


def _joints(side: str, *names: str) -> tuple[str, ...]:
    return tuple(name + SUFFIXES[side] for name in names)


def knee_hyperextends(evidence: Evidence) -> Told:
    """Standing knee beyond its own straight in standing."""
    turns = {turn.phase.id: (turn.rise, turn.sink) for turn in evidence.turns}
    for phase in evidence.phrase.phases:
        if phase.kind not in ("turn", "balance", "static", "leg-gesture") or (phase.kind == "turn" and phase.id not in turns):
            continue
        window = turns.get(phase.id, (phase.start, phase.end))
        for side in evidence.supports(phase):
            beyond = -evidence.change("knee_flexion", side)
            yield extreme(
                evidence,
                Reading(
                    "knee-hyperextends",
                    "beyond",
                    1,
                    joints=_joints(side, "hip", "knee", "ankle"),
                    side=side,
                    # Of a standing in the phrase nobody knows whether it was straight.
                    extra_sd=0.0 if evidence.movement.standing.from_static else LEGS.absolute_knee_deg,
                    made_of=partial(Evidence.change, name="knee_flexion", side=side),
                ),
                phase,
                Window(beyond, window, moves=False),
            )


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
    if evidence.movement.recording is not None:
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


def _carries(phase: Phase, side: str) -> bool:
    """Whether a foot stands during a plié or landing."""
    return phase.feet in (side, "both")


def knee_inside_toes(evidence: Evidence) -> Told:
    """Knee inside the line of the foot while it is bent, in pliés and landings."""
    for side in SIDES:
        apart, displacement = knee_against_foot(evidence, side), knee_inside_mm(evidence, side)
        bend = evidence.degrees("knee_flexion", side)
        joints = _joints(side, "hip", "knee", "ankle", "toe")
        bent = np.where(bend > LEGS.least_bend_deg, apart, np.nan)
        across = _across_deg(evidence, side)
        for phase in evidence.judged("plie", "landing"):
            if not _carries(phase, side):
                continue
            window = slice(phase.start, phase.end + 1)
            if not np.isfinite(bend[window]).any():
                yield NotTold("knee-inside-toes", phase, f"the {side} leg could not be seen")
                continue
            asked = (bend > max(LEGS.least_bend_deg + 5, 0.8 * np.nanmax(bend[window]))) & evidence.on(side)
            asked &= ~(evidence.heel_mm(side) >= STEPS.risen_mm)
            told = extreme(
                evidence,
                Reading("knee-inside-toes", "angle", 1, joints=joints, side=side, made_of=partial(knee_against_foot, side=side)),
                phase,
                Window(apart, (phase.start, phase.end), asked=asked),
            )
            yield _with_course(told, bent, across)
            # The foot of a skeleton is too rough for a place across it; the directions of leg and foot serve (catalogue).
            if evidence.movement.kind == "skeleton":
                continue
            told = extreme(
                evidence,
                Reading(
                    "knee-inside-toes", "displacement", 1, joints=joints, side=side, made_of=partial(knee_inside_mm, side=side)
                ),
                phase,
                # Beyond its own error: a leg that leans is no knee that is turned in.
                Window(
                    displacement,
                    (phase.start, phase.end),
                    asked=asked & (apart - _direction_sd(evidence, side) > LEGS.turned_in_deg),
                ),
            )
            if isinstance(told, Observation):
                yield _with_course(told, displacement)


def _with_course(told: Observation | NotTold | None, curve: Floats, error: Floats | None = None) -> Observation | NotTold | None:
    """The whole course in place of the part that was searched, and an error (F,) at the decisive frame on top."""
    if not isinstance(told, Observation):
        return told
    extra = told.extra_sd if error is None else float(np.hypot(told.extra_sd, error[told.peak]))
    return replace(told, curve=curve[told.start : told.end + 1], extra_sd=extra)


def turnout_of_both(evidence: Evidence) -> Floats:
    """Turnout (F,) of both feet together, degrees."""
    return evidence.degrees("foot_turnout", "left") + evidence.degrees("foot_turnout", "right")


def foot_forces_turnout(evidence: Evidence) -> Told:
    """Foot turned out beyond the knee from the first bend on and all through the plié, on both ways; and beyond the hips."""
    passive = float(np.degrees(evidence.movement.standing.passive_turnout_rad.sum()))
    for phase in evidence.plies if np.isfinite(passive) else ():
        if phase.support == "both" and evidence.stands(phase):
            brief = evidence.samples(0.1)
            yield extreme(
                evidence,
                Reading(
                    "foot-forces-turnout",
                    "beyond_hips",
                    1,
                    joints=tuple(name + s for s, name in product((".L", ".R"), ("heel", "toe"))),
                    lever_m=0.18,
                    extra_sd=LEGS.absolute_turnout_deg,
                    made_of=turnout_of_both,
                ),
                phase,
                Window(turnout_of_both(evidence) - passive, (phase.start, phase.start + brief)),
            )
    for side in SIDES:
        apart = knee_against_foot(evidence, side)
        bend = evidence.degrees("knee_flexion", side)
        turnout = evidence.degrees("foot_turnout", side)
        for phase in evidence.plies:
            part = slice(phase.start, phase.end + 1)
            if not _carries(phase, side) or not np.isfinite(apart[part]).any():
                continue
            early = (bend[part] > 30.0) & (bend[part] < 60.0)
            if early.sum() < evidence.samples(0.08) or np.nanmedian(turnout[part]) < 40.0:
                continue
            screwed = float(np.nanmedian(apart[part][early]))
            # A knee that falls in only when the bend gets deep is not a forced foot.
            if np.nanmax(apart[part][bend[part] > 30.0]) > 1.5 * max(screwed, 1.0):
                continue
            peak = phase.start + int(np.flatnonzero(early)[0])
            yield Observation(
                "foot-forces-turnout",
                "angle",
                phase,
                side,
                screwed,
                phase.start,
                peak,
                phase.end,
                _joints(side, "knee", "ankle", "toe"),
                np.where(bend[part] > 30.0, apart[part], np.nan),
                extra_sd=0.7 * float(_across_deg(evidence, side)[peak]),
                made_of=partial(knee_against_foot, side=side),
            )


def _in_the_air(evidence: Evidence, side: str) -> NDArray[np.bool_]:
    """Frames (F,) in which a foot has left the floor for some time, and is not about to come back to it."""
    return np.asarray(_shrunk(~evidence.on(side), evidence.samples(LEGS.in_the_air_s), evidence.samples(LEGS.back_s)))


def _shrunk(mask: NDArray[np.bool_], first: int, last: int) -> NDArray[np.bool_]:
    """A mask (F,) without so many frames at the beginning and the end of every stretch; the ends of the take are no ends."""
    kept = np.zeros(mask.size, dtype=bool)
    for start, stop in runs(mask):
        kept[start + (first if start else 0) : stop - (last if stop < mask.size else 0)] = True
    return kept


def foot_sickles(evidence: Evidence) -> Told:
    """Foot against the line of the leg: working foot in the air in balances and turns, standing one on relevé, both in flight."""
    turns = {turn.phase.id: turn for turn in evidence.turns}
    for phase in evidence.judged("jump", "balance", "turn"):
        support = phase.feet
        if isinstance(phase, Jump):
            places = [(side, "working") for side in SIDES]
            window = (phase.start, phase.end)
        elif support in SIDES and (not isinstance(phase, Turn) or phase.id in turns):
            places = [(OTHER[str(support)], "working"), (str(support), "supporting")]
            turn = turns.get(phase.id)
            window = (phase.start, phase.end) if turn is None else (turn.rise, turn.sink)
        else:
            continue
        if window[1] - window[0] < evidence.samples(0.2):
            continue
        for side, measure in places:
            asked = None
            if measure == "supporting":
                asked = (evidence.heel_mm(side) > STEPS.risen_mm) & evidence.forefoot_down(side)
            elif phase.kind != "jump":
                asked = _in_the_air(evidence, side)
            yield extreme(
                evidence,
                Reading(
                    "foot-sickles",
                    measure,
                    -1,
                    joints=_joints(side, "ankle", "toe"),
                    side=side,
                    lever_m=0.15,
                    least_sd=LEGS.foot_deg,
                    made_of=partial(Evidence.change, name="foot_deviation", side=side),
                ),
                phase,
                Window(evidence.change("foot_deviation", side), window, asked=asked),
            )


def foot_wings(evidence: Evidence) -> Told:
    """Never judged: without markers at the arch nothing tells how far it sinks."""
    for plie in evidence.phrase.of(Plie)[:1]:
        yield NotTold("foot-wings", plie, "it needs markers at the inner arch of the foot, which this take does not have")


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


def knee_bends_working(evidence: Evidence) -> Told:
    """Working knee of a leg that is meant to be straight: at its highest point, or all the time that it is held there."""
    for gesture in evidence.gestures:
        side = str(gesture.side)
        peak = evidence.at(gesture.peak_s)
        if peak is None or side not in SIDES:
            continue
        bend = evidence.change("knee_flexion", side)
        first, last, held = _high(evidence, gesture, side, peak)
        joints = _joints(side, "hip", "knee", "ankle")
        part = evidence.steady_part(bend, first, last)
        known = np.isfinite(part)
        if known.mean() < READING.least_known:
            yield NotTold("knee-bends-working", gesture, f"the {side} knee could not be seen at the height of the leg")
            continue
        # Bent for most of the time it is an attitude or a retiré; a low leg that comes down elsewhere is a step.
        if np.median(part[known]) > LEGS.attitude_deg or _steps(evidence, gesture, side, peak):
            continue
        value = float(np.quantile(part[known], 0.9) if held else np.mean(part[known]))
        yield Observation(
            "knee-bends-working",
            "flexion",
            gesture,
            side,
            value,
            gesture.start,
            first + int(np.nanargmin(np.abs(part - value))),
            gesture.end,
            joints,
            bend[gesture.start : gesture.end + 1],
            made_of=partial(Evidence.change, name="knee_flexion", side=side),
        )


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


def knee_bends_supporting(evidence: Evidence) -> Told:
    """Standing knee where a straight leg is asked for: turns while fully up, and balances."""
    held: list[tuple[Phase, str, tuple[int, int]]] = [
        (turn.phase, turn.support, (turn.rise, turn.sink)) for turn in evidence.turns
    ]
    for balance in evidence.phrase.of(Balance):
        held += [(balance, side, (balance.start, balance.end)) for side in evidence.supports(balance)]
    for phase, side, window in held:
        bend = evidence.change("knee_flexion", side)
        part = bend[window[0] : window[1] + 1]
        if np.isfinite(part).any() and np.nanmedian(part) > LEGS.fondu_deg:
            continue
        yield extreme(
            evidence,
            Reading(
                "knee-bends-supporting",
                "flexion",
                1,
                joints=_joints(side, "hip", "knee", "ankle"),
                side=side,
                made_of=partial(Evidence.change, name="knee_flexion", side=side),
            ),
            phase,
            Window(bend, _still_standing(bend, window, evidence.rate_hz)),
        )


@made_once
def right_minus_left(evidence: Evidence, name: str) -> Floats:
    """An angle (F,) of the right side less that of the left, degrees."""
    return evidence.degrees(name, "right") - evidence.degrees(name, "left")


def uneven_height(evidence: Evidence) -> Told:
    """The same gesture lower on one side than on the other."""
    for direction in ("front", "side", "back"):
        legs = {side: [g for g in evidence.gestures if g.side == side and g.direction == direction] for side in SIDES}
        if not all(legs.values()):
            continue
        heights = {side: [g.elevation_deg for g in group] for side, group in legs.items()}
        # Small swings of a step are no battement.
        heights = {
            side: [h for h in group if h > 0.6 * max(max(heights["left"]), max(heights["right"]))]
            for side, group in heights.items()
        }
        if not all(heights.values()):
            continue
        means = {side: float(np.mean(group)) for side, group in heights.items()}
        lower = min(means, key=lambda side: means[side])
        phase = min(legs[lower], key=lambda g: abs(g.elevation_deg - means[lower]))
        spread = max((float(np.std(group, ddof=1)) for group in heights.values() if len(group) > 1), default=0.0)
        count = min(len(group) for group in heights.values())
        peak = evidence.at(phase.peak_s) or phase.start
        yield Observation(
            "uneven-height",
            "difference",
            phase,
            lower,
            abs(means["left"] - means["right"]),
            phase.start,
            peak,
            phase.end,
            ("hip.L", "ankle.L", "hip.R", "ankle.R"),
            lever_m=0.8,
            extra_sd=spread * np.sqrt(2 / count),
            made_of=partial(right_minus_left, name="leg_elevation"),
        )


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


def uneven_plie(evidence: Evidence) -> Told:
    """Knees that bend unequally, and hips that leave the middle between feet that stand side by side, in pliés on two feet."""
    bends = {side: evidence.degrees("knee_flexion", side) for side in SIDES}
    deep = np.fmin(bends["left"], bends["right"]) > LEGS.least_bend_deg
    difference = np.abs(bends["left"] - bends["right"])
    for phase in evidence.plies:
        # The weight of a preparation in fourth, and of a landing or take-off, is judged elsewhere.
        if phase.support != "both" or phase.use not in ("plié", None):
            continue
        if not evidence.stands(phase):
            continue
        window = (phase.start, phase.end)
        beside = bool(np.median(side_by_side(evidence)[phase.start : phase.end + 1]) > 0.5)
        more = "left" if np.nansum((bends["left"] - bends["right"])[phase.start : phase.end + 1]) > 0 else "right"
        together = np.fmin(bends["left"], bends["right"])
        deepest = np.nanmax(np.append(together[phase.start : phase.end + 1], 0.0))
        told = extreme(
            evidence,
            Reading(
                "uneven-plie",
                "bend",
                1,
                joints=tuple(name + s for s, name in product((".L", ".R"), ("hip", "knee", "ankle"))),
                side=more,
                made_of=partial(right_minus_left, name="knee_flexion"),
            ),
            phase,
            # At the greatest bend: on the way one knee may begin first.
            Window(difference, window, asked=deep & evidence.on_both & (together > deepest - LEGS.at_the_bottom_deg)),
        )
        if isinstance(told, Observation) and not beside:
            told = replace(told, widened=(1.0, LEGS.crossed_deg))
        yield told
        if beside:
            offset = hips_from_middle_mm(evidence)
            offset = offset - evidence.before(offset, phase.start, phase.start + evidence.samples(0.1))
            yield extreme(
                evidence,
                Reading(
                    "uneven-plie",
                    "shift",
                    0,
                    joints=("hip.L", "hip.R", "ankle.L", "ankle.R"),
                    made_of=hips_from_middle_mm,
                    against=phase.start,
                ),
                phase,
                Window(offset, window, asked=evidence.on_both),
            )


def heels_lift_in_plie(evidence: Evidence) -> Told:
    """Heel above the floor in a demi-plié on the way down and at the bottom."""
    for phase in evidence.plies:
        if phase.size == "grand" or phase.use not in ("plié", "take-off", None):
            continue
        if phase.use != "take-off" and not evidence.stands(phase):
            continue
        bottom = evidence.at(phase.bottom_s)
        for side in evidence.supports(phase):
            heel = evidence.heel_mm(side)
            # A plié on relevé has no heel to lose.
            if bottom is None or evidence.before(heel, phase.start, phase.start + evidence.samples(0.1)) > STEPS.risen_mm:
                continue
            yield extreme(
                evidence,
                Reading(
                    "heels-lift-in-plie",
                    "height",
                    1,
                    joints=("heel" + SUFFIXES[side],),
                    side=side,
                    made_of=partial(Evidence.heel_mm, side=side),
                ),
                phase,
                Window(heel, (phase.start + evidence.samples(0.05), bottom), asked=evidence.on(side)),
            )


def _rises_from(evidence: Evidence, plie: Plie) -> bool:
    """Whether a plié on two feet is the preparation of a relevé on one."""
    bottom = evidence.at(plie.bottom_s)
    if bottom is None or plie.support != "both" or not evidence.stands(plie):
        return False
    releves = (releve for releve in evidence.phrase.of(Releve) if releve.support in SIDES)
    return any(bottom <= releve.start <= plie.end + evidence.samples(LEGS.rises_within_s) for releve in releves)


def shallow_plie(evidence: Evidence) -> Told:
    """Depth of the pliés that prepare something against the own demi-plié with heels down."""
    for phase in evidence.plies:
        raised = phase.use == "plié" and _rises_from(evidence, phase)
        if phase.use not in ("preparation", "landing and take-off") and not raised:
            continue
        yield from plie_share(evidence, "shallow-plie", phase, phase.start, phase.end)
    for turn in evidence.turns:
        # A bend too small to be seen as a plié of its own: the standing foot was down, its knee bent a little, and pushed.
        start = turn.alone - evidence.samples(LEGS.prepared_within_s)
        if evidence.at(turn.phase.preparation_s) is not None or start < 0:
            continue
        stood = any(
            contact.foot == turn.support
            and contact.part == "foot"
            and contact.start_s <= start / evidence.rate_hz
            and contact.end_s >= turn.alone / evidence.rate_hz
            for contact in evidence.phrase.contacts
        )
        bend = evidence.degrees("knee_flexion", turn.support)[start : turn.alone + 1]
        if stood and np.nanmax(np.append(bend, 0.0)) > LEGS.least_preparation_deg:
            yield from plie_share(evidence, "shallow-plie", turn.phase, start, turn.alone)


def _shows_own_plie(evidence: Evidence, own_rad: Floats) -> bool:
    """Whether what is taken for the own demi-plié of some knees is one: a plié for its own sake comes to it, or it was told from
    elsewhere, deeper than all that the take shows. Preparations and landings show only how deep they are themselves."""
    own = float(np.degrees(own_rad.mean()))
    plain = [p for p in evidence.plies if p.use == "plié" and p.support == "both" and p.size != "grand"]
    both = np.mean([evidence.degrees("knee_flexion", side) for side in SIDES], axis=0)
    if any(np.nanmax(np.append(both[p.start : p.end + 1], 0.0)) >= LEGS.shown_share * own for p in plain):
        return True
    flat = np.all([evidence.heel_mm(side) < STEPS.flat_mm for side in SIDES], axis=0)
    return bool(np.nanmax(np.append(both[flat], 0.0)) < LEGS.shown_share * own)


@made_once
def _bend_share(evidence: Evidence, sides: tuple[str, ...], own_deg: float) -> Floats:
    return np.asarray(np.mean([evidence.degrees("knee_flexion", side) for side in sides], axis=0) / own_deg)


def plie_share(evidence: Evidence, fault: str, phase: Phase, start: int, end: int) -> Told:
    """Greatest bend of the standing knees between two frames as a share of the own demi-plié."""
    sides = evidence.supports(phase) or SIDES
    own = np.array([evidence.movement.standing.demi_plie_rad[SIDES.index(side)] for side in sides])
    if not np.isfinite(own).all():
        return
    share_of = partial(_bend_share, sides=sides, own_deg=float(np.degrees(own.mean())))
    share = share_of(evidence)
    if len(sides) == 2 and evidence.on_both[start : end + 1].any():
        # The knee of a foot that has left the floor bends for what comes next.
        share = np.where(evidence.on_both, share, np.nan)
    if not np.isfinite(share[start : end + 1]).any():
        yield NotTold(fault, phase, "the knees could not be seen")
        return
    part = evidence.steady_part(share, start, end)
    part = part if np.isfinite(part).any() else share[start : end + 1]
    peak = start + int(np.nanargmax(part))
    if part[peak - start] > LEGS.less_than_shown and not _shows_own_plie(evidence, own):
        yield NotTold(fault, phase, NO_SLOW_PLIE)
        return
    joints = tuple(name + SUFFIXES[side] for side in sides for name in ("hip", "knee", "ankle"))
    side = "both" if len(sides) == 2 else sides[0]
    yield Observation(
        fault,
        "share",
        phase,
        side,
        float(part[peak - start]),
        start,
        peak,
        end,
        joints,
        lever_m=0.4,
        made_of=share_of,
    )
