"""What measures of several subjects are made of: joints of a leg, legs and turns to look at, and curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..body.anatomy import LEG_JOINTS, SIDE_SUFFIXES
from ..phrase.phase import Phase, Plie, Turn
from ..take import Floats
from .evidence import Evidence, Pirouette, made_once
from .limits import LEGS

BOTH_LEGS = tuple(name + suffix for suffix in SIDE_SUFFIXES for name in LEG_JOINTS)


@dataclass(frozen=True)
class Standing:
    """A step on a leg. frames: those in which the leg is looked at."""

    phase: Phase
    side: str
    frames: tuple[int, int]


def turns(evidence: Evidence) -> tuple[Pirouette, ...]:
    """Turns on one foot."""
    return evidence.turns


def fully_up(evidence: Evidence) -> dict[str, tuple[int, int]]:
    """Frames in which turns on one foot stand fully up, by their id."""
    return {turn.phase.id: (turn.rise, turn.sink) for turn in evidence.turns}


def standing_plies(evidence: Evidence) -> tuple[Plie, ...]:
    """Pliés on two feet that stand flat from beginning to end."""
    return tuple(plie for plie in evidence.plies if plie.support == "both" and evidence.stands(plie))


def sense(turn: Turn) -> float:
    """+1 for a turn to the left, -1 for one to the right."""
    return 1.0 if turn.side == "left" else -1.0


def knee_bend(evidence: Evidence, side: str) -> Floats:
    """Bend (F,) of a knee against standing, degrees."""
    return evidence.change("knee_flexion", side)


def without_ways(bend: Floats, window: tuple[int, int], rate_hz: float) -> tuple[int, int]:
    """A window without the part at its beginning in which a knee (F,) still stretches, and the part at its end in which it
    already bends for what comes next."""
    part = bend[window[0] : window[1] + 1]
    if part.size < 3 or not np.isfinite(part).all():
        return window
    rate = np.gradient(part) * rate_hz
    stretched, bends = np.flatnonzero(rate > -LEGS.knee_moves_deg_s), np.flatnonzero(rate < LEGS.knee_moves_deg_s)
    if not stretched.size or not bends.size or bends[-1] <= stretched[0]:
        return window
    return window[0] + int(stretched[0]), window[0] + int(bends[-1])


@made_once
def right_minus_left(evidence: Evidence, name: str) -> Floats:
    """An angle (F,) of the right side less that of the left, degrees."""
    return evidence.degrees(name, "right") - evidence.degrees(name, "left")


def foot_turnout(evidence: Evidence, side: str) -> Floats:
    """Direction (F,) of a foot against the pelvis, degrees."""
    return evidence.degrees("foot_turnout", side)


@made_once
def place_mm(evidence: Evidence, side: str, point: str) -> Floats:
    """Place (F, 2) of heel or ball over the floor, mm."""
    place = evidence.ball(side) if point == "ball" else evidence.foot_point(side, point)
    return 1000 * place[:, :2]


def moved_mm(evidence: Evidence, place: Floats, start: int, end: int) -> Floats:
    """How far (F,) a point (F, 3) is over the floor from where it was between two frames, mm."""
    first = np.array([evidence.before(place[:, axis], start, end) for axis in range(2)])
    return np.asarray(1000 * np.linalg.norm(place[:, :2] - first, axis=1))
