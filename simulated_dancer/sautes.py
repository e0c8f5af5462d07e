"""Jumps from two feet to two, written into the score: the way of the centre of mass by anchors, the legs in flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..analysis_core.body.anatomy import OTHER, SIDES
from .footwork import heels
from .legs import STRAIGHT_RAD, leg_length
from .score import Anchor, Score, Sided
from .solver import GRAVITY

#: Bend of the knees as the feet leave the floor, and as they come back to it.
_TAKE_OFF_KNEE = np.radians(28.0)


@dataclass(frozen=True)
class _Jumping:
    """What all jumps of a series share: bend of the knees at the bottom (radians), and how long one pushes, flies, and waits for
    the next (seconds).

    waits: whether the bottom is held, because the music is slow; else it is a single point with this upward acceleration, lift
    (m/s²). down: how long the way down to the first bottom takes. low_place, ball_place: of the weight over the floor (2,).
    """

    bottom: float
    period: float
    flight: float
    push: float
    waits: bool
    lift: float
    down: float
    low_place: tuple[float, float]
    ball_place: tuple[float, float]


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
        start, jump = score.now_s, self._jumping(score)
        across = (score["com_x"].target, score["com_y"].target)
        first = start + jump.period - (jump.flight / 2.0 if self.on == "apex" else 0.0)
        low = first - jump.push
        begin = max(start, low - jump.down)
        anchors = [Anchor(begin, "stand", STRAIGHT_RAD, across), Anchor(low, "bottom", jump.bottom, jump.low_place, jump.lift)]
        score.arms(begin, low, "side low")
        landed = low
        for n in range(self.jumps):
            off = first + n * jump.period
            anchors += self._jump(score, jump, off, low)
            landed = off + jump.flight
            low = landed + jump.push
            if n + 1 < self.jumps:
                anchors.append(Anchor(low, "bottom", jump.bottom, jump.low_place, jump.lift))
                if jump.waits:
                    low = landed + jump.period - jump.flight - jump.push
                    anchors.append(Anchor(low, "bottom", jump.bottom, jump.low_place, jump.lift))
        end = landed + jump.push + max(0.6, score.beat_s)
        anchors.append(Anchor(landed + jump.push, "bottom", jump.bottom, jump.low_place))
        anchors.append(Anchor(end, "stand", STRAIGHT_RAD, across))
        score.jumps.append(anchors)
        score.arms(landed, end, "low")
        score.now_s = start + np.ceil((end - start) / score.beat_s - 1e-6) * score.beat_s

    def _jumping(self, score: Score) -> _Jumping:
        """What the jumps share, by their height and the music."""
        body, period = score.body, self.counts * score.beat_s
        flight = 2.0 * np.sqrt(2.0 * self.height_m / GRAVITY)
        across = (score["com_x"].target, score["com_y"].target)
        low_place = across if self.place == 0.58 else tuple(score.balance_place(self.place))
        bottom = body.demi_plie_rad * 0.98
        rise = leg_length(body, _TAKE_OFF_KNEE) - leg_length(body, bottom) + 0.5 * body.foot.length_heel_to_ball_m
        speed = GRAVITY * flight / 2.0
        push = float(np.clip(0.78 * rise / (0.44 * speed), 0.12, 0.5 * (period - flight)))
        # The jumps' bottoms are single points when the music is quick, and held for a moment when it is slow.
        waits = period - flight - 2.0 * push > 0.04
        lift = 0.0 if waits else 1.15 * speed / push
        down = max(0.36, float(np.sqrt(9.0 * 0.78 * rise / max(lift, 1.0)))) if lift else 0.5
        ball_place = tuple(0.5 * (score.support_point("left") + score.support_point("right")))
        return _Jumping(bottom, period, flight, push, waits, lift, down, low_place, ball_place)

    def _jump(self, score: Score, jump: _Jumping, off: float, bottomed: float) -> list[Anchor]:
        """One jump from its take-off: the legs, the notes of jump and landing, and the anchors of its flight."""
        pitch, flight = 1.14 * score.body.releve_rad, jump.flight
        land = off + flight
        heels(score, off - 0.55 * jump.push, off + 0.07, pitch)
        heels(score, land - 0.09, land + 0.60 * jump.push, 0.0)
        if self.changes:
            _exchange(score, off + 0.12 * flight, off + 0.6 * flight)
        for side in SIDES:
            _hang(score, side, off, land, _TAKE_OFF_KNEE, pitch)
        low, apex = land + jump.push, off + flight / 2.0
        for step in (
            score.note("jump", "both", off, land, bottom_s=bottomed, take_off_s=off, landing_s=land, apex_s=apex),
            score.note("landing", "both", land, low, lowest_s=low),
        ):
            step.facts.update(position=score.position)
        return [
            Anchor(off, "take-off", _TAKE_OFF_KNEE, jump.ball_place),
            Anchor(land, "landing", _TAKE_OFF_KNEE, jump.ball_place),
        ]


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
    for side in SIDES:
        score.set_foot(start_s, end_s, side, score.position)
