"""Landmarks of a phrase: moments that can be told from where the body is, whatever its speed (catalogue, section 9)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..body.movement import SIDES, Movement, frame_at
from ..phrase.phase import Jump, Landing, LegGesture, Phase, Plie, Releve, Step, Turn
from ..take import Floats
from ..wording import numbers

#: A relevé counts as risen, and as let go, where the heel passes this share of its height.
_HALF_WAY = 0.5
_QUARTER_RAD = np.pi / 2


@dataclass(frozen=True)
class Moment:
    """One landmark of one phase. what: its name within the phase, the same in every take."""

    phase: str
    what: str
    time_s: float


def _named(phase: Phase) -> list[tuple[float | None, str]]:
    """Moments that a phase tells itself, seconds, and what they are called."""
    match phase:
        case Plie():
            return [(phase.bottom_s, "deepest")]
        case Turn():
            return [(phase.single_support_s, "alone on one foot"), (phase.close_s, "closes")]
        case Jump():
            told = [(phase.push_s, "pushes"), (phase.take_off_s, "takes off")]
            return [*told, (phase.apex_s, "highest"), (phase.landing_s, "lands")]
        case Landing():
            return [(phase.lowest_s, "lowest")]
        case LegGesture():
            return [(phase.peak_s, "highest")]
    return []


def moments_of(phase: Phase, movement: Movement) -> Iterator[Moment]:
    """The landmarks of one phase that the take shows."""
    for time_s, what in _named(phase):
        if time_s is not None and np.isfinite(time_s):
            yield Moment(phase.id, what, time_s)
    if isinstance(phase, Turn):
        yield from _quarters(phase, movement)
    elif isinstance(phase, Releve):
        yield from _half_up(phase, movement)
    elif isinstance(phase, Step):
        yield Moment(phase.id, "on the floor", phase.end_s)


def _quarters(phase: Turn, movement: Movement) -> Iterator[Moment]:
    """Every 90° of yaw of a turn, counted from its start."""
    yaw = movement.angle("pelvis_yaw")[phase.start : phase.end + 1]
    if not np.isfinite(yaw).all() or not phase.turned_deg:
        return
    # From the front of the preparation: where a turn is said to begin depends on its speed.
    start = phase.preparation_s
    front = yaw[0] if start is None else movement.angle("pelvis_yaw")[frame_at(movement, start)]
    turned = np.sign(yaw[-1] - yaw[0]) * (yaw - (front if np.isfinite(front) else yaw[0]))
    for quarter in range(1, int(turned.max() // _QUARTER_RAD) + 1):
        after = int(np.argmax(turned >= quarter * _QUARTER_RAD))
        if after > 0:
            name = f"at {numbers.number(90 * quarter, 'deg')}"
            yield Moment(phase.id, name, _crossing(turned, after, quarter * _QUARTER_RAD, phase, movement))


def _half_up(phase: Releve, movement: Movement) -> Iterator[Moment]:
    """The heel on its way up and on its way down, at half of its height."""
    sides = SIDES if phase.support in (None, "both") else (str(phase.support),)
    heels = [movement.heel_height_m(side)[phase.start : phase.end + 1] for side in sides]
    heel = np.mean(heels, axis=0)
    if not np.isfinite(heel).all() or heel.size < 3:
        return
    half = _HALF_WAY * float(np.quantile(heel, 0.9))
    over = np.flatnonzero(heel > half)
    if over.size and over[0] > 0:
        yield Moment(phase.id, "rises", _crossing(heel, int(over[0]), half, phase, movement))
    if over.size and over[-1] + 1 < heel.size:
        yield Moment(phase.id, "comes down", _crossing(-heel, int(over[-1]) + 1, -half, phase, movement))


def _crossing(curve: Floats, after: int, level: float, phase: Phase, movement: Movement) -> float:
    """When a curve of a phase's frames passes a level upward, between two samples, seconds."""
    before, here = float(curve[after - 1]), float(curve[after])
    share = (level - before) / (here - before) if here > before else 1.0
    return float((phase.start + after - 1 + share) / movement.rate_hz)
