"""What legs and feet do in several steps: stretch, rise, carry a foot, draw it up and bring it down again."""

from __future__ import annotations

import numpy as np

from ..analysis_core.body.anatomy import OTHER, SIDES
from .legs import STRAIGHT_RAD
from .score import Score, Sided


def straighten(score: Score, start_s: float, end_s: float) -> None:
    """The legs that stand stretch."""
    score["knee"].to(start_s, end_s, STRAIGHT_RAD)


def heels(score: Score, start_s: float, end_s: float, pitch: float, sides: tuple[Sided, ...] = SIDES) -> None:
    """Heels go to an angle of the foot with the floor, radians."""
    for side in sides:
        score.channel("pitch", side).to(start_s, end_s, pitch)


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


def settle_both(score: Score, start_s: float, end_s: float) -> None:
    """The weight goes over both feet, where they now stand."""
    for side in SIDES:
        score.channel("support", side).to(start_s, end_s, 1.0)
    # The foot that did not move is where the stance is from now on: take the new middle from both feet.
    middle = score.balance_place(0.5)
    score.centre = middle
    span = end_s - start_s
    score.shift(start_s, start_s + 0.75 * span, score.balance_place())
    straighten(score, start_s + 0.55 * span, end_s)


def gather(score: Score, start_s: float, end_s: float, side: Sided) -> None:
    """The working foot peels off and is drawn up into retiré."""
    span = end_s - start_s
    score.channel("support", side).to(start_s - 0.1 * span, start_s + 0.35 * span, 0.0)
    score.channel("point", side).to(start_s, start_s + 0.01, 0.85 * score.body.pointed_rad)
    score.channel("pitch", side).to(start_s, start_s + 0.5 * span, np.radians(48.0))
    score.channel("retire", side).to(start_s + 0.22 * span, end_s, 1.0)


def release(score: Score, start_s: float, end_s: float, side: Sided, position: str) -> None:
    """The working foot comes down from retiré into a position; its place on the floor moves while it is in the air."""
    score.position = position
    score.set_foot(start_s - 0.1, start_s, side, position)
    score.channel("retire", side).to(start_s, end_s - 0.1 * (end_s - start_s), 0.0)
    score.channel("pitch", side).to(end_s - 0.3 * (end_s - start_s), end_s + 0.4 * (end_s - start_s), 0.0)
    score.channel("support", side).to(end_s - 0.1 * (end_s - start_s), end_s + 0.25 * (end_s - start_s), 1.0)
