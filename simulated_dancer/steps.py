"""The steps a phrase is made of. Each is a small frozen value; ``perform`` writes it into the score from ``now_s`` on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..analysis_core.body.anatomy import OTHER
from .footwork import carry, gather, heels, release, settle_both, straighten
from .score import Score, Sided


class PhraseStep(Protocol):
    """Anything that can be performed."""

    def perform(self, score: Score) -> None:
        """Write the step into the score and move its clock on."""


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
        straighten(score, leave, end)
        if rises:
            heels(score, start + 0.42 * half, bottom, np.radians(42.0))
            heels(score, leave, end - 0.42 * half, 0.0)
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
        heels(score, start, top, score.body.releve_rad)
        score.arms(start - 0.3 * rise, top, self.arms)
        heels(score, leave, end, 0.0)
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
        settle_both(score, end - 0.42 * (end - start), end)
        score.note("step", self.side, start, end)
        score.now_s = end


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
        straighten(score, push, push + 0.72 * (up - push))
        score.shift(bottom - 0.5 * beat, push + 0.6 * (up - push), score.foot_centre(stand, 0.62))
        if self.demi_pointe:
            score.shift(push + 0.1 * (up - push), push + 0.85 * (up - push), score.support_point(stand))
            heels(score, push + 0.18 * (up - push), up - 0.05, score.body.releve_rad, (stand,))
        gather(score, push, up, self.side)
        if self.knee_forward_deg:
            forward = -np.radians(self.knee_forward_deg)
            score.channel("turnout", self.side).bump(push - 0.4, up - 0.05, forward, 0.3, 0.45 * (up - push))
        score.arms(bottom, up, self.arms)
        if self.demi_pointe:
            heels(score, leave + 0.1, closed + 0.1, 0.0, (stand,))
        score["knee"].to(leave + 0.25 * (closed - leave), closed + 0.3 * beat, 0.6 * score.body.demi_plie_rad)
        release(score, leave, closed, self.side, "fifth")
        score.shift(leave + 0.3 * (closed - leave), closed + 0.3 * beat, score.balance_place())
        score.arms(leave, closed + 0.5 * beat, "low")
        straighten(score, closed + 0.35 * beat, end)
        score.note("plie", "both", start, push + 0.6 * (up - push), bottom_s=bottom, hold_end_s=bottom)
        if self.demi_pointe:
            score.note("releve", stand, push + 0.18 * (up - push), closed + 0.1, top_s=up - 0.05, leave_s=leave + 0.1)
        moments = {"rise_s": push, "close_s": closed, "leave_s": leave + 0.1, "lowered_s": closed + 0.1}
        gesture = score.note("balance", stand, up, leave, **moments)
        gesture.facts.update(support=stand, pose="retire", demi_pointe="yes" if self.demi_pointe else "no")
        score.now_s = end
