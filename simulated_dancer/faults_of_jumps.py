"""Faults of take-offs, flights and landings, built in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..analysis_core.body.anatomy import SIDES
from .fault_builders import Builders, Fault, Times, pitch_of, sides
from .legs import leg_length
from .score import SIGN, Score, Step
from .solver import GRAVITY

JUMPS = Builders()


@JUMPS.builds("stiff-landing", "ratio", "landing")
def _stiff_landing(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own demi-plié that is reached; the body stops in a shorter time as well.
    lowest, earlier = step.moments["lowest_s"], step.start_s + 0.6 * (step.moments["lowest_s"] - step.start_s)
    down = step.start_s + 0.72 * (earlier - step.start_s)
    for i, jump in enumerate(score.jumps):
        score.jumps[i] = [
            replace(a, time_s=earlier, knee_rad=fault.size * score.body.demi_plie_rad)
            if a.kind == "bottom" and abs(a.time_s - lowest) < 1e-6
            else a
            for a in jump
        ]
    for side in SIDES:
        pitch = score.channel("pitch", side)
        # Heels are down before the body has stopped.
        pitch.moves = [
            replace(v, start_s=step.start_s - 0.06, end_s=down)
            if v.change < 0 and step.start_s - 0.2 < v.start_s < step.start_s < v.end_s
            else v
            for v in pitch.moves
        ]
    return step.start_s, earlier


@JUMPS.builds("feet-not-pointed", "ratio", "jump")
def _feet_not_pointed(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own pointed foot that is reached in flight.
    off, land = step.start_s, step.end_s
    less = (fault.size - 0.98) * score.body.pointed_rad
    for side in sides(fault):
        score.channel("point", side).bump(off - 0.06, land + 0.06, less, 0.05)
        # A foot that does not stretch does not push through either: the heel leaves less high and comes back less high.
        pitch = score.channel("pitch", side)
        share = float(np.clip((fault.size * score.body.pointed_rad - 0.36) / 0.68, 0.2, 1.0))
        pitch.moves = [
            replace(v, change=share * v.change) if v.start_s < off < v.end_s or v.start_s < land < v.end_s else v
            for v in pitch.moves
        ]
    return off, 0.5 * (off + land)


@JUMPS.builds("turnout-lost-in-air", "deg", "jump")
def _turnout_lost_in_air(score: Score, step: Step, fault: Fault) -> Times:
    off, land = step.start_s, step.end_s
    for side in sides(fault):
        score.channel("azimuth", side).bump(off, land, SIGN[side] * np.radians(fault.size), 0.45 * (land - off))
    return off, 0.5 * (off + land)


@JUMPS.builds("heels-miss-floor", "mm", "landing")
def _heels_miss_floor(score: Score, step: Step, fault: Fault) -> Times:
    jumps = [s.start_s for s in score.steps if s.kind == "jump" and s.start_s > step.end_s]
    # Before the next jump it melts into the push, so that the heel never goes down.
    end, fall = (min(jumps), 0.06) if jumps else (step.end_s + 0.6, 0.12)
    for side in sides(fault):
        score.channel("pitch", side).bump(step.start_s, end, pitch_of(score, fault.size), 0.12, fall)
    return step.start_s, step.end_s


@JUMPS.builds("rushed-take-off", "ratio", "jump")
def _rushed_take_off(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own demi-plié that the jump is pushed off from.
    bottom = step.moments["bottom_s"]
    for i, jump in enumerate(score.jumps):
        score.jumps[i] = [
            replace(a, knee_rad=fault.size * score.body.demi_plie_rad)
            if a.kind == "bottom" and abs(a.time_s - bottom) < 1e-6
            else a
            for a in jump
        ]
    return bottom, step.start_s


@JUMPS.builds("uneven-landing", "s", "landing")
def _uneven_landing(score: Score, step: Step, fault: Fault) -> Times:
    # One foot arrives later by the size; its knee stays drawn up until then.
    land, late, side = step.start_s, fault.size, fault.side or "right"
    body, fall = score.body, next(s for s in score.steps if s.kind == "jump" and abs(s.end_s - step.start_s) < 1e-6)
    speed = GRAVITY * (fall.end_s - fall.start_s) / 2.0
    for name in ("aloft", "toes", "point", "pitch"):
        channel = score.channel(name, side)
        channel.moves = [
            replace(v, start_s=v.start_s + late, end_s=v.end_s + late) if fall.moments["apex_s"] < v.start_s < land + 0.01 else v
            for v in channel.moves
        ]
    knee = score.channel("air_knee", side)
    bends = np.linspace(np.radians(2.0), np.radians(110.0), 200)
    lengths = np.array([leg_length(body, bend) for bend in bends])
    touching = float(knee.at(np.array([land]))[0])
    drawn = float(np.interp(-(leg_length(body, touching) - speed * late - 0.008), -lengths, bends))
    knee.bump(land - 0.22, land + late + 0.2, drawn - touching, 0.21)
    return land, land + late


@JUMPS.builds("landing-off-axis", "mm", "landing")
def _landing_off_axis(score: Score, step: Step, fault: Fault) -> Times:
    # The size is how far ahead of its place the centre of mass comes to; it goes back while the dancer stands up.
    lowest, ahead = step.moments["lowest_s"], fault.size / 1000.0
    away = (float(np.cos(score.facing) * ahead), float(np.sin(score.facing) * ahead))
    for i, jump in enumerate(score.jumps):
        score.jumps[i] = [
            replace(a, across=(a.across[0] + away[0], a.across[1] + away[1]))
            if a.kind == "bottom" and abs(a.time_s - lowest) < 1e-6
            else a
            for a in jump
        ]
    return step.start_s, lowest


@JUMPS.builds("low-jump", "ratio", "jump")
def _low_jump(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the height that the phrase asks for; the highest point stays on its count.
    half = 0.5 * np.sqrt(fault.size) * (step.end_s - step.start_s)
    apex = step.moments["apex_s"]
    after = next(s for s in score.steps if s.kind == "landing" and abs(s.start_s - step.end_s) < 1e-6)
    before_s, after_s = step.moments["bottom_s"], after.moments["lowest_s"]
    was = [before_s, step.start_s, step.end_s, after_s]
    becomes = [before_s, apex - half, apex + half, after_s]

    def moved(time_s: float) -> float:
        return float(np.interp(time_s, was, becomes)) if before_s < time_s < after_s else time_s

    for side in SIDES:
        for name in ("aloft", "toes", "air_knee", "point", "pitch"):
            channel = score.channel(name, side)
            channel.moves = [replace(v, start_s=moved(v.start_s), end_s=moved(v.end_s)) for v in channel.moves]
        # There is no room over the floor to stretch knees and feet as far.
        knee = score.channel("air_knee", side)
        knee.moves = [
            replace(v, change=fault.size**1.5 * v.change) if apex - half <= v.start_s <= apex + half else v for v in knee.moves
        ]
        less = 0.85 * (fault.size - 1.0) * score.body.pointed_rad
        score.channel("point", side).bump(apex - half - 0.03, apex + half + 0.03, less, 0.06)
    for i, jump in enumerate(score.jumps):
        score.jumps[i] = [replace(a, time_s=moved(a.time_s)) for a in jump]
    for i, one in enumerate(score.steps):
        if one in (step, after):
            moments = {name: moved(time_s) for name, time_s in one.moments.items()}
            score.steps[i] = replace(one, start_s=moved(one.start_s), end_s=moved(one.end_s), moments=moments)
    return before_s, apex
