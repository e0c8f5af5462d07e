"""The steps a phrase is made of. Each is a small frozen value; ``perform`` writes it into the score from ``now_s`` on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from .legs import STRAIGHT_RAD, leg_length
from .score import OTHER, SIGN, Anchor, Score, Sided
from .solver import GRAVITY
from .timeline import Move, spin_up_and_down


class PhraseStep(Protocol):
    """Anything that can be performed."""

    def perform(self, score: Score) -> None:
        """Write the step into the score and move its clock on."""


def _straighten(score: Score, start_s: float, end_s: float) -> None:
    score["knee"].to(start_s, end_s, STRAIGHT_RAD)


def _heels(score: Score, start_s: float, end_s: float, pitch: float, sides: tuple[Sided, ...] = ("left", "right")) -> None:
    for side in sides:
        score.channel("pitch", side).to(start_s, end_s, pitch)


@dataclass(frozen=True)
class Stand:
    """Stand still, arms carried to a place within the first beat and a half."""

    counts: float = 2.0
    arms: str = "low"

    def perform(self, score: Score) -> None:
        """Write it."""
        start, end = score.now_s, score.now_s + self.counts * score.beat_s
        score.arms(start, start + min(1.5 * score.beat_s, end - start), self.arms)
        score.note("static", "both", start, end)
        score.now_s = end


@dataclass(frozen=True)
class Plie:
    """Demi- or grand plié in the position the dancer stands in; it arrives at the bottom in the middle of its counts.

    hold_counts: how long it stays there. late_s: how much later than its counts it is danced. place: the middle of the weight as
    a share of the feet, from the heels to the balls.
    """

    counts: float = 4.0
    grand: bool = False
    arms: str = "second"
    depth: float = 1.0
    hold_counts: float = 0.0
    late_s: float = 0.0
    place: float = 0.58

    def perform(self, score: Score) -> None:
        """Write it."""
        start, half = score.now_s + self.late_s, 0.5 * self.counts * score.beat_s
        bottom = start + half
        leave = bottom + self.hold_counts * score.beat_s
        end = leave + half
        # The heels of a grand plié in second stay down, and so it is less deep.
        rises = self.grand and score.position != "second"
        deepest = np.radians(126.0 if rises else 100.0) if self.grand else score.body.demi_plie_rad
        score["knee"].to(start, bottom, self.depth * deepest)
        _straighten(score, leave, end)
        if rises:
            _heels(score, start + 0.42 * half, bottom, np.radians(42.0))
            _heels(score, leave, end - 0.42 * half, 0.0)
        if self.place != 0.58:
            score.shift(start, bottom, score.balance_place(self.place))
            score.shift(leave, end, score.balance_place())
        score.arms(start, bottom, self.arms)
        score.arms(leave + 0.2 * half, end, "low")
        step = score.note("plie", "both", start, end, bottom_s=bottom, hold_end_s=leave)
        step.facts.update(grand="grand" if self.grand else "demi", position=score.position)
        score.now_s += (self.counts + self.hold_counts) * score.beat_s


@dataclass(frozen=True)
class Releve:
    """Rise on both feet, hold, and come down."""

    hold_counts: float = 2.0
    rise_counts: float = 1.0
    arms: str = "first"

    def perform(self, score: Score) -> None:
        """Write it."""
        start, rise, hold = score.now_s, self.rise_counts * score.beat_s, self.hold_counts * score.beat_s
        top, leave, end = start + rise, start + rise + hold, start + 2.0 * rise + hold
        rest = score.balance_place()
        score.shift(start - 0.15 * rise, top, 0.5 * (score.support_point("left") + score.support_point("right")))
        _heels(score, start, top, score.body.releve_rad)
        score.arms(start - 0.3 * rise, top, self.arms)
        _heels(score, leave, end, 0.0)
        score.shift(leave, end, rest)
        score.arms(leave, end, "low")
        score.note("releve", "both", start, end, top_s=top, leave_s=leave)
        score.now_s = end


@dataclass(frozen=True)
class CloseTo:
    """Carry one foot to another position (fifth, fourth, first), a little over the floor, on a soft knee."""

    position: str
    side: Sided = "right"
    front: Sided | None = None
    counts: float = 2.0

    def perform(self, score: Score) -> None:
        """Write it."""
        start, end = score.now_s, score.now_s + self.counts * score.beat_s
        carry(score, start, end, self.side, self.position, self.front)
        _settle_both(score, end - 0.42 * (end - start), end)
        score.note("step", self.side, start, end)
        score.now_s = end


def carry(score: Score, start_s: float, end_s: float, side: Sided, position: str, front: Sided | None) -> None:
    """The foot's way to its new place, with the weight on the other foot meanwhile."""
    span = end_s - start_s
    stand = OTHER[side]
    # The heel peels off before the weight has gone over, so that the leg that is left behind still reaches the floor.
    score["knee"].to(start_s, start_s + 0.28 * span, np.radians(30.0))
    score.channel("support", side).to(start_s, start_s + 0.26 * span, 0.0)
    score.channel("pitch", side).to(start_s, start_s + 0.32 * span, np.radians(42.0))
    score.shift(start_s + 0.06 * span, start_s + 0.44 * span, score.foot_centre(stand, 0.6))
    score.position = position
    score.front = front or score.front
    score.set_foot(start_s + 0.36 * span, start_s + 0.62 * span, side, position, lift_m=0.02)
    score.channel("pitch", side).to(start_s + 0.66 * span, end_s - 0.06 * span, 0.0)


def _settle_both(score: Score, start_s: float, end_s: float) -> None:
    for side in ("left", "right"):
        score.channel("support", side).to(start_s, end_s, 1.0)
    # The foot that did not move is where the stance is from now on: take the new middle from both feet.
    middle = score.balance_place(0.5)
    score.centre = middle
    span = end_s - start_s
    score.shift(start_s, start_s + 0.75 * span, score.balance_place())
    _straighten(score, start_s + 0.55 * span, end_s)


def _gather(score: Score, start_s: float, end_s: float, side: Sided, direction: float) -> None:
    """The working foot peels off and is drawn up into retiré."""
    span = end_s - start_s
    score.channel("support", side).to(start_s - 0.1 * span, start_s + 0.35 * span, 0.0)
    score.channel("point", side).to(start_s, start_s + 0.01, 0.85 * score.body.pointed_rad)
    score.channel("pitch", side).to(start_s, start_s + 0.5 * span, np.radians(48.0))
    score.channel("retire", side).to(start_s + 0.22 * span, end_s, 1.0)


def _release(score: Score, start_s: float, end_s: float, side: Sided, position: str) -> None:
    """The working foot comes down from retiré into a position; its place on the floor moves while it is in the air."""
    score.position = position
    score.set_foot(start_s - 0.1, start_s, side, position)
    score.channel("retire", side).to(start_s, end_s - 0.1 * (end_s - start_s), 0.0)
    score.channel("pitch", side).to(end_s - 0.3 * (end_s - start_s), end_s + 0.4 * (end_s - start_s), 0.0)
    score.channel("support", side).to(end_s - 0.1 * (end_s - start_s), end_s + 0.25 * (end_s - start_s), 1.0)


@dataclass(frozen=True)
class RetireBalance:
    """From fifth, through a small plié, to a balance in retiré on flat foot or demi-pointe, and back to fifth.

    knee_forward_deg: how much less the knee is turned out on the way up; in its place it is where it should be. depth: of the
    plié, as a share of the own demi-plié.
    """

    side: Sided = "right"
    demi_pointe: bool = True
    hold_counts: float = 4.0
    arms: str = "first"
    knee_forward_deg: float = 0.0
    depth: float = 0.8

    def perform(self, score: Score) -> None:
        """Write it."""
        beat, stand = score.beat_s, OTHER[self.side]
        start = score.now_s
        bottom, push = start + beat, start + beat + 0.06
        up = push + max(0.62, beat)
        leave = up + self.hold_counts * beat
        closed = leave + max(0.5, 0.8 * beat)
        end = closed + 1.2 * beat
        score["knee"].to(start, bottom, self.depth * score.body.demi_plie_rad)
        score.arms(start, bottom, "side low")
        _straighten(score, push, push + 0.72 * (up - push))
        score.shift(bottom - 0.5 * beat, push + 0.6 * (up - push), score.foot_centre(stand, 0.62))
        if self.demi_pointe:
            score.shift(push + 0.1 * (up - push), push + 0.85 * (up - push), score.support_point(stand))
            _heels(score, push + 0.18 * (up - push), up - 0.05, score.body.releve_rad, (stand,))
        _gather(score, push, up, self.side, 1.0)
        if self.knee_forward_deg:
            forward = -np.radians(self.knee_forward_deg)
            score.channel("turnout", self.side).bump(push - 0.4, up - 0.05, forward, 0.3, 0.45 * (up - push))
        score.arms(bottom, up, self.arms)
        if self.demi_pointe:
            _heels(score, leave + 0.1, closed + 0.1, 0.0, (stand,))
        score["knee"].to(leave + 0.25 * (closed - leave), closed + 0.3 * beat, 0.6 * score.body.demi_plie_rad)
        _release(score, leave, closed, self.side, "fifth")
        score.shift(leave + 0.3 * (closed - leave), closed + 0.3 * beat, score.balance_place())
        score.arms(leave, closed + 0.5 * beat, "low")
        _straighten(score, closed + 0.35 * beat, end)
        score.note("plie", "both", start, push + 0.6 * (up - push), bottom_s=bottom, hold_end_s=bottom)
        if self.demi_pointe:
            score.note("releve", stand, push + 0.18 * (up - push), closed + 0.1, top_s=up - 0.05, leave_s=leave + 0.1)
        moments = {"rise_s": push, "close_s": closed, "leave_s": leave + 0.1, "lowered_s": closed + 0.1}
        gesture = score.note("balance", stand, up, leave, **moments)
        gesture.facts.update(support=stand, pose="retire", demi_pointe="yes" if self.demi_pointe else "no")
        score.now_s = end


@dataclass(frozen=True)
class Pirouette:
    """From fifth: the working foot goes to fourth, plié, turn in retiré with a spotting head, close to fifth behind.

    ``working`` is the leg in retiré. En dehors turns towards it, en dedans away from it. preparation: "fourth", or "fifth" for a
    turn straight from fifth. plie_hold_s: how long the preparation stays at the bottom. balance_s: how long the dancer stays on
    full relevé, in retiré, once the turning has ended. lowering_s: the standing heel comes down over this time while the other
    foot is still in retiré. knee_forward_deg: how much less the knee is turned out on the way up. off_s: when the working foot
    begins to leave, from the push on: a dancer whose foot goes at once is for a moment not yet above the ball of the other.
    """

    working: Sided = "right"
    direction: str = "en dehors"
    revolutions: int = 1
    preparation_counts: float = 4.0
    closing_counts: float = 3.0
    arms: str = "first"
    preparation: str = "fourth"
    plie_hold_s: float = 0.0
    balance_s: float = 0.0
    off_s: float = -0.02
    lowering_s: float = 0.0
    knee_forward_deg: float = 0.0

    def perform(self, score: Score) -> None:
        """Write it."""
        beat, stand, body = score.beat_s, OTHER[self.working], score.body
        sign = SIGN[self.working] * (1.0 if self.direction == "en dehors" else -1.0)
        start = score.now_s
        fourth = start + 0.5 * self.preparation_counts * beat
        if self.preparation == "fourth":
            carry(score, start, fourth, self.working, "fourth", stand)
            for side in ("left", "right"):
                score.channel("support", side).to(fourth - 0.35 * (fourth - start), fourth, 1.0)
        low = start + self.preparation_counts * beat
        mostly_front = 0.5 * (score.balance_place() + score.foot_centre(stand, 0.62))
        score.shift(fourth - 0.4 * (fourth - start), low, mostly_front)
        score["knee"].to(fourth - 0.3 * (fourth - start), low, 0.85 * body.demi_plie_rad)
        if self.working == "right":
            score.arms(fourth, low, "second", "first")
        else:
            score.arms(fourth, low, "first", "second")
        hold_end = low + self.plie_hold_s
        push = hold_end + 0.04
        heel, up = push + 0.10, push + 0.46
        _straighten(score, push, push + 0.34)
        _heels(score, heel, up, body.releve_rad, (stand,))
        waits = self.off_s + 0.02
        score.shift(push - 0.06 - 0.4 * waits, push + 0.36 - 0.8 * waits, score.support_point(stand))
        _gather(score, push + self.off_s, push + 0.50, self.working, sign)
        spin, spun = heel + 0.12, heel + 0.12 + 0.50 + 0.52 * self.revolutions
        ramp = 0.34 if self.revolutions == 1 else 0.24
        turn = -sign * 2.0 * np.pi * self.revolutions
        before = score["yaw"].target
        score["yaw"].to(spin, spun, before + turn, ramp)
        score.channel("azimuth", stand).to(spin, spun, score.channel("azimuth", stand).target + turn, ramp)
        score.arms(push - 0.05, push + 0.42, self.arms)
        spot_head(score, spin, spun, turn, ramp)
        score.facing += turn
        # Down: heel and working foot after the turning has all but ended.
        down = spun + self.balance_s + self.lowering_s
        closed = down + 0.22
        score.position, score.front = "fifth", stand
        ball = np.array([score.channel("ball_x", stand).target, score.channel("ball_y", stand).target])
        score.centre = score.centre + ball - score.foot_target("fifth", stand)[0]
        lowers = (down - self.lowering_s, down) if self.lowering_s else (down - 0.04, closed + 0.14)
        _heels(score, *lowers, 0.0, (stand,))
        if self.lowering_s:
            score.shift(lowers[0] + 0.05, lowers[1], score.foot_centre(stand, 0.7))
        if self.knee_forward_deg:
            forward = -np.radians(self.knee_forward_deg)
            score.channel("turnout", self.working).bump(push - 0.4, push + 0.48, forward, 0.3, 0.2)
        score["knee"].to(down - 0.02, closed + 0.30, 0.75 * body.demi_plie_rad)
        _release(score, down - 0.16, closed, self.working, "fifth")
        score.shift(down - 0.02, closed + 0.34, score.balance_place())
        score.arms(down - 0.05, closed + 0.35, "second")
        end = closed + 0.30 + self.closing_counts * beat * 0.5
        _straighten(score, closed + 0.36, end)
        score.arms(closed + 0.4, end, "low")
        score.note("plie", "both", fourth - 0.3 * (fourth - start), push + 0.36, bottom_s=low, hold_end_s=hold_end)
        score.note("releve", stand, heel, closed + 0.14, top_s=up, leave_s=lowers[0])
        step = score.note(
            "turn",
            "right" if turn < 0 else "left",
            spin,
            spun,
            preparation_s=fourth,
            low_s=low,
            push_s=push,
            heel_s=heel,
            up_s=up,
            spin_s=spin,
            spun_s=spun,
            close_s=closed,
            settled_s=end,
            hold_end_s=hold_end,
            leave_s=lowers[0],
            lowered_s=lowers[1],
            down_s=down,
            arms_closed_s=push + 0.42,
            arms_open_s=down - 0.05,
            placed_s=push + 0.50,
            drawn_s=down - 0.16,
        )
        step.facts.update(
            revolutions=float(self.revolutions),
            direction=self.direction,
            support=stand,
            working=self.working,
            turned_deg=float(np.degrees(turn)),
        )
        score.now_s = start + np.ceil((end - start) / beat - 1e-6) * beat


def spot_head(score: Score, spin_s: float, spun_s: float, turn: float, ramp: float) -> None:
    """The head stays with the front and overtakes the body once each revolution: yaw of the head against the thorax."""
    time = np.linspace(spin_s, spun_s, 2001)
    body = np.abs(turn) * spin_up_and_down((time - spin_s) / (spun_s - spin_s), ramp)
    head = score["head_yaw"]
    head.moves.append(Move(spin_s, spun_s, -turn, ramp))
    for n in range(round(abs(turn) / (2.0 * np.pi))):
        leave = float(time[np.searchsorted(body, 2.0 * np.pi * n + np.radians(56.0))])
        back = float(time[np.searchsorted(body, 2.0 * np.pi * n + np.radians(305.0))])
        head.moves.append(Move(leave, back, np.sign(turn) * 2.0 * np.pi, None))


@dataclass(frozen=True)
class LegGesture:
    """From fifth: one straight leg is lifted to the front, side or back (dégagé, grand battement) and closes again.

    elevation_deg from hanging; the standing leg stays straight and flat on the floor. hold_counts: how long it is held at the
    highest point. unfolds: the knee is bent on the way up (développé).
    """

    side: Sided = "right"
    direction: str = "front"
    elevation_deg: float = 70.0
    counts: float = 4.0
    arms: str = "second"
    hold_counts: float = 0.0
    unfolds: bool = False

    def perform(self, score: Score) -> None:
        """Write it."""
        beat, stand, start = score.beat_s, OTHER[self.side], score.now_s
        span, hold = self.counts * beat, self.hold_counts * beat
        off, peak = start + 0.22 * span, start + 0.5 * span
        leave, down, end = peak + hold, start + hold + 0.78 * span, start + hold + span
        score["knee"].to(start, start + 0.18 * span, np.radians(16.0))
        score.channel("support", self.side).to(start, start + 0.16 * span, 0.0)
        score.channel("pitch", self.side).to(start + 0.04 * span, off + 0.04 * span, np.radians(46.0))
        score.shift(start + 0.05 * span, off + 0.06 * span, score.foot_centre(stand, 0.6))
        _straighten(score, start + 0.18 * span, off + 0.10 * span)
        azimuth = np.radians({"front": 12.0, "side": 78.0, "back": 160.0}[self.direction])
        # Behind, the stretched toe hangs lower.
        lowest = 41.0 if self.direction == "back" else 36.0
        for name, value in (
            ("direction", azimuth), ("point", 0.6 * score.body.pointed_rad), ("air_knee", STRAIGHT_RAD),
            ("elevation", np.radians(lowest)),
        ):  # fmt: skip
            # Set while the leg stands: these only count once it is lifted.
            score.channel(name, self.side).to(start, start + 0.02, float(value))
        line, elevation = score.channel("line", self.side), score.channel("elevation", self.side)
        # The foot stretches once the toe has room over the floor, and gives again before it comes back.
        point = score.channel("point", self.side)
        point.to(off + 0.06 * span, peak - 0.04 * span, 0.96 * score.body.pointed_rad)
        point.to(leave + 0.04 * span, down - 0.10 * span, 0.6 * score.body.pointed_rad)
        line.to(off, off + 0.16 * span, 1.0)
        elevation.to(off + 0.02 * span, peak, np.radians(self.elevation_deg))
        if self.unfolds:
            score.channel("air_knee", self.side).bump(off, peak - 0.08 * span, np.radians(85.0), 0.09 * span, 0.11 * span)
        elevation.to(leave, down - 0.02 * span, np.radians(lowest))
        line.to(down - 0.16 * span, down, 0.0)
        score["knee"].to(down - 0.10 * span, down + 0.02 * span, np.radians(16.0))
        score.channel("pitch", self.side).to(down - 0.04 * span, end - 0.06 * span, 0.0)
        score.channel("support", self.side).to(end - 0.18 * span, end - 0.04 * span, 1.0)
        score.shift(down - 0.06 * span, end - 0.05 * span, score.balance_place())
        _straighten(score, end - 0.16 * span, end)
        score.arms(start, off + 0.1 * span, self.arms)
        score.arms(down, end, "low")
        step = score.note("leg-gesture", self.side, off, down, peak_s=peak, hold_end_s=leave)
        step.facts.update(direction=self.direction, support=stand)
        score.now_s = end


def _hang(score: Score, side: Sided, off_s: float, land_s: float, knee: float, pitch: float) -> None:
    """One leg in flight: it leaves the floor at off_s, stretches and points, and comes back as it left."""
    flight, body = land_s - off_s, score.body
    aloft, toes = score.channel("aloft", side), score.channel("toes", side)
    aloft.to(off_s, off_s + 0.036, 1.0)
    aloft.to(land_s - 0.018, land_s, 0.0)
    toes.to(off_s, off_s + 0.4 * flight, 1.0)
    toes.to(land_s - 0.40 * flight, land_s - 0.02, 0.0)
    air_knee, point = score.channel("air_knee", side), score.channel("point", side)
    air_knee.to(off_s - 0.02, off_s - 0.01, knee)
    air_knee.to(off_s, off_s + 0.40 * flight, STRAIGHT_RAD)
    air_knee.to(land_s - 0.36 * flight, land_s, knee)
    point.to(off_s - 0.02, off_s - 0.01, 0.80 * body.pointed_rad)
    point.to(off_s, off_s + 0.36 * flight, 0.98 * body.pointed_rad)
    point.to(land_s - 0.36 * flight, land_s, 0.60 * pitch)


def _exchange(score: Score, start_s: float, end_s: float) -> None:
    """In the air, each foot goes to where the other one's position is."""
    score.front = OTHER[score.front]
    for side in ("left", "right"):
        score.set_foot(start_s, end_s, side, score.position)


@dataclass(frozen=True)
class Sautes:
    """Jumps in first (or the position stood in) from two feet to two, one every ``counts``, then a landing that settles.

    on: what is danced on the count, the "apex" or the "take-off". changes: the feet exchange places in the air (changements).
    place: the middle of the weight as a share of the feet, from the heels to the balls, while the knees bend.
    """

    jumps: int = 4
    height_m: float = 0.14
    counts: float = 2.0
    on: str = "apex"
    changes: bool = False
    place: float = 0.58

    def perform(self, score: Score) -> None:
        """Write it."""
        body, start = score.body, score.now_s
        period = self.counts * score.beat_s
        flight = 2.0 * np.sqrt(2.0 * self.height_m / GRAVITY)
        across = (score["com_x"].target, score["com_y"].target)
        low_place = across if self.place == 0.58 else tuple(score.balance_place(self.place))
        take_off_knee, bottom = np.radians(28.0), body.demi_plie_rad * 0.98
        rise = leg_length(body, take_off_knee) - leg_length(body, bottom) + 0.5 * body.foot.length_heel_to_ball_m
        speed = GRAVITY * flight / 2.0
        push = float(np.clip(0.78 * rise / (0.44 * speed), 0.12, 0.5 * (period - flight)))
        # The jumps' bottoms are single points when the music is quick, and held for a moment when it is slow.
        waits = period - flight - 2.0 * push > 0.04
        lift = 0.0 if waits else 1.15 * speed / push
        ball_place = tuple(0.5 * (score.support_point("left") + score.support_point("right")))
        first = start + period - (flight / 2.0 if self.on == "apex" else 0.0)
        low = first - push
        down = max(0.36, float(np.sqrt(9.0 * 0.78 * rise / max(lift, 1.0)))) if lift else 0.5
        begin = max(start, low - down)
        anchors = [Anchor(begin, "stand", STRAIGHT_RAD, across), Anchor(low, "bottom", bottom, low_place, lift)]
        score.arms(begin, low, "side low")
        pitch = 1.14 * body.releve_rad
        landed = low
        for n in range(self.jumps):
            off = first + n * period
            land = off + flight
            anchors += [Anchor(off, "take-off", take_off_knee, ball_place), Anchor(land, "landing", take_off_knee, ball_place)]
            _heels(score, off - 0.55 * push, off + 0.07, pitch)
            _heels(score, land - 0.09, land + 0.60 * push, 0.0)
            if self.changes:
                _exchange(score, off + 0.12 * flight, off + 0.6 * flight)
            for side in ("left", "right"):
                _hang(score, side, off, land, take_off_knee, pitch)
            bottomed = low
            landed = land
            low = land + push
            apex_s = off + flight / 2.0
            for step in (
                score.note("jump", "both", off, land, bottom_s=bottomed, take_off_s=off, landing_s=land, apex_s=apex_s),
                score.note("landing", "both", land, low, lowest_s=low),
            ):
                step.facts.update(position=score.position)
            if n + 1 < self.jumps:
                anchors.append(Anchor(low, "bottom", bottom, low_place, lift))
                if waits:
                    low = land + period - flight - push
                    anchors.append(Anchor(low, "bottom", bottom, low_place, lift))
        end = landed + push + max(0.6, score.beat_s)
        anchors += [Anchor(landed + push, "bottom", bottom, low_place), Anchor(end, "stand", STRAIGHT_RAD, across)]
        score.jumps.append(anchors)
        score.arms(landed, end, "low")
        score.now_s = start + np.ceil((end - start) / score.beat_s - 1e-6) * score.beat_s
