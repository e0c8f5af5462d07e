"""Measures of turns: preparation, axis, support, head, arms, ending."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import angle_between, apply, unit
from ..body.movement import FOOT_POINTS, SIDE_SIGNS, SIDES, SUFFIXES
from ..phrase.phase import Balance, Phase, Turn
from ..phrase.plies import held_bottom
from ..take import Floats
from .evidence import OTHER, Evidence, Pirouette, made_once, runs
from .limits import READING, STEPS, TURNS
from .observation import NotTold, Observation
from .reading import Reading, Window, extreme

Told = Iterator[Observation | NotTold | None]

#: A lean has two directions when the smaller part of it is at least this share of the greater (22.5° off one direction).
BOTH_WAYS = float(np.tan(np.radians(22.5)))


@made_once
def place_mm(evidence: Evidence, side: str, point: str) -> Floats:
    """Place (F, 2) of heel or ball over the floor, mm."""
    place = evidence.ball(side) if point == "ball" else evidence.foot_point(side, point)
    return 1000 * place[:, :2]


def from_widest(told: Observation | NotTold | None, curve: Floats, first: int) -> Observation | NotTold | None:
    """A loss counted from the frame in which its curve (of the frames from ``first``) was the greatest before it."""
    if not isinstance(told, Observation):
        return told
    before = curve[: told.peak - first + 1]
    return replace(told, against=first + int(np.nanargmax(before))) if np.isfinite(before).any() else told


def _prepared(evidence: Evidence, turn: Pirouette) -> tuple[int, int] | None:
    """Start of the plié before a turn, and the frame in which the standing knee is bent most or, where it is held at the bottom,
    the last one before it pushes (catalogue 6.4); None without a plié.

    Not the lowest centre of mass: a heel that lifts early raises it while the knee still bends.
    """
    start = evidence.at(turn.phase.preparation_s)
    if start is None or start >= turn.alone:
        return None
    bend = np.radians(evidence.degrees("knee_flexion", turn.support)[start : turn.alone + 1])
    arrival, push = held_bottom(bend, evidence.rate_hz)
    return (start, start + max(push, round(arrival))) if np.isfinite(arrival) else None


def _stops_waiting(evidence: Evidence, turn: Pirouette, start: int) -> int:
    """Last frame in which the standing foot has to keep still before a turn (catalogue, foot-slips-parallel).

    Until the pelvis has turned by 5° in the sense of the turn or the heel leaves for the relevé, whichever is first.
    """
    end = turn.alone if turn.leave is None else min(turn.alone, turn.leave)
    yaw = (1.0 if turn.phase.side == "left" else -1.0) * evidence.degrees("pelvis_yaw")[start : turn.alone + 1]
    if not np.isfinite(yaw).any():
        return max(end, start + 1)
    # A pelvis that winds up first has turned by 5° from where it was wound to.
    waiting = np.flatnonzero(yaw < np.nanmin(yaw) + TURNS.with_the_body_deg)
    return max(min(end, start + int(waiting[-1])), start + 1)


def heel_lifts_early(evidence: Evidence) -> Told:
    """Standing heel above the floor at and before the deepest plié of the preparation."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None:
            continue
        start, bottom = prepared
        heel = evidence.heel_mm(turn.support)
        joints = ("heel" + SUFFIXES[turn.support],)
        # A preparation from a high heel (a step on a stretched foot) has no heel to lose.
        if not np.nanmin(np.append(heel[start : bottom + 1], np.inf)) < TURNS.heel_off_mm:
            continue
        told = extreme(
            evidence,
            Reading(
                "heel-lifts-early",
                "height",
                1,
                joints=joints,
                side=turn.support,
                made_of=partial(Evidence.heel_mm, side=turn.support),
            ),
            turn.phase,
            Window(heel, (bottom - 1, bottom + 1)),
        )
        if isinstance(told, Observation):
            told = replace(told, start=start, curve=heel[start : told.end + 1])
            yield told
            lifted = [a for a, b in runs(np.nan_to_num(heel[start : bottom + 1]) > TURNS.heel_off_mm) if start + b > bottom]
            if lifted and told.value > TURNS.heel_off_mm:
                lead = (bottom - start - lifted[0]) / evidence.rate_hz
                # A heel that lifts slowly has lifted at a time that is known less well.
                speed = float(abs(np.gradient(heel)[start + lifted[0]])) * evidence.rate_hz
                yield Observation(
                    "heel-lifts-early",
                    "lead",
                    turn.phase,
                    turn.support,
                    lead,
                    start + lifted[0],
                    bottom,
                    bottom,
                    joints,
                    extra_sd=float(np.hypot(READING.event_s, min(TURNS.heel_sd_mm / max(speed, 1.0), 0.2))),
                )
        else:
            yield told


def foot_slips_parallel(evidence: Evidence) -> Told:
    """Standing foot turning in on the floor, or its heel sliding, while the preparation is danced."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None:
            continue
        start = prepared[0]
        end = _stops_waiting(evidence, turn, start)
        sign = SIDE_SIGNS[SIDES.index(turn.support)]
        heading = evidence.foot_heading_deg(turn.support)
        settled = start + evidence.samples(0.1)
        inward = sign * (heading - evidence.before(heading, start, settled))
        joints = ("heel" + SUFFIXES[turn.support], "toe" + SUFFIXES[turn.support])
        yield extreme(
            evidence,
            Reading(
                "foot-slips-parallel",
                "yaw",
                1,
                joints=joints,
                side=turn.support,
                lever_m=0.18,
                made_of=partial(Evidence.foot_heading_deg, side=turn.support),
                against=start,
            ),
            turn.phase,
            Window(inward, (start, end)),
        )
        heel = evidence.foot_point(turn.support, "heel")
        flat = np.array([evidence.before(heel[:, axis], start, settled) for axis in range(2)])
        slid = 1000 * np.linalg.norm(heel[:, :2] - flat, axis=1)
        # A heel on its way up moves forward by itself.
        low = evidence.heel_mm(turn.support) < TURNS.rising_mm
        told = extreme(
            evidence,
            Reading(
                "foot-slips-parallel",
                "slip",
                1,
                joints=joints,
                side=turn.support,
                made_of=partial(place_mm, side=turn.support, point="heel"),
                against=start,
            ),
            turn.phase,
            Window(slid, (start, end), asked=low),
        )
        if isinstance(told, Observation):
            yield told


def turnout_lost_supporting(evidence: Evidence) -> Told:
    """Azimuth of the standing foot against the pelvis, from full relevé to the start of the way down."""
    for turn in evidence.turns:
        turnout = evidence.degrees("foot_turnout", turn.support)
        first = evidence.before(turnout, turn.rise, turn.rise + evidence.samples(0.08))
        yield extreme(
            evidence,
            Reading(
                "turnout-lost-supporting",
                "loss",
                1,
                joints=("heel" + SUFFIXES[turn.support], "toe" + SUFFIXES[turn.support], "hip" + SUFFIXES[turn.support]),
                side=turn.support,
                lever_m=0.18,
                made_of=partial(Evidence.degrees, name="foot_turnout", side=turn.support),
                against=turn.rise,
            ),
            turn.phase,
            Window(first - turnout, (turn.rise, turn.sink)),
        )


@made_once
def _toe_on_the_leg(evidence: Evidence, working: str, support: str) -> Floats:
    """Place (F, 2) of the working toe against the standing leg: along it from the ankle, and away from it, metres."""
    toe, hip, ankle = (evidence.joint(*at) for at in (("toe", working), ("hip", support), ("ankle", support)))
    along = unit(hip - ankle)
    height = ((toe - ankle) * along).sum(axis=1)
    return np.stack([height, np.linalg.norm(toe - ankle - height[:, None] * along, axis=1)], axis=1)


def _in_retire(evidence: Evidence, working: str, support: str, window: tuple[int, int]) -> NDArray[np.bool_]:
    """Frames (F,) of a window in which the retiré is there: the working leg bent, its toe near the standing leg and in its place;
    neither the way up nor the way down. None of them where the pose is another one.
    """
    there = np.zeros(evidence.frames, dtype=bool)
    part = slice(window[0], window[1] + 1)
    bend, place = evidence.degrees("knee_flexion", working)[part], _toe_on_the_leg(evidence, working, support)[part]
    near = (bend > STEPS.retire_deg) & (place[:, 1] < TURNS.at_the_leg_m)
    known = np.isfinite(bend) & np.isfinite(place).all(axis=1)
    if known.any() and near.sum() > 0.5 * known.sum():
        own = np.median(place[near], axis=0)
        there[part] = near & (np.linalg.norm(place - own, axis=1) < TURNS.in_place_m)
    return there


def _retires(evidence: Evidence) -> Iterator[tuple[Phase, str, str, tuple[int, int], NDArray[np.bool_]]]:
    """Phases in retiré with working side, standing side, the window from the first to the last frame in which the retiré is
    there, and those frames (F,)."""
    held: list[tuple[Phase, str, tuple[int, int]]] = [
        (turn.phase, turn.support, (turn.alone, turn.close)) for turn in evidence.turns
    ]
    held += [
        (balance, balance.support, (balance.start, balance.end))
        for balance in evidence.phrase.of(Balance)
        if balance.support is not None and balance.support != "both"
    ]
    for phase, support, window in held:
        working = OTHER[support]
        there = _in_retire(evidence, working, support, window)
        frames = np.flatnonzero(there)
        if frames.size >= evidence.samples(TURNS.least_retire_s):
            yield phase, working, support, (int(frames[0]), int(frames[-1])), there


def turnout_lost_working(evidence: Evidence) -> Told:
    """How far the direction of the bent knee falls from its widest while the retiré is there."""
    for phase, working, _, window, there in _retires(evidence):
        turnout = np.where(there, evidence.degrees("knee_turnout", working), np.nan)
        part = evidence.steady_part(turnout, *window)
        if not np.isfinite(part).any():
            continue
        widest = int(np.nanargmax(part))
        told = extreme(
            evidence,
            Reading(
                "turnout-lost-working",
                "loss",
                1,
                joints=tuple(name + SUFFIXES[working] for name in ("hip", "knee", "ankle")),
                side=working,
                extra_sd=STEPS.noisy_deg,
                made_of=partial(Evidence.degrees, name="knee_turnout", side=working),
            ),
            phase,
            Window(part[widest] - turnout, window, asked=there),
        )
        yield replace(told, against=window[0] + widest) if isinstance(told, Observation) else told


def turnout_lost_finish(evidence: Evidence) -> Told:
    """Turnout of both feet when the turn closes and just after, against the preparation."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None or evidence.at(turn.phase.close_s) is None:
            continue
        # While both feet stay down; who steps on at once has closed nothing.
        leaves = np.flatnonzero(~evidence.on_both[turn.close + 1 : turn.close + evidence.samples(TURNS.skid_s) + 1])
        close, after = turn.close, turn.close + (int(leaves[0]) if leaves.size else evidence.samples(TURNS.skid_s))
        brief = evidence.samples(0.05)
        if after >= evidence.frames or after - close < 2 * brief:
            continue
        for side in SIDES:
            turnout = evidence.degrees("foot_turnout", side)
            asked = evidence.before(turnout, prepared[0], prepared[0] + evidence.samples(0.15))
            arrived = evidence.before(turnout, close, close + brief)
            later = evidence.before(turnout, after - brief, after)
            joints = ("heel" + SUFFIXES[side], "toe" + SUFFIXES[side])
            if not np.isfinite([asked, arrived, later]).all():
                yield NotTold("turnout-lost-finish", turn.phase, f"the {side} foot could not be seen at the end of the turn")
                continue
            for measure, value, against in (("loss", asked - max(arrived, later), prepared[0]), ("skid", later - arrived, after)):
                yield Observation(
                    "turnout-lost-finish",
                    measure,
                    turn.phase,
                    side,
                    value,
                    close,
                    close + brief // 2,
                    after,
                    joints,
                    lever_m=0.18,
                    # Any skid beyond the band is a fault (catalogue).
                    beyond_fault=measure == "skid",
                    made_of=partial(Evidence.degrees, name="foot_turnout", side=side),
                    against=against,
                )


@made_once
def axis_tilt(evidence: Evidence, support: str) -> Floats:
    """Angle (F,) between the vertical and the line from the ball of the standing foot to the centre of mass, degrees.

    Source: catalogue, axis tilt. NaN where either is not known.
    """
    line = evidence.movement.centre_of_mass_m - evidence.ball(support)
    return np.asarray(np.degrees(angle_between(line, np.broadcast_to([0.0, 0.0, 1.0], line.shape))))


def _which_way(evidence: Evidence, support: str, frame: int) -> str:
    """Where the axis leans in the dancer's own directions: "forward", "back and left", ..."""
    lean = evidence.movement.centre_of_mass_m[frame] - evidence.ball(support)[frame]
    ahead = evidence.movement.segment("pelvis")[frame, :2, 0]
    along, across = float(lean[:2] @ ahead), float(lean[:2] @ [ahead[1], -ahead[0]])
    if not np.isfinite([along, across]).all():
        return ""
    parts = ((abs(along), "forward" if along > 0 else "back"), (abs(across), "right" if across > 0 else "left"))
    ways = sorted(parts, reverse=True)
    second = ways[1][0] > BOTH_WAYS * ways[0][0]
    return f" {ways[0][1]} and {ways[1][1]}" if second else f" {ways[0][1]}"


def axis_tilts(evidence: Evidence) -> Told:
    """Lean of the axis on one foot, from fully up to the start of the way down, and which way."""
    for turn in evidence.turns:
        told = extreme(
            evidence,
            Reading(
                "axis-tilts",
                "tilt",
                1,
                joints=("pelvis", "toe" + SUFFIXES[turn.support]),
                side=turn.support,
                lever_m=0.9,
                made_of=partial(axis_tilt, support=turn.support),
            ),
            turn.phase,
            Window(axis_tilt(evidence, turn.support), (turn.rise, turn.sink), asked=evidence.forefoot_down(turn.support)),
        )
        if isinstance(told, Observation):
            told = replace(told, says="axis leans" + _which_way(evidence, turn.support, told.peak))
        yield told


def turn_travels(evidence: Evidence) -> Told:
    """How far the ball of the standing foot has moved over the floor from beginning to end of a turn, per revolution."""
    for turn in evidence.turns:
        ball = evidence.ball(turn.support)[:, :2]
        brief = evidence.samples(0.04)
        first = np.array([evidence.before(ball[:, axis], turn.rise, turn.rise + brief) for axis in range(2)])
        turns = max(1.0, turn.phase.revolutions or 1.0)
        away = 1000 * np.linalg.norm(ball - first, axis=1) / turns
        told = extreme(
            evidence,
            Reading(
                "turn-travels",
                "travel",
                1,
                joints=("toe" + SUFFIXES[turn.support],),
                side=turn.support,
                # A way between two places, both with their noise: it is never less than nothing.
                extra_sd=float(np.sqrt(2.0)) * STEPS.noisy_mm,
                made_of=partial(place_mm, side=turn.support, point="ball"),
                against=turn.rise,
            ),
            turn.phase,
            Window(away, (max(turn.sink - brief, turn.rise), turn.sink)),
        )
        if isinstance(told, Observation):
            told = replace(told, start=turn.rise, curve=away[turn.rise : told.end + 1])
        yield told


@made_once
def lowest_forefoot_mm(evidence: Evidence, side: str) -> Floats:
    """Height (F,) of the lowest point of ball and toe above its own flat height, mm."""
    heights = evidence.movement.foot_heights_m[:, SIDES.index(side), FOOT_POINTS.index("ball_medial") :]
    return np.asarray(1000 * np.min(heights, axis=1))


def turn_hops(evidence: Evidence) -> Told:
    """Standing foot off the floor in the turn."""
    for turn in evidence.turns:
        clearance = evidence.clearance_mm(turn.support)
        inside = np.nan_to_num(clearance[turn.alone : turn.close + 1])
        hops = [
            (a, b)
            for a, b in runs(inside > STEPS.hop_mm)
            if b - a >= TURNS.hop_s * evidence.rate_hz and b < inside.size and a > 0
        ]
        joints = ("toe" + SUFFIXES[turn.support],)
        if not hops:
            known = np.isfinite(clearance[turn.alone : turn.close + 1]).mean()
            if known < 0.5:
                yield NotTold("turn-hops", turn.phase, f"the {turn.support} forefoot could not be seen for long enough")
            continue
        longest = max(hops, key=lambda hop: hop[1] - hop[0])
        window = (turn.alone + longest[0], turn.alone + longest[1])
        told = extreme(
            evidence,
            Reading(
                "turn-hops",
                "clearance",
                1,
                joints=joints,
                side=turn.support,
                made_of=partial(lowest_forefoot_mm, side=turn.support),
                against=turn.rise,
            ),
            turn.phase,
            Window(clearance, window),
        )
        if isinstance(told, Observation):
            lasting = (longest[1] - longest[0]) / evidence.rate_hz >= TURNS.hop_fault_s or len(hops) > 1
            yield replace(told, beyond_fault=lasting)


def late_spot(evidence: Evidence) -> Told:
    """How far the head stays behind and goes ahead of the chest, and its lead when the front comes round, per revolution."""
    for turn in evidence.turns:
        whole = round(turn.phase.revolutions or 0.0)
        if whole < 1:
            continue
        direction = 1.0 if turn.phase.side == "left" else -1.0
        trunk = direction * evidence.degrees("thorax_yaw")
        head = direction * evidence.degrees("head_heading")
        start = max(0, turn.phase.start - evidence.samples(0.1))
        end = min(evidence.frames - 1, turn.phase.end + evidence.samples(0.3))
        if not (np.isfinite(trunk[start : end + 1]) & np.isfinite(head[start : end + 1])).mean() > 0.5:
            yield NotTold("late-spot", turn.phase, "the head could not be seen for long enough")
            continue
        # Trunk and head look the same way before the turn: their unwrapped courses are counted from the same front.
        apart = 360 * np.round((head[start] - trunk[start]) / 360) if np.isfinite(head[start] - trunk[start]) else 0.0
        head = head - apart
        front = trunk[start] if np.isfinite(trunk[start]) else np.nanmin(trunk[start : end + 1])
        turned = np.abs(evidence.change("head_yaw"))[turn.phase.start : turn.phase.end + 1]
        furthest = int(np.nanargmax(turned))
        yield Observation(
            "late-spot",
            "apart",
            turn.phase,
            None,
            float(turned[furthest]),
            turn.phase.start,
            turn.phase.start + furthest,
            turn.phase.end,
            ("head", "neck"),
            lever_m=0.15,
            extra_sd=TURNS.whipped_deg,
            made_of=partial(Evidence.change, name="head_yaw"),
        )
        for revolution in range(1, whole + 1):
            home = front + 360 * revolution - 30
            passed = [np.flatnonzero(np.nan_to_num(curve[start : end + 1], nan=-1e9) >= home) for curve in (head, trunk)]
            if not all(frames.size for frames in passed):
                continue
            arrived = [start + int(frames[0]) for frames in passed]
            lead = (arrived[1] - arrived[0]) / evidence.rate_hz
            yield Observation(
                "late-spot",
                "lead",
                turn.phase,
                None,
                lead,
                min(arrived),
                min(arrived),
                max(arrived),
                ("head", "neck"),
            )


@made_once
def hand_height_mm(evidence: Evidence, side: str) -> Floats:
    """Wrist (F,) above the base of the neck along the upright axis of the thorax, mm."""
    thorax = evidence.movement.segment("thorax")
    away = apply(np.swapaxes(thorax, -1, -2), evidence.joint("wrist", side) - evidence.joint("neck"))
    return np.asarray(1000 * away[:, 1])


def arms_drop(evidence: Evidence) -> Told:
    """How far a hand sinks against the chest after the arms have closed, and how unequal the hands become."""
    if not evidence.turns:
        return
    heights = {side: hand_height_mm(evidence, side) for side in SIDES}
    for turn in evidence.turns:
        # Fully up the arms have closed (catalogue, arms-drop).
        closed = turn.rise
        window, brief = (closed, turn.sink), evidence.samples(0.05)
        for side in SIDES:
            height = heights[side]
            joints = ("wrist" + SUFFIXES[side],)
            if np.isfinite(height[closed : turn.sink + 1]).mean() < READING.least_known:
                yield NotTold("arms-drop", turn.phase, f"the {side} hand could not be seen for long enough")
                continue
            yield extreme(
                evidence,
                Reading(
                    "arms-drop",
                    "drop",
                    1,
                    joints=joints,
                    side=side,
                    extra_sd=TURNS.girdle_mm,
                    made_of=partial(hand_height_mm, side=side),
                    against=closed,
                ),
                turn.phase,
                Window(evidence.before(height, closed, closed + brief) - height, window),
            )
        apart = heights["left"] - heights["right"]
        apart = np.abs(apart - evidence.before(apart, closed, closed + brief))
        told = extreme(
            evidence,
            Reading(
                "arms-drop",
                "difference",
                1,
                joints=("wrist.L", "wrist.R"),
                side="both",
                extra_sd=TURNS.girdle_mm,
                made_of=lambda e: hand_height_mm(e, "left") - hand_height_mm(e, "right"),
                against=closed,
            ),
            turn.phase,
            Window(apart, window),
        )
        if isinstance(told, Observation):
            yield told


def turn_angle_off(evidence: Evidence) -> Told:
    """What the turn lacks, or has too much of, against whole turns."""
    turns = evidence.phrase.of(Turn)
    for turn in turns:
        turned = turn.turned_deg
        follows = any(other.chain == turn.chain and other.start > turn.start for other in turns)
        if turn.not_counted is not None:
            yield NotTold("turn-angle-off", turn, turn.not_counted)
        # A turn that another one follows, or that is not closed, has no facing to end in.
        if turned is None or follows or evidence.at(turn.close_s) is None or abs(turned) < 270:
            continue
        close = evidence.at(turn.close_s) or turn.end
        start = evidence.at(turn.preparation_s)
        start = turn.start if start is None else start
        # From the facing of the preparation: a pelvis that winds up first has not to turn further.
        yaw = evidence.degrees("pelvis_yaw")
        facings = [evidence.before(yaw, frame, frame + evidence.samples(0.05)) for frame in (start, close)]
        residual = float("nan")
        if np.isfinite(facings).all():
            apart = (1.0 if turned > 0 else -1.0) * (facings[1] - facings[0])
            residual = apart - 360 * round(apart / 360)
        yield Observation(
            "turn-angle-off",
            "residual",
            turn,
            None,
            residual,
            turn.start,
            close,
            close,
            ("hip.L", "hip.R"),
            made_of=partial(Evidence.degrees, name="pelvis_yaw"),
            against=start,
        )


@made_once
def retire_height(evidence: Evidence, working: str, support: str) -> Floats:
    """Height (F,) of the working toe along the standing shank, as a share of it."""
    ankle, knee = evidence.joint("ankle", support)[:, 2], evidence.joint("knee", support)[:, 2]
    return np.asarray((evidence.joint("toe", working)[:, 2] - ankle) / (knee - ankle))


def low_retire(evidence: Evidence) -> Told:
    """Height of the toe along the standing shank in the retiré."""
    for phase, working, support, window, _ in _retires(evidence):
        height = retire_height(evidence, working, support)
        later = window[0] + (window[1] - window[0]) // 4
        part = height[later : window[1] + 1]
        part = part[np.isfinite(part)]
        # A toe below the middle of the shank is another place of the foot, not a low retiré.
        if not part.size or np.median(part) < 0.5:
            continue
        # A toe that comes up late, or sinks before the closing, was low for that while.
        value = float(np.quantile(part, TURNS.low_for))
        joints = ("toe" + SUFFIXES[working], "knee" + SUFFIXES[support], "ankle" + SUFFIXES[support])
        peak = later + int(np.nanargmin(np.abs(height[later : window[1] + 1] - value)))
        yield Observation(
            "low-retire",
            "height",
            phase,
            working,
            value,
            later,
            peak,
            window[1],
            joints,
            height[later : window[1] + 1],
            extra_sd=float(TURNS.toe_m / evidence.movement.standing.shank_length_m),
            made_of=partial(retire_height, working=working, support=support),
        )


def _heel_share(evidence: Evidence, side: str, own_mm: float) -> Floats:
    return evidence.heel_mm(side) / own_mm


def _shows_releve(evidence: Evidence, side: str, own_mm: float, peak: int) -> int | None:
    """Frame in which a standing foot shows the own highest relevé, the furthest in time from ``peak``; None where none does."""
    shows = np.abs(evidence.heel_mm(side) - own_mm) < TURNS.shows_own_mm
    frames = np.flatnonzero(shows & evidence.forefoot_down(side) & evidence.on(side))
    frames = frames[frames != peak]
    return int(frames[np.argmax(np.abs(frames - peak))]) if frames.size else None


def low_releve(evidence: Evidence) -> Told:
    """Heel against the own highest relevé, and how far it sinks before the turning ends."""
    held: list[tuple[Phase, str, tuple[int, int], Pirouette | None]] = [
        # Until the turning ends: who rises to close has turned on a low relevé.
        (turn.phase, turn.support, (turn.alone, max(min(turn.close, turn.phase.end), turn.rise)), turn)
        for turn in evidence.turns
    ]
    for balance in evidence.phrase.of(Balance):
        # On one foot (catalogue): who holds on two need not come as high.
        if balance.support in SIDES:
            held += [(balance, side, (balance.start, balance.end), None) for side in evidence.supports(balance)]
    for phase, support, window, turn in held:
        own = 1000 * float(evidence.movement.standing.releve_m[SIDES.index(support)])
        heel = np.where(evidence.forefoot_down(support), evidence.heel_mm(support), np.nan)
        part = evidence.steady_part(heel, *window)
        if not np.isfinite(part).any():
            yield NotTold("low-releve", phase, f"the {support} heel could not be seen")
            continue
        plateau = float(np.nanquantile(part, 0.9))
        if plateau < STEPS.risen_mm:
            continue
        joints = ("heel" + SUFFIXES[support], "toe" + SUFFIXES[support])
        up = np.flatnonzero(np.nan_to_num(part) > 0.5 * plateau)
        peak = window[0] + int(np.nanargmin(np.abs(part - plateau)))
        if np.isfinite(own) and own > STEPS.risen_mm:
            start, end = window[0] + int(up[0]), window[0] + int(up[-1])
            yield Observation(
                "low-releve",
                "share",
                phase,
                support,
                plateau / own,
                start,
                peak,
                end,
                joints,
                heel[start : end + 1] / own,
                lever_m=own / 1000,
                extra_sd=TURNS.own_releve_share,
                made_of=partial(_heel_share, side=support, own_mm=own),
                # A heel marker that sits elsewhere is as far off in the own highest relevé: one is told against the other.
                against=_shows_releve(evidence, support, own, peak),
            )
        if turn is not None:
            # Of the frames at that height the first: a heel sinks from there on.
            first = max(turn.rise, window[0] + int(np.flatnonzero(np.nan_to_num(part) >= plateau)[0]))
            end = min(turn.sink, turn.phase.end, turn.close - evidence.samples(TURNS.before_closing_s))
            if end > first:
                yield extreme(
                    evidence,
                    Reading(
                        "low-releve",
                        "sink",
                        1,
                        joints=joints,
                        side=support,
                        extra_sd=0.5 * STEPS.noisy_mm,
                        made_of=partial(Evidence.heel_mm, side=support),
                        against=peak,
                    ),
                    phase,
                    Window(plateau - heel, (first, end), asked=evidence.forefoot_down(support)),
                )


def shoulders_lead(evidence: Evidence) -> Told:
    """Twist of the chest against the pelvis from the preparation to the moment alone on one foot."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None:
            continue
        yield extreme(
            evidence,
            Reading(
                "shoulders-lead",
                "twist",
                0,
                joints=("shoulder.L", "shoulder.R", "hip.L", "hip.R"),
                lever_m=0.3,
                made_of=partial(Evidence.change, name="thorax_twist"),
            ),
            turn.phase,
            Window(evidence.change("thorax_twist"), (prepared[0], turn.alone)),
        )
