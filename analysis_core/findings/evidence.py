"""A movement and its phrase, prepared for measuring: curves in degrees and millimetres, windows of the steps."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, wraps
from typing import Concatenate, ParamSpec

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import OTHER as OTHER
from ..body.movement import FOOT_POINTS, SIDES, SUFFIXES, Movement, RecordedMovement
from ..body.recorded_again import OtherRecordings
from ..medians import median_of_known
from ..phrase.counts import Counts
from ..phrase.phase import Jump, Landing, LegGesture, Phase, PhaseKind, Phrase, Plie, Releve, Step, Turn
from ..take import Floats
from .limits import READING, STEPS, TURNS
from .series import hops


@dataclass(frozen=True)
class Pirouette:
    """Frames of one turn on one foot. rise: standing foot fully up, or alone on the flat; sink: before it comes down.

    close: the other foot comes down, or the turn has gone over into a balance. leave: the heel leaves the floor for the relevé
    (None on the flat foot). plateau_mm: the height that the heel comes to.
    """

    phase: Turn
    support: str
    working: str
    alone: int
    rise: int
    sink: int
    close: int
    leave: int | None
    plateau_mm: float


class Evidence:
    """What the measures look at. Curves have one number per frame, NaN where it is not known."""

    def __init__(self, movement: Movement, phrase: Phrase, counts: Counts | None = None) -> None:
        self.movement, self.phrase, self.counts = movement, phrase, counts
        self.rate_hz, self.frames = movement.rate_hz, movement.frames
        self._kept: dict[Hashable, Floats] = {}
        self._in_place: dict[str, bool] = {}
        self._steady = max(1, 2 * round(STEPS.steady_s * self.rate_hz / 2) + 1)

    @cached_property
    def recordings(self) -> OtherRecordings | None:
        """Other recordings of the same dance; None without its recording: of a skeleton, or of a review read from a file."""
        return OtherRecordings(self.movement) if isinstance(self.movement, RecordedMovement) else None

    def frame(self, time_s: float) -> int:
        """Frame nearest to a time, inside the take."""
        return int(np.clip(round(time_s * self.rate_hz), 0, self.frames - 1))

    def samples(self, seconds: float) -> int:
        """Number of frames in a time, at least one."""
        return max(1, round(seconds * self.rate_hz))

    def at(self, time_s: float | None) -> int | None:
        """Frame of a moment that a phase may have."""
        return self.frame(time_s) if time_s is not None and np.isfinite(time_s) else None

    def once(self, key: Hashable, make: Callable[[], Floats]) -> Floats:
        """A curve that several measures ask for, made once; it is read only."""
        if key not in self._kept:
            curve = make()
            curve.setflags(write=False)
            self._kept[key] = curve
        return self._kept[key]

    def degrees(self, name: str, side: str | None = None) -> Floats:
        """An angle of the movement as measured, degrees."""
        key = name + (SUFFIXES[side] if side else "")
        return self.once(("degrees", key), lambda: np.asarray(np.degrees(self.movement.angle(key))))

    def change(self, name: str, side: str | None = None) -> Floats:
        """An angle minus its value in standing (0 where that is not known), degrees."""
        key = name + (SUFFIXES[side] if side else "")
        return self.once(("change", key), lambda: np.asarray(np.degrees(self.movement.change(key))))

    def heel_mm(self, side: str) -> Floats:
        """Heel above its own height with the foot flat, mm."""
        return self.once(("heel", side), lambda: 1000 * self.movement.heel_height_m(side))

    def foot_point(self, side: str, name: str) -> Floats:
        """A point of FOOT_POINTS (F, 3), metres."""
        return self.movement.foot_points_m[:, SIDES.index(side), FOOT_POINTS.index(name)]

    def ball(self, side: str) -> Floats:
        """Middle of the ball of a foot (F, 3), metres."""
        inner, outer = self.foot_point(side, "ball_medial"), self.foot_point(side, "ball_lateral")
        return self.once(("ball", side), lambda: 0.5 * (inner + outer))

    def joint(self, name: str, side: str | None = None) -> Floats:
        """A joint centre (F, 3), metres."""
        return self.movement.joint(name + (SUFFIXES[side] if side else ""))

    def end_of_arm(self, *sides: str) -> str:
        """The joint that the height of arms is read at: the hand (catalogue, arms-drop); where no marker shows it, the wrist."""
        seen = min(float(np.isfinite(self.joint("hand", side)[:, 0]).mean()) for side in sides)
        return "hand" if seen > READING.least_known else "wrist"

    def foot_heading_deg(self, side: str) -> Floats:
        """Direction of a foot's line on the floor, laboratory, unwrapped, degrees; NaN where it is not known."""

        def heading() -> Floats:
            line = self.movement.foot_line(side)
            azimuth = np.arctan2(line[:, 1], line[:, 0])
            known = np.isfinite(azimuth)
            azimuth[known] = np.unwrap(azimuth[known])
            return np.asarray(np.degrees(azimuth))

        return self.once(("heading", side), heading)

    def steady(self, curve: Floats) -> Floats:
        """Moving mean (F,) over STEPS.steady_s; NaN beside samples that are not known, the ends repeated."""
        half = self._steady // 2
        if half == 0 or curve.size == 0:
            return curve
        padded = np.concatenate([np.full(half, curve[0]), curve, np.full(half, curve[-1])])
        return np.convolve(padded, np.full(self._steady, 1 / self._steady), mode="valid")

    def steady_part(self, curve: Floats, start: int, end: int) -> Floats:
        """The same for the frames from start to end only (end - start + 1,)."""
        first = max(start - self._steady // 2, 0)
        return self.steady(curve[first : end + 1 + self._steady // 2])[start - first : end + 1 - first]

    def before(self, curve: Floats, start: int, end: int) -> float:
        """Median of a curve between two frames; NaN when nothing is known there."""
        return float(median_of_known(curve[max(start, 0) : max(end, start + 1)]))

    @cached_property
    def turns(self) -> tuple[Pirouette, ...]:
        """Turns on one foot; steps that turn from foot to foot, and turns on a knee that is bent on purpose, are left out."""
        found = []
        for phase in self.phrase.of(Turn):
            support, alone = phase.support, self.at(phase.single_support_s)
            if support is None or support == "both" or alone is None or "-" in (phase.supports or support):
                continue
            if self._from_foot_to_foot(phase):
                continue
            close = self.at(phase.close_s)
            # Who stays on the foot for longer holds a balance, which is judged as one.
            last = min(phase.end + self.samples(STEPS.ends_turn_s), self.frames - 1)
            close = min(phase.end if close is None else close, last)
            if close - alone < self.samples(STEPS.least_turn_s) or not self._turned_on(support, phase):
                continue
            turn = self._turn(phase, support, alone, close)
            if not self._low((support,), turn.rise, turn.sink):
                found.append(turn)
        return tuple(found)

    def _from_foot_to_foot(self, phase: Turn) -> bool:
        """Whether a part of a turn is one step of turning from foot to foot (chaînés): another one beside it in the same chain,
        the same way round, is on the other foot."""
        if phase.turned_deg is None or abs(phase.turned_deg) >= TURNS.nearly_whole_deg:
            return False
        return any(
            other.chain == phase.chain
            and abs((other.chain_place or 0) - (phase.chain_place or 0)) == 1
            and other.support == OTHER[str(phase.support)]
            for other in self.phrase.of(Turn)
        )

    def _turned_on(self, side: str, phase: Turn) -> bool:
        """Whether enough of a turn is turned while one foot carries alone: a turn that is stepped round is not on the foot that
        happens to carry longest. What is not seen does not say so."""
        way = np.nan_to_num(np.abs(np.diff(self.degrees("pelvis_yaw")[phase.start : phase.end + 1])))
        return not way.sum() > 0.0 or way @ self.alone(side)[phase.start + 1 : phase.end + 1] >= STEPS.turned_alone * way.sum()

    @cached_property
    def turns_standing(self) -> tuple[Turn, ...]:
        """All turns, from foot to foot too, but those that kneel or go low on a knee that is bent on purpose."""
        return tuple(
            turn
            for turn in self.phrase.of(Turn)
            if not self._low((turn.support,) if turn.support in SIDES else SIDES, turn.start, turn.end)
        )

    def _low(self, sides: Sequence[str], first: int, last: int) -> bool:
        """Whether the straightest of some legs is bent between two frames further than one that stands; its middle value."""
        bend = np.fmin.reduce([self.degrees("knee_flexion", side) for side in sides])
        return self.before(bend, first, last + 1) > STEPS.low_turn_deg

    @cached_property
    def jumps(self) -> tuple[Jump, ...]:
        """Jumps, without the hops of a turn's standing foot, which are the turn's, small hops in a chain of steps, and those that
        end on the floor."""
        down = {landing.jump for landing in self.phrase.of(Landing) if self._goes_down(landing)}
        spans = [(turn.alone, turn.close) for turn in self.turns]
        jumps = [jump for jump in self.phrase.of(Jump) if not any(a <= jump.start and jump.end <= b for a, b in spans)]
        return tuple(jump for jump in jumps if jump.id not in down | hops(jumps))

    @cached_property
    def landings(self) -> tuple[Landing, ...]:
        """The landings of ``jumps``, as long as they are landings: until the knees bend for something else."""
        known = {jump.id for jump in self.jumps}
        return tuple(self._landed(landing) for landing in self.phrase.of(Landing) if landing.jump in known)

    def _landing_bend(self, landing: Landing) -> Floats:
        """Bend (F,) of the knees that a landing lands on, degrees."""
        sides = SIDES if landing.landing_feet in ("both", None) else (landing.landing_feet,)
        return np.asarray(np.fmax.reduce([self.degrees("knee_flexion", side) for side in sides]))

    def _landed(self, landing: Landing) -> Landing:
        """A landing without what comes after it."""
        lowest = self.at(landing.lowest_s)
        if lowest is None or lowest >= landing.end:
            return landing
        part = self._landing_bend(landing)[lowest : landing.end + 1]
        bend = np.nan_to_num(part, nan=np.inf)
        deepest = np.maximum.accumulate(np.nan_to_num(part, nan=-np.inf))
        has_stretched = np.maximum.accumulate(deepest - bend) > STEPS.stretched_deg
        again = np.flatnonzero(has_stretched & np.isfinite(bend) & (bend > np.minimum.accumulate(bend) + STEPS.bends_again_deg))
        if not again.size:
            return landing
        end = lowest + int(np.argmin(bend[: int(again[0])]))
        return replace(landing, end=end, end_s=end / self.rate_hz)

    def _goes_down(self, landing: Landing) -> bool:
        """Whether a landing goes on down to the floor."""
        landed = self._landed(landing)
        part = self._landing_bend(landing)[landed.start : landed.end + 1]
        return bool(np.nanmax(np.append(part, 0.0)) > STEPS.to_the_floor_deg)

    def judged(self, *kinds: PhaseKind) -> tuple[Phase, ...]:
        """Phases of some kinds in the order of time; of jumps and landings those that are no hops."""
        real = {phase.id for phase in (*self.jumps, *self.landings)}
        landings = {landing.id: landing for landing in self.landings}
        phases = (landings.get(phase.id, phase) for phase in self.phrase.phases)
        asked = [p for p in phases if p.kind in kinds and (p.kind not in ("jump", "landing") or p.id in real)]
        asked = [p for p in asked if not isinstance(p, Releve) or self.stands_up(p)]
        return tuple(p for p in asked if not isinstance(p, Plie | LegGesture) or self.in_place(p))

    def stands_up(self, releve: Releve) -> bool:
        """Whether a relevé is one: heels that are off the floor under a dancer who kneels, or sinks to it, are none."""
        return not self._low(self.supports(releve) or SIDES, releve.start, releve.end)

    @cached_property
    def _hops(self) -> tuple[Jump, ...]:
        """Small hops in a chain of steps."""
        jumps = self.phrase.of(Jump)
        return tuple(jump for jump in jumps if jump.id in hops(jumps))

    @cached_property
    def plies(self) -> tuple[Plie, ...]:
        """Pliés that are danced in their place."""
        return tuple(plie for plie in self.phrase.of(Plie) if self.in_place(plie))

    @cached_property
    def gestures(self) -> tuple[LegGesture, ...]:
        """Gestures of the leg that are danced in their place."""
        return tuple(gesture for gesture in self.phrase.of(LegGesture) if self.in_place(gesture))

    def jump_before(self, landing: Landing) -> Jump | None:
        """The jump that a landing ends; None where it is none that is judged."""
        return next((jump for jump in self.jumps if jump.id == landing.jump), None)

    def in_place(self, phase: Plie | LegGesture) -> bool:
        """Whether a plié or a gesture of the leg is danced in its place, and is no part of a step that goes on.

        Found out once for each: many measures ask."""
        if phase.id not in self._in_place:
            self._in_place[phase.id] = self._stays_in_place(phase)
        return self._in_place[phase.id]

    def _stays_in_place(self, phase: Plie | LegGesture) -> bool:
        """Whether one is danced in its place, looked at anew.

        It is on the same feet as at its bottom or peak for most of it, and the body stays over them. Of bends on one foot only a
        preparation, or one that stands on that foot flat from beginning to end, is a plié: others are the knees of a step.
        """
        if isinstance(phase, Plie) and phase.support in SIDES and phase.use != "preparation" and not self.stands(phase):
            return False
        if isinstance(phase, Plie) and (self._pushes_a_hop(phase) or not self._feet_stay(phase)):
            return False
        if isinstance(phase, LegGesture) and phase.elevation_deg < STEPS.high_gesture_deg and self._swings(phase):
            return False
        feet = np.stack([self.on("left"), self.on("right")], axis=1)[phase.start : phase.end + 1]
        middle = self.at(phase.bottom_s if isinstance(phase, Plie) else phase.peak_s)
        if middle is None:
            return True
        same = (feet == feet[np.clip(middle - phase.start, 0, len(feet) - 1)]).all(axis=1)
        way = self.movement.centre_of_mass_m[phase.start : phase.end + 1, :2]
        way = way[np.isfinite(way).all(axis=1)]
        far = len(way) > 0 and float(np.linalg.norm(way[-1] - way[0])) > STEPS.in_place_way_m
        return bool(same.mean() >= STEPS.same_feet) and not far

    def _swings(self, gesture: LegGesture) -> bool:
        """Whether a leg only swings in a step: it is up for a moment, or as long as a swing lasts and its foot then steps."""
        if gesture.end_s - gesture.start_s < STEPS.least_gesture_s:
            return True
        return any(
            step.side == gesture.side
            and step.swing_s is not None
            and step.swing_s < STEPS.longest_swing_s
            and abs(step.start_s - gesture.end_s) <= STEPS.steps_within_s
            for step in self.phrase.of(Step)
        )

    def _pushes_a_hop(self, phase: Plie) -> bool:
        """Whether a bend of the knees only takes off for a small hop: it is part of the step."""
        last = phase.end + self.samples(STEPS.pushes_within_s)
        return phase.use == "take-off" and any(phase.start < hop.start <= last for hop in self._hops)

    def _feet_stay(self, phase: Plie) -> bool:
        """Whether the feet of a plié stand where they stand, and as they stand, while it is deep: bent knees of a step go on.

        What is not seen does not say that it moved.
        """
        sides, bottom = self.supports(phase), self.at(phase.bottom_s)
        if bottom is None or not sides:
            return True
        bend = np.mean([self.degrees("knee_flexion", side) for side in sides], axis=0)
        part = bend[phase.start : phase.end + 1]
        if not np.isfinite(part).any():
            return True
        shallow = float(np.nanmin(part))
        way = np.where(np.isfinite(bend), (bend - shallow) / max(float(np.nanmax(part)) - shallow, 1e-6), 1.0)
        before, after = (
            np.flatnonzero(way[phase.start : bottom] < STEPS.deep),
            np.flatnonzero(way[bottom : phase.end + 1] < STEPS.still_deep),
        )
        first = phase.start + int(before[-1]) + 1 if before.size else phase.start
        last = bottom + int(after[0]) if after.size else phase.end + 1
        deep = slice(first, max(last, bottom + 1))
        facing = np.degrees(self.movement.angle("pelvis_yaw")[deep])
        facing = np.unwrap(facing[np.isfinite(facing)], period=360.0)
        if facing.size and np.ptp(facing) > STEPS.facing_stays_deg:
            return False
        if len(sides) == 2 and abs(float(self.heel_mm("left")[bottom] - self.heel_mm("right")[bottom])) > STEPS.stepping_mm:
            return False
        moved = [np.linalg.norm(self.ball(side)[deep, :2] - self.ball(side)[bottom, :2], axis=1) for side in sides]
        return all(float(np.nanmax(np.append(way_m, 0.0))) <= STEPS.feet_stay_m for way_m in moved)

    def _turn(self, phase: Turn, support: str, alone: int, close: int) -> Pirouette:
        """A turn with the way of its standing heel; a part off each end on the flat foot.

        Only frames with the forefoot down tell how high a heel is: a hop is no higher plateau (catalogue, low-releve).
        """
        heel = np.where(self.forefoot_down(support), self.heel_mm(support), np.nan)
        part = heel[alone : close + 1]
        plateau = float(np.nanquantile(part, TURNS.plateau)) if np.isfinite(part).any() else 0.0
        # A heel that only comes down onto the foot that turns has not risen for it.
        risen = int((np.nan_to_num(part) > STEPS.risen_mm).sum())
        if plateau <= STEPS.risen_mm or risen < self.samples(STEPS.least_risen_s):
            rest = int((close - alone) * STEPS.ends_of_flat_turn)
            return Pirouette(phase, support, OTHER[support], alone, alone + rest, close - rest, close, None, plateau)
        up = alone + np.flatnonzero(np.nan_to_num(part) > STEPS.fully_up * plateau)
        rise, top, reach = int(up[0]), int(up[-1]), self.samples(STEPS.longest_way_s)
        leave = self.way_begins(support, plateau, rise, rise - reach)
        # A heel that has sunk, and stays there, comes down when it does.
        sink = self.way_begins(support, plateau, top, max(close, top) + reach)
        leave, sink = rise if leave is None else leave, close if sink is None else sink
        return Pirouette(phase, support, OTHER[support], alone, rise, max(min(sink, close), rise), close, leave, plateau)

    def way_begins(self, support: str, plateau: float, top: int, until: int) -> int | None:
        """Frame in which the way up to a relevé, or down from it, begins on its lower or upper end; None where there is none.

        plateau: the height of the heel, mm; top: a frame in which it is up; until: how far it is looked for, before it or after.
        Found from the middle of that way: back from there as long as the heel moves at a good share of its greatest speed. A heel
        that has lifted a little, or has sunk a little, before it moves belongs to what was before.
        """
        heel, step = self.steady(self.heel_mm(support)), 1 if until > top else -1
        frames = np.arange(top, np.clip(until, -1, self.frames), step)
        below = np.flatnonzero(heel[frames] < TURNS.half_up * plateau) if frames.size else np.empty(0, dtype=np.int64)
        if not below.size:
            return None
        middle = int(frames[int(below[0])])
        speed = -step * np.gradient(heel) * self.rate_hz
        near = self.samples(STEPS.fastest_within_s)
        fastest = float(np.nanmax(np.append(speed[max(0, middle - near) : middle + near + 1], 0.0)))
        back = middle
        while 0 < back < self.frames - 1 and speed[back] > STEPS.moving_share * fastest:
            back -= 1
        return back

    def forefoot_down(self, side: str) -> NDArray[np.bool_]:
        """Frames (F,) in which ball or toe is not clearly off where it rests; frames in which it is not seen do not count."""
        return np.asarray(~(self.clearance_mm(side) > STEPS.hop_mm))

    def clearance_mm(self, side: str) -> Floats:
        """Lowest point of ball and toe (F,) above what it stands at, flat or on relevé, mm."""
        return self.once(("clear", side), lambda: self._clearance(side))

    def _clearance(self, side: str) -> Floats:
        lowest = 1000 * self.movement.foot_heights_m[:, SIDES.index(side), 1:].min(axis=1)
        risen = lowest[np.nan_to_num(self.heel_mm(side)) > STEPS.risen_mm]
        risen = risen[np.isfinite(risen) & (risen < STEPS.risen_mm)]
        # On relevé the ball rolls and the toe bends: what the forefoot stands at there counts as down.
        return np.asarray(lowest - (float(np.quantile(risen, STEPS.rests_at)) if risen.size else 0.0))

    def on(self, side: str) -> NDArray[np.bool_]:
        """Frames (F,) in which a foot is on the floor, by the contacts of the phrase."""

        def standing() -> Floats:
            mask = np.zeros(self.frames)
            for contact in self.phrase.contacts:
                if contact.foot == side and contact.part == "foot":
                    first, last = int(np.ceil(contact.start_s * self.rate_hz)), int(contact.end_s * self.rate_hz)
                    mask[max(first, 0) : last + 1] = 1.0
            return mask

        return self.once(("on", side), standing) > 0.5

    @property
    def on_both(self) -> NDArray[np.bool_]:
        """Frames (F,) with both feet on the floor."""
        return self.on("left") & self.on("right")

    def alone(self, side: str) -> NDArray[np.bool_]:
        """Frames (F,) in which a foot carries alone."""
        return self.on(side) & ~self.on(OTHER[side])

    def supports(self, phase: Phase) -> tuple[str, ...]:
        """The feet that a phase stands on."""
        return SIDES if phase.feet == "both" else (phase.feet,) if phase.feet is not None else ()

    def stands(self, phase: Phase) -> bool:
        """Whether a plié is danced on the feet it stands on: otherwise it is part of a step or a closing.

        They are flat at its beginning and end, and neither heel rises so much higher than the other that its foot is working.
        """
        sides = self.supports(phase)

        def on(side: str) -> bool:
            return any(
                contact.foot == side
                and contact.part == "foot"
                and contact.start_s <= phase.start_s + STEPS.contact_s
                and contact.end_s >= phase.end_s - STEPS.contact_s
                for contact in self.phrase.contacts
            )

        def flat(side: str) -> bool:
            ends = self.heel_mm(side)[[phase.start, phase.end]]
            return bool((ends < STEPS.flat_mm).all())

        if len(sides) == 2:
            apart = np.abs(self.heel_mm("left") - self.heel_mm("right"))[phase.start : phase.end + 1]
            if np.nanmax(np.append(apart, 0.0)) > STEPS.stepping_mm:
                return False
        return bool(sides) and all(on(side) and flat(side) for side in sides)


_Asked = ParamSpec("_Asked")


def made_once(curve: Callable[Concatenate[Evidence, _Asked], Floats]) -> Callable[Concatenate[Evidence, _Asked], Floats]:
    """A function that makes a curve from evidence, whose answers the evidence keeps: many phases ask for the same curve."""

    @wraps(curve)
    def kept(evidence: Evidence, /, *args: _Asked.args, **named: _Asked.kwargs) -> Floats:
        return evidence.once((curve, args, tuple(sorted(named.items()))), lambda: curve(evidence, *args, **named))

    return kept
