"""Measures of turns: preparation, axis, support, head, arms, ending."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from ..body.geometry import angle_between, apply, unit
from ..body.movement import FOOT_POINTS, SIDE_SIGNS, SIDES, SUFFIXES
from ..phrase.phase import Phase
from ..take import Floats
from .evidence import RISEN_MM, Evidence, Turn, made_once, runs
from .observation import NotTold, Observation

Told = Iterator[Observation | NotTold]

#: A heel that is higher than this for so long has left the floor. Source: catalogue, heel-lifts-early.
HEEL_OFF_MM, HEEL_OFF_S = 10.0, 0.05
#: A hop: clearance and time. Source: catalogue, turn-hops.
HOP_MM, HOP_S, HOP_FAULT_S = 10.0, 0.03, 0.05
#: Two shoulder girdles that move under their skin, beyond what the model of the skin knows. Proposed default.
GIRDLE_MM = 1.0
#: What smoothing takes off the furthest point of a head that whips round. Proposed default.
WHIPPED_DEG = 0.5
#: A toe marker sits on the toe, not at its tip; how far off that is depends on how the foot is held. Proposed default.
TOE_M = 0.008
#: The own highest relevé is itself only the highest that was danced. Proposed default.
OWN_RELEVE_SHARE = 0.02
#: A knee bent by more than this is a retiré, not a stretched leg.
RETIRE_DEG = 60.0
#: How near the toe is to the standing leg in a retiré, metres; further away the pose is another one.
AT_THE_LEG_M = 0.20


@made_once
def place_mm(evidence: Evidence, side: str, point: str) -> Floats:
    """Place (F, 2) of heel or ball over the floor, mm."""
    place = evidence.ball(side) if point == "ball" else evidence.foot_point(side, point)
    return 1000 * place[:, :2]


def from_widest(told: Observation | NotTold, curve: Floats, first: int) -> Observation | NotTold:
    """A loss counted from the frame in which its curve (of the frames from ``first``) was the greatest before it."""
    if isinstance(told, NotTold):
        return told
    before = curve[: told.peak - first + 1]
    return replace(told, against=first + int(np.nanargmax(before))) if np.isfinite(before).any() else told


def _prepared(evidence: Evidence, turn: Turn) -> tuple[int, int] | None:
    """Start of the plié before a turn and the frame in which the standing knee is bent most; None without a plié.

    Not the lowest centre of mass: a heel that lifts early raises it while the knee still bends.
    """
    start = evidence.at(turn.phase, "preparation_s")
    if start is None or start >= turn.alone:
        return None
    bend = evidence.degrees("knee_flexion", turn.support)[start : turn.alone + 1]
    return (start, start + int(np.nanargmax(bend))) if np.isfinite(bend).any() else None


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
        if not np.nanmin(np.append(heel[start : bottom + 1], np.inf)) < HEEL_OFF_MM:
            continue
        told = evidence.extreme(
            "heel-lifts-early",
            "height",
            turn.phase,
            heel,
            (bottom - 1, bottom + 1),
            +1,
            joints=joints,
            side=turn.support,
            made_of=partial(Evidence.heel_mm, side=turn.support),
        )
        if isinstance(told, Observation):
            told = replace(told, start=start, curve=heel[start : told.end + 1])
            yield told
            lifted = [a for a, b in runs(np.nan_to_num(heel[start : bottom + 1]) > HEEL_OFF_MM) if start + b > bottom]
            if lifted and told.value > HEEL_OFF_MM:
                lead = (bottom - start - lifted[0]) / evidence.rate_hz
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
                )
        else:
            yield told


def foot_slips_parallel(evidence: Evidence) -> Told:
    """Standing foot turning in on the floor, or its heel sliding, while the preparation is danced."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None:
            continue
        start, bottom = prepared
        rise = evidence.at(turn.phase, "releve_s")
        # The heel may leave early; what the foot does until the push is over still belongs to the preparation.
        end = min(max(bottom + evidence.samples(0.06), rise if rise is not None else 0), turn.alone)
        sign = SIDE_SIGNS[SIDES.index(turn.support)]
        heading = evidence.foot_heading_deg(turn.support)
        settled = start + evidence.samples(0.15)
        inward = sign * (heading - evidence.before(heading, start, settled))
        joints = ("heel" + SUFFIXES[turn.support], "toe" + SUFFIXES[turn.support])
        yield evidence.extreme(
            "foot-slips-parallel",
            "yaw",
            turn.phase,
            inward,
            (start, end),
            +1,
            joints=joints,
            side=turn.support,
            lever_m=0.18,
            made_of=partial(Evidence.foot_heading_deg, side=turn.support),
            against=start,
        )
        heel = evidence.foot_point(turn.support, "heel")
        flat = np.array([evidence.before(heel[:, axis], start, settled) for axis in range(2)])
        slid = 1000 * np.linalg.norm(heel[:, :2] - flat, axis=1)
        # A heel on its way up moves forward by itself.
        slid = np.where(evidence.heel_mm(turn.support) < HEEL_OFF_MM, slid, np.nan)
        told = evidence.extreme(
            "foot-slips-parallel",
            "slip",
            turn.phase,
            slid,
            (start, bottom),
            +1,
            joints=joints,
            side=turn.support,
            least_known=0.3,
            made_of=partial(place_mm, side=turn.support, point="heel"),
            against=start,
        )
        if isinstance(told, Observation):
            yield told


def turnout_lost_supporting(evidence: Evidence) -> Told:
    """Azimuth of the standing foot against the pelvis, from full relevé to the start of the way down."""
    for turn in evidence.turns:
        turnout = evidence.degrees("foot_turnout", turn.support)
        first = evidence.before(turnout, turn.rise, turn.rise + evidence.samples(0.08))
        yield evidence.extreme(
            "turnout-lost-supporting",
            "loss",
            turn.phase,
            first - turnout,
            (turn.rise, turn.sink),
            +1,
            joints=("heel" + SUFFIXES[turn.support], "toe" + SUFFIXES[turn.support], "hip" + SUFFIXES[turn.support]),
            side=turn.support,
            lever_m=0.18,
            made_of=partial(Evidence.degrees, name="foot_turnout", side=turn.support),
            against=turn.rise,
        )


def _in_retire(evidence: Evidence, working: str, support: str, window: tuple[int, int]) -> bool:
    """Whether the working leg is bent with its toe near the standing leg between two frames."""
    part = slice(window[0], window[1] + 1)
    bend = evidence.degrees("knee_flexion", working)[part]
    places = (("toe", working), ("hip", support), ("ankle", support))
    toe, hip, ankle = (evidence.joint(name, side)[part] for name, side in places)
    along = unit(ankle - hip)
    away = toe - hip
    distance = np.linalg.norm(away - (away * along).sum(axis=1)[:, None] * along, axis=1)
    if not (np.isfinite(bend) & np.isfinite(distance)).any():
        return False
    return bool(np.nanmedian(bend) > RETIRE_DEG and np.nanmedian(distance) < AT_THE_LEG_M)


def _retires(evidence: Evidence) -> Iterator[tuple[Phase, str, str, tuple[int, int]]]:
    """Phases in retiré with working side, standing side and the window in which the retiré is there."""
    for turn in evidence.turns:
        window = (turn.rise, turn.sink)
        if _in_retire(evidence, turn.working, turn.support, window):
            yield turn.phase, turn.working, turn.support, window
    for balance in evidence.phrase.of_kind("balance"):
        support = balance.properties.get("support")
        if support in SIDES and isinstance(support, str):
            working = SIDES[1 - SIDES.index(support)]
            if _in_retire(evidence, working, support, (balance.start, balance.end)):
                yield balance, working, support, (balance.start, balance.end)


def turnout_lost_working(evidence: Evidence) -> Told:
    """How far the direction of the bent knee falls from its widest in the retiré."""
    for phase, working, _, window in _retires(evidence):
        part = evidence.steady_part(evidence.degrees("knee_turnout", working), *window)
        joints = tuple(name + SUFFIXES[working] for name in ("hip", "knee", "ankle"))
        if np.isfinite(part).mean() < 0.5:
            yield NotTold("turnout-lost-working", phase, "the working knee could not be seen for long enough")
            continue
        loss = np.fmax.accumulate(np.where(np.isfinite(part), part, -np.inf)) - part
        told = evidence.extreme(
            "turnout-lost-working",
            "loss",
            phase,
            loss,
            window,
            +1,
            joints=joints,
            side=working,
            made_of=partial(Evidence.degrees, name="knee_turnout", side=working),
        )
        yield from_widest(told, part, window[0])


def turnout_lost_finish(evidence: Evidence) -> Told:
    """Turnout of both feet when the turn closes and just after, against the preparation."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None or evidence.at(turn.phase, "close_s") is None:
            continue
        close, after = turn.close, turn.close + evidence.samples(0.3)
        if after >= evidence.frames:
            continue
        for side in SIDES:
            turnout = evidence.degrees("foot_turnout", side)
            brief = evidence.samples(0.05)
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


def axis_tilts(evidence: Evidence) -> Told:
    """Lean of the axis on one foot, from fully up to the start of the way down."""
    for turn in evidence.turns:
        yield evidence.extreme(
            "axis-tilts",
            "tilt",
            turn.phase,
            axis_tilt(evidence, turn.support),
            (turn.rise, turn.sink),
            +1,
            joints=("pelvis", "toe" + SUFFIXES[turn.support]),
            side=turn.support,
            lever_m=0.9,
            made_of=partial(axis_tilt, support=turn.support),
        )


def turn_travels(evidence: Evidence) -> Told:
    """How far the ball of the standing foot moves over the floor in one turn."""
    for turn in evidence.turns:
        ball = evidence.ball(turn.support)[:, :2]
        brief = evidence.samples(0.04)
        first = np.array([evidence.before(ball[:, axis], turn.rise, turn.rise + brief) for axis in range(2)])
        turns = max(1.0, float(turn.phase.properties.get("revolutions") or 1.0))
        away = 1000 * np.linalg.norm(ball[turn.rise : turn.sink + 1] - first, axis=1) / turns
        told = evidence.extreme(
            "turn-travels",
            "travel",
            turn.phase,
            away,
            (turn.rise, turn.sink),
            +1,
            joints=("toe" + SUFFIXES[turn.support],),
            side=turn.support,
            made_of=partial(place_mm, side=turn.support, point="ball"),
            against=turn.rise,
        )
        yield told


@made_once
def lowest_forefoot_mm(evidence: Evidence, side: str) -> Floats:
    """Height (F,) of the lowest point of ball and toe above its own flat height, mm."""
    heights = evidence.movement.foot_heights_m[:, SIDES.index(side), FOOT_POINTS.index("ball_medial") :]
    return np.asarray(1000 * np.min(heights, axis=1))


def turn_hops(evidence: Evidence) -> Told:
    """Standing foot off the floor in the turn."""
    for turn in evidence.turns:
        height = lowest_forefoot_mm(evidence, turn.support)
        # On relevé the ball rolls: what it stands at there counts as down.
        resting = max(0.0, float(np.nan_to_num(np.nanquantile(np.append(height[turn.rise : turn.sink + 1], np.nan), 0.25))))
        clearance = height - resting
        inside = np.nan_to_num(clearance[turn.alone : turn.close + 1])
        hops = [(a, b) for a, b in runs(inside > HOP_MM) if b - a >= HOP_S * evidence.rate_hz and b < inside.size and a > 0]
        joints = ("toe" + SUFFIXES[turn.support],)
        if not hops:
            known = np.isfinite(height[turn.alone : turn.close + 1]).mean()
            if known < 0.5:
                yield NotTold("turn-hops", turn.phase, f"the {turn.support} forefoot could not be seen for long enough")
            continue
        longest = max(hops, key=lambda hop: hop[1] - hop[0])
        window = (turn.alone + longest[0], turn.alone + longest[1])
        told = evidence.extreme(
            "turn-hops",
            "clearance",
            turn.phase,
            clearance,
            window,
            +1,
            joints=joints,
            side=turn.support,
            made_of=partial(lowest_forefoot_mm, side=turn.support),
            against=turn.rise,
        )
        if isinstance(told, Observation):
            lasting = (longest[1] - longest[0]) / evidence.rate_hz >= HOP_FAULT_S or len(hops) > 1
            yield replace(told, beyond_fault=lasting)


def late_spot(evidence: Evidence) -> Told:
    """How far the head stays behind and goes ahead of the chest, and its lead when the front comes round, per revolution."""
    for turn in evidence.turns:
        whole = round(float(turn.phase.properties.get("revolutions") or 0.0))
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
            extra_sd=WHIPPED_DEG,
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
    steady = {side: evidence.steady(heights[side]) for side in SIDES}
    for turn in evidence.turns:
        window = (turn.rise, turn.sink)
        for side in SIDES:
            height = steady[side]
            part = height[window[0] : window[1] + 1]
            joints = ("wrist" + SUFFIXES[side],)
            if np.isfinite(part).mean() < 0.5:
                yield NotTold("arms-drop", turn.phase, f"the {side} hand could not be seen for long enough")
                continue
            drop = np.full(height.size, np.nan)
            drop[window[0] : window[1] + 1] = np.fmax.accumulate(np.where(np.isfinite(part), part, -np.inf)) - part
            told = evidence.extreme(
                "arms-drop",
                "drop",
                turn.phase,
                drop,
                window,
                +1,
                joints=joints,
                side=side,
                made_of=partial(hand_height_mm, side=side),
            )
            yield from_widest(told, part, window[0])
        apart = heights["left"] - heights["right"]
        apart = np.abs(apart - evidence.before(apart, turn.rise, turn.rise + evidence.samples(0.05)))
        told = evidence.extreme(
            "arms-drop",
            "difference",
            turn.phase,
            apart,
            window,
            +1,
            joints=("wrist.L", "wrist.R"),
            side="both",
            extra_sd=GIRDLE_MM,
            made_of=lambda e: hand_height_mm(e, "left") - hand_height_mm(e, "right"),
            against=turn.rise,
        )
        if isinstance(told, Observation):
            yield told


def turn_angle_off(evidence: Evidence) -> Told:
    """What the turn lacks, or has too much of, against whole turns."""
    turns = evidence.phrase.of_kind("turn")
    for turn in turns:
        turned = turn.properties.get("turned_deg")
        follows = any(
            other.properties.get("chain") == turn.properties.get("chain") and other.start > turn.start for other in turns
        )
        if isinstance(turn.properties.get("not_counted"), str):
            yield NotTold("turn-angle-off", turn, str(turn.properties["not_counted"]))
        # A turn that another one follows, or that is not closed, has no facing to end in.
        if not isinstance(turned, float) or follows or evidence.at(turn, "close_s") is None or abs(turned) < 270:
            continue
        residual = abs(turned) - 360 * round(abs(turned) / 360)
        close = evidence.at(turn, "close_s") or turn.end
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
            against=turn.start,
        )


@made_once
def retire_height(evidence: Evidence, working: str, support: str) -> Floats:
    """Height (F,) of the working toe along the standing shank, as a share of it."""
    ankle, knee = evidence.joint("ankle", support)[:, 2], evidence.joint("knee", support)[:, 2]
    return np.asarray((evidence.joint("toe", working)[:, 2] - ankle) / (knee - ankle))


def low_retire(evidence: Evidence) -> Told:
    """Height of the toe along the standing shank in the retiré."""
    for phase, working, support, window in _retires(evidence):
        height = retire_height(evidence, working, support)
        later = window[0] + (window[1] - window[0]) // 4
        part = height[later : window[1] + 1]
        part = part[np.isfinite(part)]
        # A toe below the middle of the shank is another place of the foot, not a low retiré.
        if not part.size or np.median(part) < 0.5:
            continue
        joints = ("toe" + SUFFIXES[working], "knee" + SUFFIXES[support], "ankle" + SUFFIXES[support])
        peak = later + int(np.nanargmin(np.abs(height[later : window[1] + 1] - np.median(part))))
        yield Observation(
            "low-retire",
            "height",
            phase,
            working,
            float(np.median(part)),
            later,
            peak,
            window[1],
            joints,
            height[later : window[1] + 1],
            extra_sd=float(TOE_M / evidence.movement.standing.shank_length_m),
            made_of=partial(retire_height, working=working, support=support),
        )


def _heel_share(evidence: Evidence, side: str, own_mm: float) -> Floats:
    return evidence.heel_mm(side) / own_mm


def low_releve(evidence: Evidence) -> Told:
    """Heel against the own highest relevé, and how far it sinks before the turn ends."""
    held: list[tuple[Phase, str, tuple[int, int], Turn | None]] = [
        (turn.phase, turn.support, (turn.alone, turn.close), turn) for turn in evidence.turns
    ]
    for balance in evidence.phrase.of_kind("balance"):
        for side in evidence.supports(balance):
            held += [(balance, side, (balance.start, balance.end), None)]
    for phase, support, window, turn in held:
        own = 1000 * float(evidence.movement.standing.releve_m[SIDES.index(support)])
        heel = evidence.heel_mm(support)
        part = heel[window[0] : window[1] + 1]
        part = part[np.isfinite(part)]
        if not part.size:
            yield NotTold("low-releve", phase, f"the {support} heel could not be seen")
            continue
        plateau = float(np.quantile(part, 0.9))
        if plateau < RISEN_MM:
            continue
        joints = ("heel" + SUFFIXES[support], "toe" + SUFFIXES[support])
        peak = window[0] + int(np.nanargmin(np.abs(heel[window[0] : window[1] + 1] - plateau)))
        if np.isfinite(own) and own > RISEN_MM:
            up = window[0] + np.flatnonzero(np.nan_to_num(heel[window[0] : window[1] + 1]) > 0.5 * plateau)
            start, end = int(up[0]), int(up[-1])
            held_mm = float(np.nanmedian(heel[up]))
            yield Observation(
                "low-releve",
                "share",
                phase,
                support,
                held_mm / own,
                start,
                peak,
                end,
                joints,
                heel[start : end + 1] / own,
                lever_m=own / 1000,
                extra_sd=OWN_RELEVE_SHARE,
                made_of=partial(_heel_share, side=support, own_mm=own),
            )
        if turn is not None:
            end = min(turn.sink, turn.close - evidence.samples(0.15))
            if end > peak:
                yield evidence.extreme(
                    "low-releve",
                    "sink",
                    phase,
                    plateau - heel,
                    (peak, end),
                    +1,
                    joints=joints,
                    side=support,
                    made_of=partial(Evidence.heel_mm, side=support),
                    against=peak,
                )


def shoulders_lead(evidence: Evidence) -> Told:
    """Twist of the chest against the pelvis from the preparation to the moment alone on one foot."""
    for turn in evidence.turns:
        prepared = _prepared(evidence, turn)
        if prepared is None:
            continue
        yield evidence.extreme(
            "shoulders-lead",
            "twist",
            turn.phase,
            evidence.change("thorax_twist"),
            (prepared[0], turn.alone),
            0,
            joints=("shoulder.L", "shoulder.R", "hip.L", "hip.R"),
            lever_m=0.3,
            made_of=partial(Evidence.change, name="thorax_twist"),
        )
