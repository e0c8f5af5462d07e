"""Faults of turns, built in."""

from __future__ import annotations

import numpy as np

from ..analysis_core.body.anatomy import OTHER, SIDES
from .fault_builders import EVERYTHING, Builders, Fault, Times, held, pitch_of, shift_for_good, sides, suffix, support
from .score import SIGN, Score, Step

TURNS = Builders()


@TURNS.builds("heel-lifts-early", "mm", "turn")
def _heel_lifts_early(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    start = m["hold_end_s"] - fault.lead_s
    # It melts into the rise that follows, so that the heel never goes down again.
    pitch = score.channel("pitch", support(step))
    pitch.bump(start, m["up_s"], pitch_of(score, fault.size), 0.16, m["up_s"] - m["heel_s"])
    return start, m["hold_end_s"]


@TURNS.builds("foot-slips-parallel", "deg", "turn")
def _foot_slips_parallel(score: Score, step: Step, fault: Fault) -> Times:
    m, side = step.moments, support(step)
    start, rise = m["hold_end_s"] - 0.20, 0.26
    size = SIGN[side] * np.radians(fault.size)
    score.channel("azimuth", side).bump(start, m["up_s"] + 0.1, size, rise, 0.34)
    return start, start + rise


@TURNS.builds("turnout-lost-supporting", "deg", "turn")
def _turnout_lost_supporting(score: Score, step: Step, fault: Fault) -> Times:
    side = support(step)
    return held(score, step, "azimuth" + suffix(side), SIGN[side] * np.radians(fault.size))


@TURNS.builds("turnout-lost-working", "deg", "turn", "balance")
def _turnout_lost_working(score: Score, step: Step, fault: Fault) -> Times:
    channel, size = "turnout" + suffix(OTHER[support(step)]), -np.radians(fault.size)
    if step.kind == "turn":
        return held(score, step, channel, size)
    # In the hold: what is lost before the toe is in its place was never shown.
    start = step.start_s + 0.4
    score[channel].bump(start, step.end_s, size, 0.3)
    return start, start + 0.3


@TURNS.builds("axis-tilts", "deg", "turn")
def _axis_tilts(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    height = 0.565 * score.body.stature_m + 0.09 * score.body.stature_m / 1.68
    away = np.tan(np.radians(fault.size)) * height
    start, end = m["up_s"] - 0.05, m["close_s"] + 0.2
    for name, share in (("com_x", np.cos(2.6)), ("com_y", np.sin(2.6))):
        score[name].bump(start, end, float(share * away), 0.45, 0.30)
    return start, start + 0.45


@TURNS.builds("turn-travels", "mm", "turn")
def _turn_travels(score: Score, step: Step, fault: Fault) -> Times:
    m, away = step.moments, fault.size / 1000.0
    shift_for_good(score, EVERYTHING, m["up_s"], m["spun_s"], (0.8 * away, 0.6 * away))
    return m["up_s"], m["spun_s"]


@TURNS.builds("turn-hops", "mm", "turn")
def _turn_hops(score: Score, step: Step, fault: Fault) -> Times:
    middle = 0.5 * (step.moments["up_s"] + step.moments["spun_s"])
    score.channel("ball_z", support(step)).bump(middle - 0.09, middle + 0.09, fault.size / 1000.0, 0.07)
    return middle - 0.09, middle


@TURNS.builds("late-spot", "s", "turn")
def _late_spot(score: Score, step: Step, fault: Fault) -> Times:
    # The head stays with the trunk: nothing of the spotting is left. The size is not used.
    m, head = step.moments, score["head_yaw"]
    head.moves = [v for v in head.moves if v.end_s <= m["spin_s"] or v.start_s >= m["spun_s"]]
    return m["spin_s"], m["spun_s"]


@TURNS.builds("arms-drop", "mm", "turn")
def _arms_drop(score: Score, step: Step, fault: Fault) -> Times:
    reach = 1000.0 * (score.body.upper_arm_m + score.body.forearm_m)
    times = (0.0, 0.0)
    for side in sides(fault):
        times = held(score, step, "hand_up" + suffix(side), -fault.size / reach)
    return times


@TURNS.builds("low-retire", "ratio", "turn", "balance")
def _low_retire(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the height ratio that is reached (1 = toe at the knee).
    return held(score, step, "retire_height" + suffix(OTHER[support(step)]), fault.size - 0.97)


@TURNS.builds("shoulders-lead", "deg", "turn")
def _shoulders_lead(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    towards = -1.0 if step.side == "right" else 1.0
    start = m["hold_end_s"] - 0.4
    score["thorax_twist"].bump(start, m["up_s"], -towards * np.radians(fault.size), 0.36, 0.36)
    return start, m["hold_end_s"]


@TURNS.builds("turn-angle-off", "deg", "turn")
def _turn_angle_off(score: Score, step: Step, fault: Fault) -> Times:
    # Too far by the size, and back to the front once the feet are closed.
    m, further = step.moments, (-1.0 if step.side == "right" else 1.0) * np.radians(fault.size)
    for name in ("yaw", "azimuth.L", "azimuth.R"):
        score[name].bump(m["spin_s"], m["settled_s"] + 0.5, further, m["spun_s"] - m["spin_s"], 0.5)
    return m["spin_s"], m["spun_s"]


@TURNS.builds("turnout-lost-finish", "deg", "turn")
def _turnout_lost_finish(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    for side in SIDES:
        score.channel("azimuth", side).bump(m["spun_s"], m["settled_s"], SIGN[side] * np.radians(fault.size), 0.2, 0.3)
    return m["spun_s"], m["close_s"]
