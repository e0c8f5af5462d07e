"""Faults of standing, bending and balancing, and of the posture in any step, built in."""

from __future__ import annotations

import numpy as np

from ..analysis_core.body.anatomy import OTHER
from .fault_builders import (
    EVERYTHING,
    Builder,
    Builders,
    Fault,
    Times,
    held,
    pitch_of,
    shift_for_good,
    sides,
    suffix,
    support,
    window,
)
from .score import SIGN, Score, Step

POSES = Builders()


#: A lean of the thorax moves the line from the hips to the neck by this share, since the spine bends above the hips.
_TRUNK_SHARE = 0.68


@POSES.builds("low-releve", "ratio", "turn", "balance")
def _low_releve(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own greatest heel height that is reached.
    full = score.body.releve_rad
    less = float(np.arcsin(fault.size * np.sin(full))) - full
    start, _ = window(step)
    leave, lowered = step.moments["leave_s"], step.moments["lowered_s"]
    score.channel("pitch", support(step)).bump(start - 0.35, lowered, less, 0.35, lowered - leave)
    return start, start + 0.1


def _bend_faults() -> None:
    def on(channel: str, share: float, also: tuple[str, float] | None = None) -> Builder:
        def builder(score: Score, step: Step, fault: Fault) -> Times:
            if also:
                held(score, step, also[0], also[1] * np.radians(fault.size))
            return held(score, step, channel, share * np.radians(fault.size))

        return builder

    posture = ("turn", "balance", "plie", "releve")
    for name, builder in (
        ("trunk-leans", on("thorax_extension", -1.0 / _TRUNK_SHARE)),
        ("side-bends", on("thorax_side", 1.0 / _TRUNK_SHARE)),
        ("ribs-flare", on("thorax_extension", 1.0)),
        ("back-arches", on("tilt", 1.0, ("thorax_extension", 1.0))),
        ("pelvis-tucks", on("tilt", -1.0, ("thorax_extension", -1.0))),
        ("head-lifts", on("head_pitch", 1.0)),
    ):
        POSES.builds(name, "deg", *posture)(builder)


_bend_faults()


@POSES.builds("shoulders-lift", "mm", "turn", "balance", "releve")
def _shoulders_lift(score: Score, step: Step, fault: Fault) -> Times:
    times = (0.0, 0.0)
    for side in sides(fault):
        times = held(score, step, "shoulder_lift" + suffix(side), fault.size / 1000.0)
    return times


@POSES.builds("hip-hikes", "deg", "turn", "balance", "leg-gesture")
def _hip_hikes(score: Score, step: Step, fault: Fault) -> Times:
    return held(score, step, "obliquity", SIGN[OTHER[support(step)]] * np.radians(fault.size))


@POSES.builds("knee-bends-supporting", "deg", "turn", "balance")
def _knee_bends_supporting(score: Score, step: Step, fault: Fault) -> Times:
    return held(score, step, "knee", np.radians(fault.size - 2.0))


@POSES.builds("foot-sickles", "deg", "balance", "turn")
def _foot_sickles(score: Score, step: Step, fault: Fault) -> Times:
    return held(score, step, "deviation" + suffix(OTHER[support(step)]), -np.radians(fault.size))


@POSES.builds("standing-foot-sickles", "deg", "balance", "turn")
def _standing_foot_sickles(score: Score, step: Step, fault: Fault) -> Times:
    # The raised heel tips outward over the edge of the forefoot: the catalogue counts it as foot-sickles, on the standing leg.
    return held(score, step, "tip" + suffix(support(step)), np.radians(fault.size))


def _around_bottom(step: Step) -> tuple[float, float, float]:
    middle = step.moments.get("bottom_s", step.moments.get("lowest_s", 0.5 * (step.start_s + step.end_s)))
    leave = step.moments.get("hold_end_s", middle)
    reach = 0.72 * max(step.end_s - leave, middle - step.start_s, 0.14)
    return middle - reach, middle, leave + reach


@POSES.builds("knee-inside-toes", "deg", "plie", "landing")
def _knee_inside_toes(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    for side in sides(fault):
        score.channel("knee_in", side).bump(start, end, np.radians(fault.size), middle - start)
    return start, middle


@POSES.builds("foot-wings", "mm", "plie", "landing")
def _foot_wings(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    for side in sides(fault):
        score.channel("arch_sink", side).bump(start, end, fault.size / 1000.0, middle - start)
    return start, middle


@POSES.builds("heels-lift-in-plie", "mm", "plie")
def _heels_lift_in_plie(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    for side in sides(fault):
        score.channel("pitch", side).bump(start, end, pitch_of(score, fault.size), 0.8 * (middle - start))
    return start, middle


@POSES.builds("shallow-plie", "ratio", "plie")
def _shallow_plie(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own demi-plié that is reached.
    less = float(fault.size * score.body.demi_plie_rad - score["knee"].at(np.array([step.moments["bottom_s"]]))[0])
    middle = step.moments["bottom_s"]
    # It is made up for while the knees stretch again, so that they are nowhere bent further than here.
    leave = step.moments["hold_end_s"]
    score["knee"].bump(step.start_s, step.end_s, less, middle - step.start_s, step.end_s - leave)
    return step.start_s, middle


@POSES.builds("uneven-plie", "mm", "plie")
def _uneven_plie(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    away = SIGN[fault.side or "right"] * fault.size / 1000.0
    score["com_x"].bump(start, end, float(np.sin(score.facing) * away), middle - start)
    score["com_y"].bump(start, end, float(-np.cos(score.facing) * away), middle - start)
    return start, middle


@POSES.builds("balance-hops", "mm", "balance")
def _balance_hops(score: Score, step: Step, fault: Fault) -> Times:
    middle, away = 0.5 * (step.start_s + step.end_s), fault.size / 1000.0
    shift_for_good(score, EVERYTHING, middle - 0.07, middle + 0.07, (away, 0.0))
    return middle - 0.07, middle


@POSES.builds("balance-sways", "mm", "balance")
def _balance_sways(score: Score, step: Step, fault: Fault) -> Times:
    # To and fro by the size, once a second.
    start, size = step.start_s, fault.size / 1000.0
    for i in range(int(2.0 * (step.end_s - start))):
        sign = 1.0 if i % 2 else -1.0
        score["com_y"].bump(start + 0.5 * i, start + 0.5 * (i + 1), sign * size, 0.25)
        score["com_x"].bump(start + 0.5 * i, start + 0.5 * (i + 1), 0.5 * size if i % 4 < 2 else -0.5 * size, 0.25)
    return start, 0.5 * (start + step.end_s)


@POSES.builds("balance-heel-sinks", "mm", "balance")
def _balance_heel_sinks(score: Score, step: Step, fault: Fault) -> Times:
    full, length = score.body.releve_rad, score.body.foot.length_heel_to_ball_m
    less = float(np.arcsin(np.sin(full) - fault.size / 1000.0 / length)) - full
    span = step.end_s - step.start_s
    score.channel("pitch", support(step)).bump(step.start_s, step.end_s + 0.3, less, span, 0.3)
    return step.start_s, step.end_s


@POSES.builds("knee-bends-working", "deg", "leg-gesture")
def _knee_bends_working(score: Score, step: Step, fault: Fault) -> Times:
    peak, leave, working = step.moments["peak_s"], step.moments["hold_end_s"], OTHER[support(step)]
    if leave - peak > 0.3:
        # Of a leg that is held it is the hold that the knee gives in.
        start = peak + 0.2 * (leave - peak)
        score.channel("air_knee", working).bump(start, leave + 0.2, np.radians(fault.size - 2.0), 0.35 * (leave - peak), 0.2)
        return start, leave
    reach = 0.7 * (step.end_s - peak)
    score.channel("air_knee", working).bump(peak - reach, peak + reach, np.radians(fault.size - 2.0), 0.8 * reach)
    return peak - reach, peak


@POSES.builds("uneven-height", "deg", "leg-gesture")
def _uneven_height(score: Score, step: Step, fault: Fault) -> Times:
    # The size is how much lower this leg goes than the phrase asks for.
    peak, working = step.moments["peak_s"], OTHER[support(step)]
    reach, leave = peak - step.start_s, step.moments["hold_end_s"]
    score.channel("elevation", working).bump(step.start_s, leave + reach, -np.radians(fault.size), reach)
    return step.start_s, peak


@POSES.builds("knee-hyperextends", "deg", "balance", "turn")
def _knee_hyperextends(score: Score, step: Step, fault: Fault) -> Times:
    # The knee goes through straight to the other side.
    start, rise = held(score, step, "knee", np.radians(fault.size - 2.0))
    score.channel("knee_sign", support(step)).bump(start, window(step)[1], -2.0, 0.04)
    return start, rise


@POSES.builds("foot-forces-turnout", "deg", "plie")
def _foot_forces_turnout(score: Score, step: Step, fault: Fault) -> Times:
    # The feet stay where they are; the knees do not follow them, from the first bend to the last.
    for side in sides(fault):
        score.channel("knee_in", side).bump(step.start_s - 0.4, step.end_s + 0.4, np.radians(fault.size), 0.4)
    return step.start_s, step.moments["bottom_s"]
