"""A turn on one foot in retiré with a spotting head, as it is danced: written into the score in the order of its moments."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..analysis_core.body.anatomy import OTHER, SIDES
from .footwork import carry, gather, heels, release, straighten
from .score import SIGN, Score, Sided
from .timeline import Move, spin_up_and_down


@dataclass(frozen=True)
class _Moments:
    """Times of a turn, seconds.

    fourth: the working foot has come to its place. low: the plié is deepest, until hold_end. heel, up: the standing heel leaves
    the floor, and is fully up. spin, spun: the turning. lowers: the standing heel comes down. down: the working foot begins to
    come down, until closed. end: both legs are straight again. ramp: share of the turning in which it speeds up.
    """

    start: float
    fourth: float
    low: float
    hold_end: float
    push: float
    heel: float
    up: float
    spin: float
    spun: float
    ramp: float
    down: float
    closed: float
    lowers: tuple[float, float]
    end: float


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
        stand = OTHER[self.working]
        sign = SIGN[self.working] * (1.0 if self.direction == "en dehors" else -1.0)
        turn = -sign * 2.0 * np.pi * self.revolutions
        at = self._moments(score)
        self._prepare(score, at, stand)
        self._rise(score, at, stand)
        self._spin(score, at, stand, turn)
        self._come_down(score, at, stand)
        self._note(score, at, stand, turn)
        score.now_s = at.start + np.ceil((at.end - at.start) / score.beat_s - 1e-6) * score.beat_s

    def _moments(self, score: Score) -> _Moments:
        beat, start = score.beat_s, score.now_s
        low = start + self.preparation_counts * beat
        hold_end = low + self.plie_hold_s
        push = hold_end + 0.04
        heel, up = push + 0.10, push + 0.46
        spin, spun = heel + 0.12, heel + 0.12 + 0.50 + 0.52 * self.revolutions
        # Heel and working foot come down after the turning has all but ended.
        down = spun + self.balance_s + self.lowering_s
        closed = down + 0.22
        return _Moments(
            start=start,
            fourth=start + 0.5 * self.preparation_counts * beat,
            low=low,
            hold_end=hold_end,
            push=push,
            heel=heel,
            up=up,
            spin=spin,
            spun=spun,
            ramp=0.34 if self.revolutions == 1 else 0.24,
            down=down,
            closed=closed,
            lowers=(down - self.lowering_s, down) if self.lowering_s else (down - 0.04, closed + 0.14),
            end=closed + 0.30 + self.closing_counts * beat * 0.5,
        )

    def _prepare(self, score: Score, at: _Moments, stand: Sided) -> None:
        """To fourth, unless it is danced from fifth, and down, the weight mostly over the standing foot."""
        way = at.fourth - at.start
        if self.preparation == "fourth":
            carry(score, at.start, at.fourth, self.working, "fourth", stand)
            for side in SIDES:
                score.channel("support", side).to(at.fourth - 0.35 * way, at.fourth, 1.0)
        mostly_front = 0.5 * (score.balance_place() + score.foot_centre(stand, 0.62))
        score.shift(at.fourth - 0.4 * way, at.low, mostly_front)
        score["knee"].to(at.fourth - 0.3 * way, at.low, 0.85 * score.body.demi_plie_rad)
        if self.working == "right":
            score.arms(at.fourth, at.low, "second", "first")
        else:
            score.arms(at.fourth, at.low, "first", "second")

    def _rise(self, score: Score, at: _Moments, stand: Sided) -> None:
        """The push: onto the standing foot and its relevé, the other drawn up into retiré."""
        push = at.push
        straighten(score, push, push + 0.34)
        heels(score, at.heel, at.up, score.body.releve_rad, (stand,))
        waits = self.off_s + 0.02
        score.shift(push - 0.06 - 0.4 * waits, push + 0.36 - 0.8 * waits, score.support_point(stand))
        gather(score, push + self.off_s, push + 0.50, self.working)

    def _spin(self, score: Score, at: _Moments, stand: Sided, turn: float) -> None:
        """Body and standing foot turn by so much (radians), the head spots, the arms close."""
        score["yaw"].to(at.spin, at.spun, score["yaw"].target + turn, at.ramp)
        foot = score.channel("azimuth", stand)
        foot.to(at.spin, at.spun, foot.target + turn, at.ramp)
        score.arms(at.push - 0.05, at.push + 0.42, self.arms)
        spot_head(score, at.spin, at.spun, turn, at.ramp)
        score.facing += turn

    def _come_down(self, score: Score, at: _Moments, stand: Sided) -> None:
        """Heel and working foot down to fifth behind, into a plié, and up again."""
        down, closed = at.down, at.closed
        score.position, score.front = "fifth", stand
        ball = np.array([score.channel("ball_x", stand).target, score.channel("ball_y", stand).target])
        score.centre = score.centre + ball - score.foot_target("fifth", stand)[0]
        heels(score, *at.lowers, 0.0, (stand,))
        if self.lowering_s:
            score.shift(at.lowers[0] + 0.05, at.lowers[1], score.foot_centre(stand, 0.7))
        if self.knee_forward_deg:
            forward = -np.radians(self.knee_forward_deg)
            score.channel("turnout", self.working).bump(at.push - 0.4, at.push + 0.48, forward, 0.3, 0.2)
        score["knee"].to(down - 0.02, closed + 0.30, 0.75 * score.body.demi_plie_rad)
        release(score, down - 0.16, closed, self.working, "fifth")
        score.shift(down - 0.02, closed + 0.34, score.balance_place())
        score.arms(down - 0.05, closed + 0.35, "second")
        straighten(score, closed + 0.36, at.end)
        score.arms(closed + 0.4, at.end, "low")

    def _note(self, score: Score, at: _Moments, stand: Sided, turn: float) -> None:
        """The plié, the relevé and the turn, with the times of their moments."""
        bends = at.fourth - 0.3 * (at.fourth - at.start)
        score.note("plie", "both", bends, at.push + 0.36, bottom_s=at.low, hold_end_s=at.hold_end)
        score.note("releve", stand, at.heel, at.closed + 0.14, top_s=at.up, leave_s=at.lowers[0])
        step = score.note(
            "turn",
            "right" if turn < 0 else "left",
            at.spin,
            at.spun,
            preparation_s=at.fourth,
            low_s=at.low,
            push_s=at.push,
            heel_s=at.heel,
            up_s=at.up,
            spin_s=at.spin,
            spun_s=at.spun,
            close_s=at.closed,
            settled_s=at.end,
            hold_end_s=at.hold_end,
            leave_s=at.lowers[0],
            lowered_s=at.lowers[1],
            down_s=at.down,
            arms_closed_s=at.push + 0.42,
            arms_open_s=at.down - 0.05,
            placed_s=at.push + 0.50,
            drawn_s=at.down - 0.16,
        )
        step.facts.update(
            revolutions=float(self.revolutions),
            direction=self.direction,
            support=stand,
            working=self.working,
            turned_deg=float(np.degrees(turn)),
        )


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
