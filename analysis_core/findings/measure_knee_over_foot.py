"""Measures of a bent knee against its foot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import LEG_JOINTS, SIDE_SUFFIXES
from ..body.angles import knee_direction, medial_knee_displacement
from ..body.movement import SIDE_SIGNS, SIDES, RecordedMovement
from ..known import nothing_known_gives_nan
from ..phrase.phase import Plie
from ..take import Floats
from ..wording import findings as say
from ..wording.names import part_on
from .evidence import Evidence, made_once
from .limits import JUDGING, LEGS, LEVERS, STEPS
from .observation import NotTold, Observation
from .parts_of_measures import Standing, standing_plies
from .reading import HIGHEST, Measure, Told, Window, extreme, over

_BOTH_FEET = tuple(name + suffix for suffix in SIDE_SUFFIXES for name in ("heel", "toe"))


def leg_joints(evidence: Evidence, side: str) -> tuple[Floats, Floats, Floats]:
    return evidence.joint("hip", side), evidence.joint("knee", side), evidence.joint("ankle", side)


@made_once
def knee_against_foot(evidence: Evidence, side: str) -> Floats:
    """Foot direction minus knee direction (F,), degrees, + = knee inside the foot; source: catalogue M04."""
    hip, knee, ankle = leg_joints(evidence, side)
    sign = SIDE_SIGNS[SIDES.index(side)]
    forward = evidence.movement.segment("pelvis")[:, :, 0]
    direction = knee_direction(hip, knee, ankle, forward, sign)
    apart = evidence.degrees("foot_turnout", side) - np.degrees(direction.azimuth)
    return np.asarray((apart + 180) % 360 - 180)


@made_once
def _against_foot_while_bent(evidence: Evidence, side: str) -> Floats:
    """The same (F,) where the knee is bent, NaN elsewhere: on a straight leg the direction of a knee says nothing."""
    bent = evidence.degrees("knee_flexion", side) > LEGS.least_bend_deg
    return np.where(bent, knee_against_foot(evidence, side), np.nan)


@made_once
def _across_deg(evidence: Evidence, side: str) -> Floats:
    """1-SD error (F,) of the direction of a knee of a solved skeleton, degrees; markers tell their own (0)."""
    if isinstance(evidence.movement, RecordedMovement):
        return np.zeros(evidence.frames)
    return _direction_sd(evidence, side)


@made_once
def _direction_sd(evidence: Evidence, side: str) -> Floats:
    """1-SD error (F,) of the direction of a knee, degrees, by how far it stands off the line from hip to ankle; source: M03."""
    hip, knee, ankle = leg_joints(evidence, side)
    direction = knee_direction(hip, knee, ankle, evidence.movement.segment("pelvis")[:, :, 0], SIDE_SIGNS[SIDES.index(side)])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.nan_to_num(np.degrees(np.arctan(LEGS.across_m / direction.distance_m))))


@made_once
def knee_inside_mm(evidence: Evidence, side: str) -> Floats:
    """Knee (F,) inside the vertical plane through the ankle along the foot, mm; source: catalogue M05."""
    _, knee, ankle = leg_joints(evidence, side)
    foot = evidence.movement.foot_line(side)
    return 1000 * medial_knee_displacement(knee, ankle, foot, SIDE_SIGNS[SIDES.index(side)])


_INSIDE = Measure("knee-inside-toes", "angle", HIGHEST, (*LEG_JOINTS, "toe"), knee_against_foot)
_PLACE = Measure("knee-inside-toes", "displacement", HIGHEST, (*LEG_JOINTS, "toe"), knee_inside_mm)


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
        yield NotTold(_INSIDE.fault, phase, say.not_seen(part_on("leg", side)))
        return
    apart, displacement = knee_against_foot(evidence, side), knee_inside_mm(evidence, side)
    told = extreme(evidence, _INSIDE.on(side), phase, Window(apart, leg.frames, deep))
    yield _with_course(told, _against_foot_while_bent(evidence, side), _across_deg(evidence, side))
    # The foot of a skeleton is too rough for a place across it; the directions of leg and foot serve (catalogue).
    if evidence.movement.kind != "skeleton":
        # As surely as a fault is told, for knee and foot: a leg that leans is no knee that is turned in, and a foot whose markers
        # sit askew moves the place as far as a knee does.
        apart_sd = np.hypot(_direction_sd(evidence, side), LEGS.absolute_turnout_deg)
        turned_in = deep & (apart - JUDGING.fault_sd * apart_sd > LEGS.turned_in_deg)
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


@over(standing_plies)
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
