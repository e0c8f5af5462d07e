"""A straight leg that is lifted and closes again, written into the score."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..analysis_core.body.anatomy import OTHER
from .footwork import straighten
from .legs import STRAIGHT_RAD
from .score import Score, Sided


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
        stand, start, span = OTHER[self.side], score.now_s, self.counts * score.beat_s
        hold = self.hold_counts * score.beat_s
        off, peak = start + 0.22 * span, start + 0.5 * span
        leave, down, end = peak + hold, start + hold + 0.78 * span, start + hold + span
        self._leave_the_floor(score, start, off, span)
        self._lift(score, off, peak, leave, down, span)
        self._close(score, down, end, span)
        score.arms(start, off + 0.1 * span, self.arms)
        score.arms(down, end, "low")
        step = score.note("leg-gesture", self.side, off, down, peak_s=peak, hold_end_s=leave)
        step.facts.update(direction=self.direction, support=stand)
        score.now_s = end

    @property
    def _lowest_rad(self) -> float:
        """The leg just off the floor; behind, the stretched toe hangs lower."""
        return float(np.radians(41.0 if self.direction == "back" else 36.0))

    def _leave_the_floor(self, score: Score, start: float, off: float, span: float) -> None:
        """Through a soft knee onto the standing leg, which stretches."""
        score["knee"].to(start, start + 0.18 * span, np.radians(16.0))
        score.channel("support", self.side).to(start, start + 0.16 * span, 0.0)
        score.channel("pitch", self.side).to(start + 0.04 * span, off + 0.04 * span, np.radians(46.0))
        score.shift(start + 0.05 * span, off + 0.06 * span, score.foot_centre(OTHER[self.side], 0.6))
        straighten(score, start + 0.18 * span, off + 0.10 * span)
        azimuth = np.radians({"front": 12.0, "side": 78.0, "back": 160.0}[self.direction])
        for name, value in (
            ("direction", azimuth), ("point", 0.6 * score.body.pointed_rad), ("air_knee", STRAIGHT_RAD),
            ("elevation", self._lowest_rad),
        ):  # fmt: skip
            # Set while the leg stands: these only count once it is lifted.
            score.channel(name, self.side).to(start, start + 0.02, float(value))

    def _lift(self, score: Score, off: float, peak: float, leave: float, down: float, span: float) -> None:
        """Up to the peak, held there until ``leave``, and back."""
        line, elevation = score.channel("line", self.side), score.channel("elevation", self.side)
        # The foot stretches once the toe has room over the floor, and gives again before it comes back.
        point = score.channel("point", self.side)
        point.to(off + 0.06 * span, peak - 0.04 * span, 0.96 * score.body.pointed_rad)
        point.to(leave + 0.04 * span, down - 0.10 * span, 0.6 * score.body.pointed_rad)
        line.to(off, off + 0.16 * span, 1.0)
        elevation.to(off + 0.02 * span, peak, np.radians(self.elevation_deg))
        if self.unfolds:
            score.channel("air_knee", self.side).bump(off, peak - 0.08 * span, np.radians(85.0), 0.09 * span, 0.11 * span)
        elevation.to(leave, down - 0.02 * span, self._lowest_rad)
        line.to(down - 0.16 * span, down, 0.0)

    def _close(self, score: Score, down: float, end: float, span: float) -> None:
        """The foot comes back to its place, through a soft knee."""
        score["knee"].to(down - 0.10 * span, down + 0.02 * span, np.radians(16.0))
        score.channel("pitch", self.side).to(down - 0.04 * span, end - 0.06 * span, 0.0)
        score.channel("support", self.side).to(end - 0.18 * span, end - 0.04 * span, 1.0)
        score.shift(down - 0.06 * span, end - 0.05 * span, score.balance_place())
        straighten(score, end - 0.16 * span, end)
