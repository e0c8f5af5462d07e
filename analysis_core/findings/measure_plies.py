"""Measures of pliés: evenness, heels, depth."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.geometry import unit
from ..body.movement import SIDES
from ..phrase.phase import Phase, Plie, Releve
from ..take import Floats
from ..wording import findings as say
from .evidence import Evidence, Pirouette, made_once
from .limits import LEGS, STEPS
from .observation import NotTold, Observation
from .parts_of_measures import BOTH_LEGS, Standing, right_minus_left, standing_plies
from .reading import FURTHEST, HIGHEST, Measure, Reading, Told, Window, extreme, over


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
    "uneven-plie", "bend", HIGHEST, BOTH_LEGS, partial(right_minus_left, name="knee_flexion"), sided=False
)  # fmt: skip
_SHIFT = Measure(
    "uneven-plie", "shift", FURTHEST, ("hip.L", "hip.R", "ankle.L", "ankle.R"), hips_from_middle_mm, sided=False
)  # fmt: skip


def _even_plies(evidence: Evidence) -> tuple[Plie, ...]:
    """Pliés on two standing feet; the weight of a preparation in fourth, and of a landing or take-off, is judged elsewhere."""
    return tuple(plie for plie in standing_plies(evidence) if plie.use in ("plié", None) and not _lunges(evidence, plie))


def _lunges(evidence: Evidence, plie: Plie) -> bool:
    """Whether a bend on two feet goes over to one of them, by the way of its hips and by its knees: a lunge, which is uneven."""
    bottom, away = evidence.at(plie.bottom_s), _from_the_middle(evidence, plie)
    if bottom is None:
        return False
    apart = abs(float(right_minus_left(evidence, name="knee_flexion")[bottom]))
    return apart > LEGS.lunge_deg and abs(float(away[bottom])) > LEGS.lunge_mm


def _from_the_middle(evidence: Evidence, plie: Plie) -> Floats:
    """How far (F,) the hips are from the middle of the feet, against the beginning of a plié, mm."""
    offset = hips_from_middle_mm(evidence)
    return offset - evidence.before(offset, plie.start, plie.start + evidence.samples(LEGS.settled_s))


@over(_even_plies)
def uneven_plie(evidence: Evidence, plie: Plie) -> Told:
    """Knees that bend unequally, and hips that leave the middle between feet that stand side by side, in pliés on two feet."""
    part, frames = slice(plie.start, plie.end + 1), (plie.start, plie.end)
    beside = bool(np.median(side_by_side(evidence)[part]) > LEGS.mostly)
    told = _unequal_knees(evidence, plie)
    yield replace(told, widened=(1.0, LEGS.crossed_deg)) if isinstance(told, Observation) and not beside else told
    if beside:
        away = _from_the_middle(evidence, plie)
        yield extreme(evidence, _SHIFT.on(against=plie.start), plie, Window(away, frames, evidence.on_both))


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


SHALLOW = Measure("shallow-plie", "share", HIGHEST, LEG_JOINTS, bend_share, sided=False)


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
    share = _stands_bent(evidence, sides, own_deg, (start, end))
    if not np.isfinite(share[start : end + 1]).any():
        yield NotTold(measure.fault, phase, say.not_seen("the knees") if np.isfinite(own).all() else say.NO_SLOW_PLIE)
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
    return measure.on(side, joints=BOTH_LEGS if side == "both" else LEG_JOINTS, sides=sides, own_deg=own_deg)
