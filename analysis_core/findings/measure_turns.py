"""Measures of a turn itself: its axis, its place on the floor, its angle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..body.geometry import angle_between
from ..body.movement import FOOT_POINTS, SIDES
from ..phrase.phase import Turn
from ..runs import runs
from ..take import Floats
from ..wording import findings as say
from ..wording.names import part_on
from .evidence import Evidence, Pirouette, made_once
from .limits import JUDGING, LEVERS, READING, STEPS, TURNS
from .observation import NotTold, Observation
from .parts_of_measures import moved_mm, place_mm, turns
from .reading import FURTHEST, HIGHEST, Measure, Told, Window, extreme, over


@made_once
def axis_tilt(evidence: Evidence, side: str) -> Floats:
    """Angle (F,) between the vertical and the line from the ball of the standing foot to the centre of mass, degrees.

    Source: catalogue, axis tilt. NaN where either is not known.
    """
    line = evidence.movement.centre_of_mass_m - evidence.ball(side)
    return np.asarray(np.degrees(angle_between(line, np.broadcast_to([0.0, 0.0, 1.0], line.shape))))


def _which_way(evidence: Evidence, support: str, frame: int) -> tuple[str, ...]:
    """Where the axis leans in the dancer's own directions: ("forward",), ("back", "left"), ...; empty where it is not known."""
    lean = evidence.movement.centre_of_mass_m[frame] - evidence.ball(support)[frame]
    ahead = evidence.movement.segment("pelvis")[frame, :2, 0]
    along, across = float(lean[:2] @ ahead), float(lean[:2] @ [ahead[1], -ahead[0]])
    if not np.isfinite([along, across]).all():
        return ()
    parts = ((abs(along), "forward" if along > 0 else "back"), (abs(across), "right" if across > 0 else "left"))
    (most, first), (less, second) = sorted(parts, reverse=True)
    return (first, second) if less > np.tan(np.radians(TURNS.both_ways_deg)) * most else (first,)


def _falls(evidence: Evidence, turn: Pirouette, peak: int) -> bool:
    """Whether the axis leans further and further on its way to a frame, surely faster than the limit."""
    lean = evidence.steady_part(axis_tilt(evidence, turn.support), turn.rise, peak)
    brief = evidence.samples(TURNS.falls_within_s)
    rates = (lean[brief:] - lean[:-brief]) / TURNS.falls_within_s
    error = JUDGING.fault_sd * float(np.sqrt(2.0)) * TURNS.lean_change_sd_deg / TURNS.falls_within_s
    return bool((rates[np.isfinite(rates)] > TURNS.falls_deg_s + error).any())


# Two fifths of the mass are the trunk: it counts among what must have been seen.
_TILT = Measure("axis-tilts", "tilt", HIGHEST, ("pelvis", "neck", "toe"), axis_tilt, lever_m=LEVERS.body_m)


@over(turns)
def axis_tilts(evidence: Evidence, turn: Pirouette) -> Told:
    """Lean of the axis on one foot, from fully up to the start of the way down, and which way."""
    window = Window(axis_tilt(evidence, turn.support), (turn.rise, turn.sink), evidence.forefoot_down(turn.support))
    told = extreme(evidence, _TILT.on(turn.support), turn.phase, window)
    if isinstance(told, Observation):
        ways, falls = _which_way(evidence, turn.support, told.peak), _falls(evidence, turn, told.peak)
        told = replace(told, says=say.axis_leans(ways, falls=falls), beyond_fault=falls)
    yield told


# A way between two places, both with their noise: it is never less than nothing.
_TRAVEL = Measure(
    "turn-travels", "travel", HIGHEST, ("toe",), place_mm, extra_sd=STEPS.noise_of_a_way * STEPS.noisy_mm, path=True
)


@over(turns)
def turn_travels(evidence: Evidence, turn: Pirouette) -> Told:
    """How far the ball of the standing foot has moved over the floor from beginning to end of a turn, per revolution."""
    brief = evidence.samples(TURNS.ends_s)
    away = moved_mm(evidence, evidence.ball(turn.support), turn.rise, turn.rise + brief)
    away = away / max(1.0, turn.phase.revolutions or 1.0)
    reading = _TRAVEL.on(turn.support, against=turn.rise, point="ball")
    told = extreme(evidence, reading, turn.phase, Window(away, (max(turn.sink - brief, turn.rise), turn.sink)))
    if isinstance(told, Observation):
        # A copy: a part of the whole take's curve would keep all of it, for every turn.
        told = replace(told, start=turn.rise, curve=away[turn.rise : told.end + 1].copy())
    yield told


@made_once
def lowest_forefoot_mm(evidence: Evidence, side: str) -> Floats:
    """Height (F,) of the lowest point of ball and toe above its own flat height, mm."""
    heights = evidence.movement.foot_heights_m[:, SIDES.index(side), FOOT_POINTS.index("ball_medial") :]
    return np.asarray(1000 * np.min(heights, axis=1))


_HOP = Measure("turn-hops", "clearance", HIGHEST, ("toe",), lowest_forefoot_mm)


def _off_the_floor(evidence: Evidence, turn: Pirouette) -> list[tuple[int, int]]:
    """First frame and last frame + 1 of every time that the standing foot is off the floor inside a turn."""
    inside = np.nan_to_num(evidence.clearance_mm(turn.support)[turn.alone : turn.close + 1])
    off = [(a, b) for a, b in runs(inside > STEPS.hop_mm) if b - a >= TURNS.hop_s * evidence.rate_hz]
    return [(turn.alone + a, turn.alone + b) for a, b in off if b < inside.size and a > 0]


@over(turns)
def turn_hops(evidence: Evidence, turn: Pirouette) -> Told:
    """Standing foot off the floor in the turn."""
    clearance, hops = evidence.clearance_mm(turn.support), _off_the_floor(evidence, turn)
    reading = _HOP.on(turn.support, against=turn.rise)
    if not hops and np.isfinite(clearance[turn.alone : turn.close + 1]).mean() < READING.least_known:
        yield reading.unseen(turn.phase, part_on("forefoot", turn.support))
    if not hops:
        return
    longest = max(hops, key=lambda hop: hop[1] - hop[0])
    told = extreme(evidence, reading, turn.phase, Window(clearance, longest))
    if isinstance(told, Observation):
        for_long = (longest[1] - longest[0]) / evidence.rate_hz >= TURNS.hop_fault_s or len(hops) > 1
        yield replace(told, beyond_fault=for_long)


def facing(evidence: Evidence) -> Floats:
    """Direction (F,) of the pelvis in the room, degrees, unwrapped."""
    return evidence.degrees("pelvis_yaw")


_RESIDUAL = Measure("turn-angle-off", "residual", FURTHEST, ("hip.L", "hip.R"), facing, sided=False)


def every_turn(evidence: Evidence) -> tuple[Turn, ...]:
    """Turns of the phrase, from foot to foot too, that are danced on standing legs."""
    return evidence.turns_standing


def _part_or_walked(turn: Turn, turned_deg: float) -> bool:
    """Whether a turn is only part of one, or walked round: nobody says that it was meant to be whole."""
    walked = (turn.supports or "").count("-") > TURNS.walked_changes * abs(turned_deg) / 360.0
    return walked or abs(turned_deg) < TURNS.nearly_whole_deg


@over(every_turn)
def turn_angle_off(evidence: Evidence, turn: Turn) -> Told:
    """What the turn lacks, or has too much of, against whole turns."""
    follows = any(other.chain == turn.chain and other.start > turn.start for other in evidence.phrase.of(Turn))
    close, start = evidence.at(turn.close_s), evidence.at(turn.preparation_s)
    if turn.not_counted is not None:
        yield NotTold(_RESIDUAL.fault, turn, turn.not_counted)
    # A turn that another one follows, or that is not closed, or that is walked, has no facing to end in.
    if turn.turned_deg is None or follows or close is None or _part_or_walked(turn, turn.turned_deg):
        return
    # From the facing of the preparation: a pelvis that winds up first has not to turn further.
    start = turn.start if start is None else start
    # Who closes while the pelvis still turns has turned where it stops.
    ends = max(close, min(turn.end, close + evidence.samples(TURNS.turns_on_s)))
    brief = evidence.samples(TURNS.closed_s)
    before, after = (evidence.before(facing(evidence), frame, frame + brief) for frame in (start, ends))
    apart = np.sign(turn.turned_deg) * (after - before)
    yield _RESIDUAL.on(against=start).told(turn, float(apart - 360 * np.round(apart / 360)), (turn.start, ends, ends))
