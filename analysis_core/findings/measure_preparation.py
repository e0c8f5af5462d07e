"""Measures of how a turn is prepared: heel, standing foot, shoulders."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ..body.movement import SIDE_SIGNS, SIDES
from ..phrase.plies import held_bottom
from ..runs import runs
from ..take import Floats
from .evidence import Evidence, Pirouette
from .limits import LEVERS, READING, TURNS
from .observation import Observation
from .parts_of_measures import moved_mm, place_mm, sense
from .reading import FURTHEST, HIGHEST, Measure, Told, Window, extreme, over


@dataclass(frozen=True)
class Prepared:
    """A turn with its plié: the first frame of it, and the last one before the standing knee pushes."""

    turn: Pirouette
    start: int
    bottom: int


def prepared_turns(evidence: Evidence) -> Iterator[Prepared]:
    """Turns on one foot that a plié prepares.

    Its bottom is the frame in which the standing knee is bent most or, where it is held there, the last one before it pushes
    (catalogue 6.4). Not the lowest centre of mass: a heel that lifts early raises it while the knee still bends.
    """
    for turn in evidence.turns:
        start = evidence.at(turn.phase.preparation_s)
        if start is None or start >= turn.alone:
            continue
        bend = np.radians(evidence.degrees("knee_flexion", turn.support)[start : turn.alone + 1])
        arrival, push = held_bottom(bend, evidence.rate_hz)
        if np.isfinite(arrival):
            yield Prepared(turn, start, start + max(push, round(arrival)))


def _stops_waiting(evidence: Evidence, turn: Pirouette, start: int) -> int:
    """Last frame in which the standing foot has to keep still before a turn (catalogue, foot-slips-parallel).

    Until the pelvis has turned by 5° in the sense of the turn or the heel leaves for the relevé, whichever is first.
    """
    end = turn.alone if turn.leave is None else min(turn.alone, turn.leave)
    yaw = sense(turn.phase) * evidence.degrees("pelvis_yaw")[start : turn.alone + 1]
    if not np.isfinite(yaw).any():
        return max(end, start + 1)
    # A pelvis that winds up first has turned by 5° from where it was wound to.
    waiting = np.flatnonzero(yaw < np.nanmin(yaw) + TURNS.with_the_body_deg)
    return max(min(end, start + int(waiting[-1])), start + 1)


_EARLY = Measure("heel-lifts-early", "height", HIGHEST, ("heel",), Evidence.heel_mm)
_LEAD = Measure("heel-lifts-early", "lead", HIGHEST, ("heel",))


@over(prepared_turns)
def heel_lifts_early(evidence: Evidence, prepared: Prepared) -> Told:
    """Standing heel above the floor at and before the deepest plié of the preparation."""
    turn, start, bottom = prepared.turn, prepared.start, prepared.bottom
    heel = evidence.heel_mm(turn.support)
    # A preparation from a high heel (a step on a stretched foot) has no heel to lose.
    if not np.nanmin(np.append(heel[start : bottom + 1], np.inf)) < TURNS.heel_off_mm:
        return
    told = extreme(evidence, _EARLY.on(turn.support), turn.phase, Window(heel, (bottom - 1, bottom + 1)))
    if isinstance(told, Observation):
        told = replace(told, start=start, curve=heel[start : told.end + 1])
    yield told
    if isinstance(told, Observation) and told.value > TURNS.heel_off_mm:
        yield _lead(evidence, prepared)


def _lead(evidence: Evidence, prepared: Prepared) -> Observation | None:
    """How long before the deepest plié the heel had left the floor."""
    turn, start, bottom = prepared.turn, prepared.start, prepared.bottom
    heel = evidence.heel_mm(turn.support)
    off = np.nan_to_num(heel[start : bottom + 1]) > TURNS.heel_off_mm
    lifted = [start + first for first, stop in runs(off) if start + stop > bottom]
    if not lifted:
        return None
    # A heel that lifts slowly has lifted at a time that is known less well.
    speed = float(abs(np.gradient(heel)[lifted[0]])) * evidence.rate_hz
    error_s = np.hypot(READING.event_s, min(TURNS.heel_sd_mm / max(speed, TURNS.slowest_mm_s), TURNS.longest_doubt_s))
    lead_s = (bottom - lifted[0]) / evidence.rate_hz
    return _LEAD.on(turn.support).told(turn.phase, lead_s, (lifted[0], bottom, bottom), extra_sd=float(error_s))


_YAW = Measure("foot-slips-parallel", "yaw", HIGHEST, ("heel", "toe"), Evidence.foot_heading_deg, lever_m=LEVERS.foot_m)
_SLIP = Measure("foot-slips-parallel", "slip", HIGHEST, ("heel", "toe"), place_mm, path=True)


@over(prepared_turns)
def foot_slips_parallel(evidence: Evidence, prepared: Prepared) -> Told:
    """Standing foot turning in on the floor, or its heel sliding, while the preparation is danced."""
    turn, start = prepared.turn, prepared.start
    frames = (start, _stops_waiting(evidence, turn, start))
    settled = start + evidence.samples(TURNS.settled_s)
    heading = evidence.foot_heading_deg(turn.support)
    inward = SIDE_SIGNS[SIDES.index(turn.support)] * (heading - evidence.before(heading, start, settled))
    yield extreme(evidence, _YAW.on(turn.support, against=start), turn.phase, Window(inward, frames))
    slid = moved_mm(evidence, evidence.foot_point(turn.support, "heel"), start, settled)
    # A heel on its way up moves forward by itself.
    low = evidence.heel_mm(turn.support) < TURNS.rising_mm
    told = extreme(evidence, _SLIP.on(turn.support, against=start, point="heel"), turn.phase, Window(slid, frames, low))
    # Of a foot that is not seen the first measure says so.
    yield told if isinstance(told, Observation) else None


def chest_against_pelvis(evidence: Evidence) -> Floats:
    """How far (F,) the chest is turned against the pelvis, against standing, degrees."""
    return evidence.change("thorax_twist")


_TWIST = Measure(
    "shoulders-lead", "twist", FURTHEST, ("shoulder.L", "shoulder.R", "hip.L", "hip.R"), chest_against_pelvis,
    sided=False, lever_m=LEVERS.shoulders_m,
)  # fmt: skip


@over(prepared_turns)
def shoulders_lead(evidence: Evidence, prepared: Prepared) -> Told:
    """Twist of the chest against the pelvis from the preparation to the moment alone on one foot."""
    window = Window(chest_against_pelvis(evidence), (prepared.start, prepared.turn.alone))
    yield extreme(evidence, _TWIST.on(), prepared.turn.phase, window)
