"""Faults that are built into a clean phrase: each changes a few controls in one phase and leaves everything else alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..analysis_core.body.anatomy import OTHER, SIDES
from .legs import leg_length
from .score import SIGN, Score, Sided, Step
from .solver import GRAVITY
from .timeline import Move


@dataclass(frozen=True)
class Fault:
    """What to build in: a fault of the catalogue, the id of a phase (turn-1, plie-1, …), and its size in the fault's unit.

    side: for faults of two-footed steps; both feet when None. lead_s: by how much heel-lifts-early begins before the push.
    """

    fault: str
    phase: str
    size: float
    side: Sided | None = None
    lead_s: float = 0.26


@dataclass(frozen=True)
class BuiltInFault:
    """What was built in, as truth: onset_s where it begins, peak_s where it is greatest; value in ``unit`` as asked for."""

    fault: str
    phase: str
    side: Literal["left", "right", "both"] | None
    onset_s: float
    peak_s: float
    value: float
    unit: str


Times = tuple[float, float]
Builder = Callable[[Score, Step, Fault], Times]
_BUILDERS: dict[str, tuple[str, tuple[str, ...], Builder]] = {}
#: A lean of the thorax moves the line from the hips to the neck by this share, since the spine bends above the hips.
_TRUNK_SHARE = 0.68


def _fault(name: str, unit: str, *kinds: str) -> Callable[[Builder], Builder]:
    def keep(builder: Builder) -> Builder:
        _BUILDERS[name] = (unit, kinds, builder)
        return builder

    return keep


def supported() -> dict[str, tuple[str, tuple[str, ...]]]:
    """Faults that can be built in: the unit of their size, and the kinds of phase that can carry them."""
    return {name: (unit, kinds) for name, (unit, kinds, _) in sorted(_BUILDERS.items())}


def build_in(score: Score, faults: tuple[Fault, ...]) -> tuple[BuiltInFault, ...]:
    """Change the score; returns the truth. Raises ValueError for an unknown fault, phase or pairing."""
    steps = {step.id: step for step in score.steps}
    built = []
    for fault in faults:
        if fault.fault not in _BUILDERS:
            raise ValueError(f"{fault.fault} cannot be built in; these can: {', '.join(sorted(_BUILDERS))}")
        unit, kinds, builder = _BUILDERS[fault.fault]
        step = steps.get(fault.phase)
        if step is None or step.kind not in kinds:
            raise ValueError(f"{fault.fault} needs a phase of kind {' or '.join(kinds)}, not {fault.phase!r}")
        onset, peak = builder(score, step, fault)
        side = fault.side or (_support(step) if step.facts.get("support") else step.side)
        name = fault.fault.removeprefix("standing-")
        built.append(BuiltInFault(name, fault.phase, side, onset, peak, fault.size, unit))
    return tuple(built)


def _window(step: Step) -> Times:
    """When a step is judged: single support of a turn, hold of a balance, the whole of other steps."""
    m = step.moments
    return (m["up_s"], m["spun_s"]) if step.kind == "turn" else (step.start_s, step.end_s)


def _held(score: Score, step: Step, channel: str, size: float) -> Times:
    """Leave a control's course by size for the time in which the step is judged."""
    start, end = _window(step)
    rise = min(0.3, 0.35 * (end - start))
    score[channel].bump(start, end, size, rise)
    return start, start + rise


def _sides(fault: Fault) -> tuple[Sided, ...]:
    return (fault.side,) if fault.side else SIDES


def _support(step: Step) -> Sided:
    side = step.facts["support"]
    return "left" if side == "left" else "right"


def _suffix(side: str) -> str:
    return ".L" if side == "left" else ".R"


def _pitch_of(score: Score, millimetres: float) -> float:
    return float(np.arcsin(millimetres / 1000.0 / score.body.foot.length_heel_to_ball_m))


@_fault("heel-lifts-early", "mm", "turn")
def _heel_lifts_early(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    start = m["hold_end_s"] - fault.lead_s
    # It melts into the rise that follows, so that the heel never goes down again.
    pitch = score.channel("pitch", _support(step))
    pitch.bump(start, m["up_s"], _pitch_of(score, fault.size), 0.16, m["up_s"] - m["heel_s"])
    return start, m["hold_end_s"]


@_fault("foot-slips-parallel", "deg", "turn")
def _foot_slips_parallel(score: Score, step: Step, fault: Fault) -> Times:
    m, side = step.moments, _support(step)
    start, rise = m["hold_end_s"] - 0.20, 0.26
    size = SIGN[side] * np.radians(fault.size)
    score.channel("azimuth", side).bump(start, m["up_s"] + 0.1, size, rise, 0.34)
    return start, start + rise


@_fault("turnout-lost-supporting", "deg", "turn")
def _turnout_lost_supporting(score: Score, step: Step, fault: Fault) -> Times:
    side = _support(step)
    return _held(score, step, "azimuth" + _suffix(side), SIGN[side] * np.radians(fault.size))


@_fault("turnout-lost-working", "deg", "turn", "balance")
def _turnout_lost_working(score: Score, step: Step, fault: Fault) -> Times:
    channel, size = "turnout" + _suffix(OTHER[_support(step)]), -np.radians(fault.size)
    if step.kind == "turn":
        return _held(score, step, channel, size)
    # In the hold: what is lost before the toe is in its place was never shown.
    start = step.start_s + 0.4
    score[channel].bump(start, step.end_s, size, 0.3)
    return start, start + 0.3


@_fault("axis-tilts", "deg", "turn")
def _axis_tilts(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    height = 0.565 * score.body.stature_m + 0.09 * score.body.stature_m / 1.68
    away = np.tan(np.radians(fault.size)) * height
    start, end = m["up_s"] - 0.05, m["close_s"] + 0.2
    for name, share in (("com_x", np.cos(2.6)), ("com_y", np.sin(2.6))):
        score[name].bump(start, end, float(share * away), 0.45, 0.30)
    return start, start + 0.45


def _shift_for_good(score: Score, names: tuple[str, ...], start_s: float, end_s: float, across: tuple[float, float]) -> None:
    for name in names:
        size = across[0] if name.endswith(("_x", "_x.L", "_x.R")) else across[1]
        score[name].moves.append(Move(start_s, end_s, size))
    for i, jump in enumerate(score.jumps):
        score.jumps[i] = [
            replace(a, across=(a.across[0] + across[0], a.across[1] + across[1])) if a.time_s > end_s else a for a in jump
        ]


_EVERYTHING = ("com_x", "com_y", "ball_x.L", "ball_y.L", "ball_x.R", "ball_y.R")


@_fault("turn-travels", "mm", "turn")
def _turn_travels(score: Score, step: Step, fault: Fault) -> Times:
    m, away = step.moments, fault.size / 1000.0
    _shift_for_good(score, _EVERYTHING, m["up_s"], m["spun_s"], (0.8 * away, 0.6 * away))
    return m["up_s"], m["spun_s"]


@_fault("turn-hops", "mm", "turn")
def _turn_hops(score: Score, step: Step, fault: Fault) -> Times:
    middle = 0.5 * (step.moments["up_s"] + step.moments["spun_s"])
    score.channel("ball_z", _support(step)).bump(middle - 0.09, middle + 0.09, fault.size / 1000.0, 0.07)
    return middle - 0.09, middle


@_fault("late-spot", "s", "turn")
def _late_spot(score: Score, step: Step, fault: Fault) -> Times:
    # The head stays with the trunk: nothing of the spotting is left. The size is not used.
    m, head = step.moments, score["head_yaw"]
    head.moves = [v for v in head.moves if v.end_s <= m["spin_s"] or v.start_s >= m["spun_s"]]
    return m["spin_s"], m["spun_s"]


@_fault("arms-drop", "mm", "turn")
def _arms_drop(score: Score, step: Step, fault: Fault) -> Times:
    reach = 1000.0 * (score.body.upper_arm_m + score.body.forearm_m)
    times = (0.0, 0.0)
    for side in _sides(fault):
        times = _held(score, step, "hand_up" + _suffix(side), -fault.size / reach)
    return times


@_fault("low-retire", "ratio", "turn", "balance")
def _low_retire(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the height ratio that is reached (1 = toe at the knee).
    return _held(score, step, "retire_height" + _suffix(OTHER[_support(step)]), fault.size - 0.97)


@_fault("low-releve", "ratio", "turn", "balance")
def _low_releve(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own greatest heel height that is reached.
    full = score.body.releve_rad
    less = float(np.arcsin(fault.size * np.sin(full))) - full
    start, _ = _window(step)
    leave, lowered = step.moments["leave_s"], step.moments["lowered_s"]
    score.channel("pitch", _support(step)).bump(start - 0.35, lowered, less, 0.35, lowered - leave)
    return start, start + 0.1


@_fault("shoulders-lead", "deg", "turn")
def _shoulders_lead(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    towards = -1.0 if step.side == "right" else 1.0
    start = m["hold_end_s"] - 0.4
    score["thorax_twist"].bump(start, m["up_s"], -towards * np.radians(fault.size), 0.36, 0.36)
    return start, m["hold_end_s"]


def _bend_faults() -> None:
    def on(channel: str, share: float, also: tuple[str, float] | None = None) -> Builder:
        def builder(score: Score, step: Step, fault: Fault) -> Times:
            if also:
                _held(score, step, also[0], also[1] * np.radians(fault.size))
            return _held(score, step, channel, share * np.radians(fault.size))

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
        _fault(name, "deg", *posture)(builder)


_bend_faults()


@_fault("shoulders-lift", "mm", "turn", "balance", "releve")
def _shoulders_lift(score: Score, step: Step, fault: Fault) -> Times:
    times = (0.0, 0.0)
    for side in _sides(fault):
        times = _held(score, step, "shoulder_lift" + _suffix(side), fault.size / 1000.0)
    return times


@_fault("hip-hikes", "deg", "turn", "balance", "leg-gesture")
def _hip_hikes(score: Score, step: Step, fault: Fault) -> Times:
    return _held(score, step, "obliquity", SIGN[OTHER[_support(step)]] * np.radians(fault.size))


@_fault("knee-bends-supporting", "deg", "turn", "balance")
def _knee_bends_supporting(score: Score, step: Step, fault: Fault) -> Times:
    return _held(score, step, "knee", np.radians(fault.size - 2.0))


@_fault("foot-sickles", "deg", "balance", "turn")
def _foot_sickles(score: Score, step: Step, fault: Fault) -> Times:
    return _held(score, step, "deviation" + _suffix(OTHER[_support(step)]), -np.radians(fault.size))


@_fault("standing-foot-sickles", "deg", "balance", "turn")
def _standing_foot_sickles(score: Score, step: Step, fault: Fault) -> Times:
    # The raised heel tips outward over the edge of the forefoot: the catalogue counts it as foot-sickles, on the standing leg.
    return _held(score, step, "tip" + _suffix(_support(step)), np.radians(fault.size))


def _around_bottom(step: Step) -> tuple[float, float, float]:
    middle = step.moments.get("bottom_s", step.moments.get("lowest_s", 0.5 * (step.start_s + step.end_s)))
    leave = step.moments.get("hold_end_s", middle)
    reach = 0.72 * max(step.end_s - leave, middle - step.start_s, 0.14)
    return middle - reach, middle, leave + reach


@_fault("knee-inside-toes", "deg", "plie", "landing")
def _knee_inside_toes(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    for side in _sides(fault):
        score.channel("knee_in", side).bump(start, end, np.radians(fault.size), middle - start)
    return start, middle


@_fault("heels-lift-in-plie", "mm", "plie")
def _heels_lift_in_plie(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    for side in _sides(fault):
        score.channel("pitch", side).bump(start, end, _pitch_of(score, fault.size), 0.8 * (middle - start))
    return start, middle


@_fault("shallow-plie", "ratio", "plie")
def _shallow_plie(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own demi-plié that is reached.
    less = float(fault.size * score.body.demi_plie_rad - score["knee"].at(np.array([step.moments["bottom_s"]]))[0])
    middle = step.moments["bottom_s"]
    # It is made up for while the knees stretch again, so that they are nowhere bent further than here.
    leave = step.moments["hold_end_s"]
    score["knee"].bump(step.start_s, step.end_s, less, middle - step.start_s, step.end_s - leave)
    return step.start_s, middle


@_fault("uneven-plie", "mm", "plie")
def _uneven_plie(score: Score, step: Step, fault: Fault) -> Times:
    start, middle, end = _around_bottom(step)
    away = SIGN[fault.side or "right"] * fault.size / 1000.0
    score["com_x"].bump(start, end, float(np.sin(score.facing) * away), middle - start)
    score["com_y"].bump(start, end, float(-np.cos(score.facing) * away), middle - start)
    return start, middle


@_fault("stiff-landing", "ratio", "landing")
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


@_fault("feet-not-pointed", "ratio", "jump")
def _feet_not_pointed(score: Score, step: Step, fault: Fault) -> Times:
    # The size is the share of the own pointed foot that is reached in flight.
    off, land = step.start_s, step.end_s
    less = (fault.size - 0.98) * score.body.pointed_rad
    for side in _sides(fault):
        score.channel("point", side).bump(off - 0.06, land + 0.06, less, 0.05)
        # A foot that does not stretch does not push through either: the heel leaves less high and comes back less high.
        pitch = score.channel("pitch", side)
        share = float(np.clip((fault.size * score.body.pointed_rad - 0.36) / 0.68, 0.2, 1.0))
        pitch.moves = [
            replace(v, change=share * v.change) if v.start_s < off < v.end_s or v.start_s < land < v.end_s else v
            for v in pitch.moves
        ]
    return off, 0.5 * (off + land)


@_fault("turnout-lost-in-air", "deg", "jump")
def _turnout_lost_in_air(score: Score, step: Step, fault: Fault) -> Times:
    off, land = step.start_s, step.end_s
    for side in _sides(fault):
        score.channel("azimuth", side).bump(off, land, SIGN[side] * np.radians(fault.size), 0.45 * (land - off))
    return off, 0.5 * (off + land)


@_fault("heels-miss-floor", "mm", "landing")
def _heels_miss_floor(score: Score, step: Step, fault: Fault) -> Times:
    jumps = [s.start_s for s in score.steps if s.kind == "jump" and s.start_s > step.end_s]
    # Before the next jump it melts into the push, so that the heel never goes down.
    end, fall = (min(jumps), 0.06) if jumps else (step.end_s + 0.6, 0.12)
    for side in _sides(fault):
        score.channel("pitch", side).bump(step.start_s, end, _pitch_of(score, fault.size), 0.12, fall)
    return step.start_s, step.end_s


@_fault("balance-hops", "mm", "balance")
def _balance_hops(score: Score, step: Step, fault: Fault) -> Times:
    middle, away = 0.5 * (step.start_s + step.end_s), fault.size / 1000.0
    _shift_for_good(score, _EVERYTHING, middle - 0.07, middle + 0.07, (away, 0.0))
    return middle - 0.07, middle


@_fault("balance-sways", "mm", "balance")
def _balance_sways(score: Score, step: Step, fault: Fault) -> Times:
    # To and fro by the size, once a second.
    start, size = step.start_s, fault.size / 1000.0
    for i in range(int(2.0 * (step.end_s - start))):
        sign = 1.0 if i % 2 else -1.0
        score["com_y"].bump(start + 0.5 * i, start + 0.5 * (i + 1), sign * size, 0.25)
        score["com_x"].bump(start + 0.5 * i, start + 0.5 * (i + 1), 0.5 * size if i % 4 < 2 else -0.5 * size, 0.25)
    return start, 0.5 * (start + step.end_s)


@_fault("balance-heel-sinks", "mm", "balance")
def _balance_heel_sinks(score: Score, step: Step, fault: Fault) -> Times:
    full, length = score.body.releve_rad, score.body.foot.length_heel_to_ball_m
    less = float(np.arcsin(np.sin(full) - fault.size / 1000.0 / length)) - full
    span = step.end_s - step.start_s
    score.channel("pitch", _support(step)).bump(step.start_s, step.end_s + 0.3, less, span, 0.3)
    return step.start_s, step.end_s


@_fault("knee-bends-working", "deg", "leg-gesture")
def _knee_bends_working(score: Score, step: Step, fault: Fault) -> Times:
    peak, leave, working = step.moments["peak_s"], step.moments["hold_end_s"], OTHER[_support(step)]
    if leave - peak > 0.3:
        # Of a leg that is held it is the hold that the knee gives in.
        start = peak + 0.2 * (leave - peak)
        score.channel("air_knee", working).bump(start, leave + 0.2, np.radians(fault.size - 2.0), 0.35 * (leave - peak), 0.2)
        return start, leave
    reach = 0.7 * (step.end_s - peak)
    score.channel("air_knee", working).bump(peak - reach, peak + reach, np.radians(fault.size - 2.0), 0.8 * reach)
    return peak - reach, peak


@_fault("uneven-height", "deg", "leg-gesture")
def _uneven_height(score: Score, step: Step, fault: Fault) -> Times:
    # The size is how much lower this leg goes than the phrase asks for.
    peak, working = step.moments["peak_s"], OTHER[_support(step)]
    reach, leave = peak - step.start_s, step.moments["hold_end_s"]
    score.channel("elevation", working).bump(step.start_s, leave + reach, -np.radians(fault.size), reach)
    return step.start_s, peak


@_fault("knee-hyperextends", "deg", "balance", "turn")
def _knee_hyperextends(score: Score, step: Step, fault: Fault) -> Times:
    # The knee goes through straight to the other side.
    start, rise = _held(score, step, "knee", np.radians(fault.size - 2.0))
    score.channel("knee_sign", _support(step)).bump(start, _window(step)[1], -2.0, 0.04)
    return start, rise


@_fault("turn-angle-off", "deg", "turn")
def _turn_angle_off(score: Score, step: Step, fault: Fault) -> Times:
    # Too far by the size, and back to the front once the feet are closed.
    m, further = step.moments, (-1.0 if step.side == "right" else 1.0) * np.radians(fault.size)
    for name in ("yaw", "azimuth.L", "azimuth.R"):
        score[name].bump(m["spin_s"], m["settled_s"] + 0.5, further, m["spun_s"] - m["spin_s"], 0.5)
    return m["spin_s"], m["spun_s"]


@_fault("turnout-lost-finish", "deg", "turn")
def _turnout_lost_finish(score: Score, step: Step, fault: Fault) -> Times:
    m = step.moments
    for side in SIDES:
        score.channel("azimuth", side).bump(m["spun_s"], m["settled_s"], SIGN[side] * np.radians(fault.size), 0.2, 0.3)
    return m["spun_s"], m["close_s"]


@_fault("rushed-take-off", "ratio", "jump")
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


@_fault("uneven-landing", "s", "landing")
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


@_fault("landing-off-axis", "mm", "landing")
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


@_fault("low-jump", "ratio", "jump")
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


@_fault("foot-forces-turnout", "deg", "plie")
def _foot_forces_turnout(score: Score, step: Step, fault: Fault) -> Times:
    # The feet stay where they are; the knees do not follow them, from the first bend to the last.
    for side in _sides(fault):
        score.channel("knee_in", side).bump(step.start_s - 0.4, step.end_s + 0.4, np.radians(fault.size), 0.4)
    return step.start_s, step.moments["bottom_s"]
