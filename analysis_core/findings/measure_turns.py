"""Measures of turns: preparation, axis, support, head, arms, ending."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import angle_between, apply, unit
from ..body.movement import FOOT_POINTS, SIDE_SIGNS, SIDES, SUFFIXES
from ..known import nothing_known_gives_nan
from ..phrase.phase import Balance, Phase, Turn
from ..phrase.plies import held_bottom
from ..runs import runs
from ..take import Floats
from ..wording import findings as say
from .evidence import OTHER, Evidence, Pirouette, made_once
from .limits import LEVERS, READING, STEPS, TURNS
from .observation import NotTold, Observation
from .reading import FURTHEST, HIGHEST, LOWEST, Measure, Told, Window, at_an_event_sd, extreme, over

#: A lean has two directions when the smaller part of it is at least this share of the greater (22.5° off one direction).
BOTH_WAYS = float(np.tan(np.radians(22.5)))


@made_once
def place_mm(evidence: Evidence, side: str, point: str) -> Floats:
    """Place (F, 2) of heel or ball over the floor, mm."""
    place = evidence.ball(side) if point == "ball" else evidence.foot_point(side, point)
    return 1000 * place[:, :2]


@dataclass(frozen=True)
class Prepared:
    """A turn with its plié: the first frame of it, and the last one before the standing knee pushes."""

    turn: Pirouette
    start: int
    bottom: int


def turns(evidence: Evidence) -> tuple[Pirouette, ...]:
    """Turns on one foot."""
    return evidence.turns


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
    yaw = _sense(turn.phase) * evidence.degrees("pelvis_yaw")[start : turn.alone + 1]
    if not np.isfinite(yaw).any():
        return max(end, start + 1)
    # A pelvis that winds up first has turned by 5° from where it was wound to.
    waiting = np.flatnonzero(yaw < np.nanmin(yaw) + TURNS.with_the_body_deg)
    return max(min(end, start + int(waiting[-1])), start + 1)


def _sense(turn: Turn) -> float:
    """+1 for a turn to the left, -1 for one to the right."""
    return 1.0 if turn.side == "left" else -1.0


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
_SLIP = Measure("foot-slips-parallel", "slip", HIGHEST, ("heel", "toe"), place_mm)


@over(prepared_turns)
def foot_slips_parallel(evidence: Evidence, prepared: Prepared) -> Told:
    """Standing foot turning in on the floor, or its heel sliding, while the preparation is danced."""
    turn, start = prepared.turn, prepared.start
    frames = (start, _stops_waiting(evidence, turn, start))
    settled = start + evidence.samples(TURNS.settled_s)
    heading = evidence.foot_heading_deg(turn.support)
    inward = SIDE_SIGNS[SIDES.index(turn.support)] * (heading - evidence.before(heading, start, settled))
    yield extreme(evidence, _YAW.on(turn.support, against=start), turn.phase, Window(inward, frames))
    slid = _moved_mm(evidence, evidence.foot_point(turn.support, "heel"), start, settled)
    # A heel on its way up moves forward by itself.
    low = evidence.heel_mm(turn.support) < TURNS.rising_mm
    told = extreme(evidence, _SLIP.on(turn.support, against=start, point="heel"), turn.phase, Window(slid, frames, low))
    # Of a foot that is not seen the first measure says so.
    yield told if isinstance(told, Observation) else None


def _moved_mm(evidence: Evidence, place: Floats, start: int, end: int) -> Floats:
    """How far (F,) a point (F, 3) is over the floor from where it was between two frames, mm."""
    first = np.array([evidence.before(place[:, axis], start, end) for axis in range(2)])
    return np.asarray(1000 * np.linalg.norm(place[:, :2] - first, axis=1))


def foot_turnout(evidence: Evidence, side: str) -> Floats:
    """Direction (F,) of a foot against the pelvis, degrees."""
    return evidence.degrees("foot_turnout", side)


_SUPPORTING = Measure(
    "turnout-lost-supporting", "loss", HIGHEST, ("heel", "toe", "hip"), foot_turnout, lever_m=LEVERS.foot_m
)  # fmt: skip


@over(turns)
def turnout_lost_supporting(evidence: Evidence, turn: Pirouette) -> Told:
    """Azimuth of the standing foot against the pelvis, from full relevé to the start of the way down."""
    turnout = foot_turnout(evidence, turn.support)
    first = evidence.before(turnout, turn.rise, turn.rise + evidence.samples(TURNS.fully_up_s))
    reading = _SUPPORTING.on(turn.support, against=turn.rise)
    yield extreme(evidence, reading, turn.phase, Window(first - turnout, (turn.rise, turn.sink)))


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
    if known.any() and near.sum() > TURNS.mostly * known.sum():
        own = np.median(place[near], axis=0)
        there[part] = near & (np.linalg.norm(place - own, axis=1) < TURNS.in_place_m)
    return there


@dataclass(frozen=True)
class Retire:
    """A step in retiré. frames: the first and the last in which it is there; there (F,): all of them."""

    phase: Phase
    working: str
    support: str
    frames: tuple[int, int]
    there: NDArray[np.bool_]


def retires(evidence: Evidence) -> Iterator[Retire]:
    """Turns and balances on one foot in which a retiré is there for long enough."""
    held: list[tuple[Phase, str, tuple[int, int]]] = [
        (turn.phase, turn.support, (turn.alone, turn.close)) for turn in evidence.turns
    ]
    held += [(b, str(b.support), (b.start, b.end)) for b in evidence.phrase.of(Balance) if b.support in SIDES]
    for phase, support, window in held:
        there = _in_retire(evidence, OTHER[support], support, window)
        frames = np.flatnonzero(there)
        if frames.size >= evidence.samples(TURNS.least_retire_s):
            yield Retire(phase, OTHER[support], support, (int(frames[0]), int(frames[-1])), there)


def knee_turnout(evidence: Evidence, side: str) -> Floats:
    """Direction (F,) of a bent knee against the pelvis, degrees."""
    return evidence.degrees("knee_turnout", side)


_WORKING = Measure(
    "turnout-lost-working", "loss", HIGHEST, ("hip", "knee", "ankle"), knee_turnout, extra_sd=STEPS.noisy_deg
)  # fmt: skip


@over(retires)
def turnout_lost_working(evidence: Evidence, retire: Retire) -> Told:
    """How far the direction of the bent knee falls from its widest while the retiré is there."""
    turnout = np.where(retire.there, knee_turnout(evidence, retire.working), np.nan)
    part = evidence.steady_part(turnout, *retire.frames)
    if not np.isfinite(part).any():
        return
    widest = int(np.nanargmax(part))
    reading = _WORKING.on(retire.working, against=retire.frames[0] + widest)
    told = extreme(evidence, reading, retire.phase, Window(part[widest] - turnout, retire.frames, retire.there))
    if isinstance(told, Observation):
        told = replace(told, extra_sd=float(np.hypot(told.extra_sd, _comes_to_its_place_sd(evidence, retire, told.value))))
    yield told


def _comes_to_its_place_sd(evidence: Evidence, retire: Retire, loss_deg: float) -> float:
    """What a retiré that is there a little earlier, or for a little longer, may lose more, 1 SD, degrees."""
    around = evidence.samples(READING.event_s + 0.5 * STEPS.steady_s)
    first, last = max(retire.frames[0] - around, 0), min(retire.frames[1] + around, evidence.frames - 1)
    part = knee_turnout(evidence, retire.working)[first : last + 1]
    part = part[np.isfinite(part)]
    return 0.5 * max(float(np.ptp(part)) - loss_deg, 0.0) if part.size else 0.0


_FINISH = Measure("turnout-lost-finish", "loss", HIGHEST, ("heel", "toe"), foot_turnout, lever_m=LEVERS.foot_m)
_SKID = replace(_FINISH, name="skid")


@dataclass(frozen=True)
class Closing:
    """A foot that stands after a turn, until the frame ``after``; start: of the turn's plié."""

    turn: Pirouette
    side: str
    start: int
    after: int


def _closings(evidence: Evidence) -> Iterator[Closing]:
    """Both feet after turns that are closed, and not stepped out of at once."""
    for prepared in prepared_turns(evidence):
        turn = prepared.turn
        # While both feet stay down; who steps on at once has closed nothing.
        leaves = np.flatnonzero(~evidence.on_both[turn.close + 1 : turn.close + evidence.samples(TURNS.skid_s) + 1])
        after = turn.close + (int(leaves[0]) if leaves.size else evidence.samples(TURNS.skid_s))
        stands = after - turn.close >= 2 * evidence.samples(TURNS.closed_s)
        if evidence.at(turn.phase.close_s) is not None and after < evidence.frames and stands:
            yield from (Closing(turn, side, prepared.start, after) for side in SIDES)


@over(_closings)
def turnout_lost_finish(evidence: Evidence, closing: Closing) -> Told:
    """Turnout of both feet when the turn closes and just after, against the preparation."""
    turn, side, start, after = closing.turn, closing.side, closing.start, closing.after
    turnout, brief = foot_turnout(evidence, side), evidence.samples(TURNS.closed_s)
    asked = evidence.before(turnout, start, start + evidence.samples(TURNS.prepared_s))
    arrived = evidence.before(turnout, turn.close, turn.close + brief)
    later = evidence.before(turnout, after - brief, after)
    if not np.isfinite([asked, arrived, later]).all():
        yield NotTold(_FINISH.fault, turn.phase, say.foot_unseen_at_the_end(side))
        return
    frames = (turn.close, turn.close + brief // 2, after)
    doubt = at_an_event_sd(evidence, turnout, turn.close)
    yield _FINISH.on(side, against=start).told(turn.phase, asked - max(arrived, later), frames, extra_sd=doubt)
    # Any skid beyond the band is a fault (catalogue).
    yield _SKID.on(side, against=after).told(turn.phase, later - arrived, frames, beyond_fault=True, extra_sd=doubt)


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
    return (first, second) if less > BOTH_WAYS * most else (first,)


# Two fifths of the mass are the trunk: it counts among what must have been seen.
_TILT = Measure("axis-tilts", "tilt", HIGHEST, ("pelvis", "neck", "toe"), axis_tilt, lever_m=LEVERS.body_m)


@over(turns)
def axis_tilts(evidence: Evidence, turn: Pirouette) -> Told:
    """Lean of the axis on one foot, from fully up to the start of the way down, and which way."""
    window = Window(axis_tilt(evidence, turn.support), (turn.rise, turn.sink), evidence.forefoot_down(turn.support))
    told = extreme(evidence, _TILT.on(turn.support), turn.phase, window)
    if isinstance(told, Observation):
        told = replace(told, says=say.axis_leans(_which_way(evidence, turn.support, told.peak)))
    yield told


# A way between two places, both with their noise: it is never less than nothing.
_TRAVEL = Measure("turn-travels", "travel", HIGHEST, ("toe",), place_mm, extra_sd=STEPS.noise_of_a_way * STEPS.noisy_mm)


@over(turns)
def turn_travels(evidence: Evidence, turn: Pirouette) -> Told:
    """How far the ball of the standing foot has moved over the floor from beginning to end of a turn, per revolution."""
    brief = evidence.samples(TURNS.ends_s)
    away = _moved_mm(evidence, evidence.ball(turn.support), turn.rise, turn.rise + brief)
    away = away / max(1.0, turn.phase.revolutions or 1.0)
    reading = _TRAVEL.on(turn.support, against=turn.rise, point="ball")
    told = extreme(evidence, reading, turn.phase, Window(away, (max(turn.sink - brief, turn.rise), turn.sink)))
    if isinstance(told, Observation):
        told = replace(told, start=turn.rise, curve=away[turn.rise : told.end + 1])
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
        yield reading.unseen(turn.phase, f"the {turn.support} forefoot")
    if not hops:
        return
    longest = max(hops, key=lambda hop: hop[1] - hop[0])
    told = extreme(evidence, reading, turn.phase, Window(clearance, longest))
    if isinstance(told, Observation):
        lasting = (longest[1] - longest[0]) / evidence.rate_hz >= TURNS.hop_fault_s or len(hops) > 1
        yield replace(told, beyond_fault=lasting)


def head_against_chest(evidence: Evidence) -> Floats:
    """How far (F,) the head is turned against the chest, against standing, degrees."""
    return evidence.change("head_yaw")


_HEAD = ("head", "neck")
_APART = Measure(
    "late-spot", "apart", HIGHEST, _HEAD, head_against_chest, sided=False, lever_m=LEVERS.head_m, extra_sd=TURNS.whipped_deg
)  # fmt: skip
_AHEAD = Measure("late-spot", "lead", HIGHEST, _HEAD)


@over(turns)
def late_spot(evidence: Evidence, turn: Pirouette) -> Told:
    """How far the head stays behind and goes ahead of the chest, and its lead when the front comes round, per revolution."""
    phase, whole = turn.phase, round(turn.phase.revolutions or 0.0)
    if whole < 1:
        return
    around = _spotted(evidence, phase)
    if (
        not np.isfinite(evidence.degrees("thorax_yaw")[around] + evidence.degrees("head_heading")[around]).mean()
        > READING.least_known
    ):
        yield _APART.on().unseen(phase, "the head")
        return
    turned = np.abs(head_against_chest(evidence))[phase.start : phase.end + 1]
    furthest = int(np.nanargmax(turned))
    yield _APART.on().told(phase, float(turned[furthest]), (phase.start, phase.start + furthest, phase.end))
    for head, trunk in _comes_round(evidence, phase, around, whole):
        yield _AHEAD.on().told(phase, (trunk - head) / evidence.rate_hz, (min(head, trunk), min(head, trunk), max(head, trunk)))


def _spotted(evidence: Evidence, phase: Turn) -> slice:
    """Frames of a turn and a little around it."""
    start = max(0, phase.start - evidence.samples(TURNS.spot_before_s))
    return slice(start, min(evidence.frames - 1, phase.end + evidence.samples(TURNS.spot_after_s)) + 1)


def _comes_round(evidence: Evidence, phase: Turn, around: slice, whole: int) -> Iterator[tuple[int, int]]:
    """Frames in which head and trunk come round to the front, for every revolution that both of them make."""
    trunk, head = (_sense(phase) * evidence.degrees(name)[around] for name in ("thorax_yaw", "head_heading"))
    # Trunk and head look the same way before the turn: their unwrapped courses are counted from the same front.
    head = head - (360 * np.round((head[0] - trunk[0]) / 360) if np.isfinite(head[0] - trunk[0]) else 0.0)
    with nothing_known_gives_nan():
        front = trunk[0] if np.isfinite(trunk[0]) else np.nanmin(trunk)
    for revolution in range(1, whole + 1):
        home = front + 360 * revolution - TURNS.front_deg
        passed = [np.flatnonzero(np.nan_to_num(curve, nan=-np.inf) >= home) for curve in (head, trunk)]
        if all(frames.size for frames in passed):
            yield around.start + int(passed[0][0]), around.start + int(passed[1][0])


@made_once
def hand_height_mm(evidence: Evidence, side: str) -> Floats:
    """Wrist (F,) above the base of the neck along the upright axis of the thorax, mm."""
    thorax = evidence.movement.segment("thorax")
    away = apply(np.swapaxes(thorax, -1, -2), evidence.joint("wrist", side) - evidence.joint("neck"))
    return np.asarray(1000 * away[:, 1])


@made_once
def hands_apart_mm(evidence: Evidence) -> Floats:
    """How much higher (F,) the left hand is than the right against the chest, mm."""
    return hand_height_mm(evidence, "left") - hand_height_mm(evidence, "right")


_DROP = Measure("arms-drop", "drop", HIGHEST, ("wrist",), hand_height_mm, extra_sd=TURNS.girdle_mm)
_UNEQUAL = Measure(
    "arms-drop", "difference", HIGHEST, ("wrist.L", "wrist.R"), hands_apart_mm, sided=False, extra_sd=TURNS.girdle_mm
)  # fmt: skip


@over(turns)
def arms_drop(evidence: Evidence, turn: Pirouette) -> Told:
    """How far a hand sinks against the chest after the arms have closed, and how unequal the hands become."""
    # Fully up the arms have closed (catalogue, arms-drop).
    closed, frames = turn.rise, (turn.rise, turn.sink)
    after = closed + evidence.samples(TURNS.closed_s)
    for side in SIDES:
        height, reading = hand_height_mm(evidence, side), _DROP.on(side, against=closed)
        if np.isfinite(height[closed : turn.sink + 1]).mean() < READING.least_known:
            yield reading.unseen(turn.phase, f"the {side} hand")
            continue
        yield extreme(evidence, reading, turn.phase, Window(evidence.before(height, closed, after) - height, frames))
    apart = hands_apart_mm(evidence)
    apart = np.abs(apart - evidence.before(apart, closed, after))
    told = extreme(evidence, _UNEQUAL.on("both", against=closed), turn.phase, Window(apart, frames))
    yield told if isinstance(told, Observation) else None


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
    brief = evidence.samples(TURNS.closed_s)
    before, after = (evidence.before(facing(evidence), frame, frame + brief) for frame in (start, close))
    apart = np.sign(turn.turned_deg) * (after - before)
    yield _RESIDUAL.on(against=start).told(turn, float(apart - 360 * np.round(apart / 360)), (turn.start, close, close))


@made_once
def retire_height(evidence: Evidence, side: str, support: str) -> Floats:
    """Height (F,) of the toe of the working side along the standing shank, as a share of it."""
    ankle, knee = evidence.joint("ankle", support)[:, 2], evidence.joint("knee", support)[:, 2]
    return np.asarray((evidence.joint("toe", side)[:, 2] - ankle) / (knee - ankle))


_RETIRE = Measure("low-retire", "height", LOWEST, ("toe",), retire_height)


@over(retires)
def low_retire(evidence: Evidence, retire: Retire) -> Told:
    """Height of the toe along the standing shank in the retiré."""
    (first, last), working, support = retire.frames, retire.working, retire.support
    later = first + int((last - first) * TURNS.first_of_retire)
    height = retire_height(evidence, side=working, support=support)[later : last + 1]
    known = height[np.isfinite(height)]
    # A toe below the middle of the shank is another place of the foot, not a low retiré.
    if not known.size or np.median(known) < TURNS.least_retire:
        return
    # A toe that comes up late, or sinks before the closing, was low for that while.
    value = float(np.quantile(known, TURNS.low_for))
    joints = ("toe" + SUFFIXES[working], "knee" + SUFFIXES[support], "ankle" + SUFFIXES[support])
    doubt = float(TURNS.toe_m / evidence.movement.standing.shank_length_m)
    frames = (later, later + int(np.nanargmin(np.abs(height - value))), last)
    yield _RETIRE.on(working, joints=joints, support=support, extra_sd=doubt).told(retire.phase, value, frames, height)


@dataclass(frozen=True)
class Raised:
    """A step on one foot on relevé. frames: those that were looked at; heel (F,): above its flat height while the forefoot is
    down, mm; part: the same, steady, in those frames; plateau_mm: the height it comes to; turn: where it is one."""

    phase: Phase
    support: str
    frames: tuple[int, int]
    heel: Floats
    part: Floats
    plateau_mm: float
    turn: Pirouette | None


def heel_share(evidence: Evidence, side: str, own_mm: float) -> Floats:
    """Height (F,) of a heel as a share of the own highest relevé."""
    return evidence.heel_mm(side) / own_mm


def _shows_releve(evidence: Evidence, side: str, own_mm: float, peak: int) -> int | None:
    """Frame in which a standing foot shows the own highest relevé, the furthest in time from ``peak``; None where none does."""
    shows = np.abs(evidence.heel_mm(side) - own_mm) < TURNS.shows_own_mm
    frames = np.flatnonzero(shows & evidence.forefoot_down(side) & evidence.on(side))
    frames = frames[frames != peak]
    return int(frames[np.argmax(np.abs(frames - peak))]) if frames.size else None


_SHARE = Measure("low-releve", "share", LOWEST, ("heel", "toe"), heel_share, extra_sd=TURNS.own_releve_share)
_SINK = Measure(
    "low-releve", "sink", HIGHEST, ("heel", "toe"), Evidence.heel_mm, extra_sd=TURNS.noise_of_a_mean * STEPS.noisy_mm
)  # fmt: skip


def _on_one_foot(evidence: Evidence) -> Iterator[Raised]:
    """Turns and balances on one foot, with the way of the standing heel."""
    # Until the turning ends: who rises to close has turned on a low relevé.
    held: list[tuple[Phase, str, tuple[int, int], Pirouette | None]] = [
        (turn.phase, turn.support, (turn.alone, max(min(turn.close, turn.phase.end), turn.rise)), turn) for turn in evidence.turns
    ]
    # On one foot (catalogue): who holds on two need not come as high.
    held += [(b, str(b.support), (b.start, b.end), None) for b in evidence.phrase.of(Balance) if b.support in SIDES]
    for phase, support, frames, turn in held:
        heel = np.where(evidence.forefoot_down(support), evidence.heel_mm(support), np.nan)
        part = evidence.steady_part(heel, *frames)
        plateau = float(np.nanquantile(part, TURNS.plateau)) if np.isfinite(part).any() else float("nan")
        yield Raised(phase, support, frames, heel, part, plateau, turn)


@over(_on_one_foot)
def low_releve(evidence: Evidence, raised: Raised) -> Told:
    """Heel against the own highest relevé, and how far it sinks before the turning ends."""
    if np.isnan(raised.plateau_mm):
        yield NotTold(_SHARE.fault, raised.phase, say.not_seen(f"the {raised.support} heel"))
    if not raised.plateau_mm >= STEPS.risen_mm:
        return
    peak = raised.frames[0] + int(np.nanargmin(np.abs(raised.part - raised.plateau_mm)))
    yield _share_of_own(evidence, raised, peak)
    if raised.turn is not None:
        yield _sinks(evidence, raised, raised.turn, peak)


def _share_of_own(evidence: Evidence, raised: Raised, peak: int) -> Observation | None:
    """The height that a heel comes to against the own highest; None where that is not known."""
    own = 1000 * float(evidence.movement.standing.releve_m[SIDES.index(raised.support)])
    if not (np.isfinite(own) and own > STEPS.risen_mm):
        return None
    up = raised.frames[0] + np.flatnonzero(np.nan_to_num(raised.part) > TURNS.half_up * raised.plateau_mm)
    start, end = int(up[0]), int(up[-1])
    # A heel marker that sits elsewhere is as far off in the own highest relevé: one is told against the other.
    shown = _shows_releve(evidence, raised.support, own, peak)
    reading = _SHARE.on(raised.support, lever_m=own / 1000, against=shown, own_mm=own)
    return reading.told(raised.phase, raised.plateau_mm / own, (start, peak, end), raised.heel[start : end + 1] / own)


def _sinks(evidence: Evidence, raised: Raised, turn: Pirouette, peak: int) -> Observation | NotTold | None:
    """How far a heel sinks from the first frame at its height until the turning ends."""
    top = raised.frames[0] + int(np.flatnonzero(np.nan_to_num(raised.part) >= raised.plateau_mm)[0])
    first = max(turn.rise, top)
    end = min(turn.sink, turn.phase.end, turn.close - evidence.samples(TURNS.before_closing_s))
    if end <= first:
        return None
    window = Window(raised.plateau_mm - raised.heel, (first, end), evidence.forefoot_down(raised.support))
    return extreme(evidence, _SINK.on(raised.support, against=peak), raised.phase, window)


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
