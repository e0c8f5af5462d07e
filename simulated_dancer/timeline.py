"""Controls over time: every control is a sum of smooth moves, so that it is twice differentiable everywhere."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from .rotations import Floats


def minimum_jerk(share: Floats | float) -> Floats:
    """Smooth way from 0 to 1 with no speed and no acceleration at either end (Flash & Hogan 1985, from memory)."""
    s = np.clip(np.asarray(share, dtype=np.float64), 0.0, 1.0)
    return np.asarray(s * s * s * (10.0 - 15.0 * s + 6.0 * s * s))


def spin_up_and_down(share: Floats | float, ramp: float) -> Floats:
    """Way from 0 to 1 whose speed rises over the share ``ramp``, stays, and falls over the same share."""
    s = np.clip(np.asarray(share, dtype=np.float64), 0.0, 1.0)

    def gained(x: Floats) -> Floats:
        x = np.clip(x, 0.0, 1.0)
        return x**4 * (2.5 - 3.0 * x + x**2)

    top_speed = 1.0 / (1.0 - ramp)
    rising = ramp * gained(s / ramp)
    level = np.clip(s - ramp, 0.0, 1.0 - 2.0 * ramp)
    x = np.clip((s - (1.0 - ramp)) / ramp, 0.0, 1.0)
    falling = ramp * (x - gained(x))
    return np.asarray(top_speed * (rising + level + falling), dtype=np.float64)


@dataclass(frozen=True)
class Move:
    """A change by ``change`` from start_s to end_s; ramp is None for minimum jerk, else the share of spinning up."""

    start_s: float
    end_s: float
    change: float
    ramp: float | None = None

    def at(self, time_s: Floats) -> Floats:
        """The change made so far at each time (F,)."""
        share = (time_s - self.start_s) / max(self.end_s - self.start_s, 1e-9)
        return self.change * (minimum_jerk(share) if self.ramp is None else spin_up_and_down(share, self.ramp))


@dataclass
class Channel:
    """One control. ``target`` is where the moves made so far lead to."""

    start: float
    moves: list[Move] = field(default_factory=list)
    target: float = field(init=False)

    def __post_init__(self) -> None:
        self.target = self.start

    def to(self, start_s: float, end_s: float, target: float, ramp: float | None = None) -> None:
        """Go to a new target between two times; moves may overlap."""
        if target != self.target:
            self.moves.append(Move(start_s, end_s, target - self.target, ramp))
        self.target = target

    def bump(self, start_s: float, end_s: float, size: float, rise_s: float, fall_s: float | None = None) -> None:
        """Leave by ``size`` at start_s (within rise_s) and be back at end_s; the target stays."""
        fall_s = rise_s if fall_s is None else fall_s
        self.moves.append(Move(start_s, start_s + rise_s, size))
        self.moves.append(Move(end_s - fall_s, end_s, -size))

    def at(self, time_s: Floats) -> Floats:
        """Value at each time (F,)."""
        value = np.full(np.shape(time_s), self.start, dtype=np.float64)
        for move in self.moves:
            value += move.at(time_s)
        return value


@dataclass(frozen=True)
class Knot:
    """Where the centre of mass must be at a time: position, velocity, acceleration, metres and seconds."""

    time_s: float
    position: Floats
    velocity: Floats
    acceleration: Floats


def through(knots: tuple[Knot, ...], time_s: Floats) -> Floats:
    """Positions (F, 3) of the quintic pieces through the knots; constant before the first and after the last.

    A piece between the take-off and the landing knot of one and the same parabola is that parabola.
    """
    result = np.empty((time_s.size, 3))
    for axis in range(3):
        values = np.full(time_s.size, knots[0].position[axis])
        values[time_s >= knots[-1].time_s] = knots[-1].position[axis]
        for a, b in pairwise(knots):
            inside = (time_s >= a.time_s) & (time_s < b.time_s)
            span = b.time_s - a.time_s
            p0, v0, a0 = a.position[axis], a.velocity[axis] * span, a.acceleration[axis] * span**2
            p1, v1, a1 = b.position[axis], b.velocity[axis] * span, b.acceleration[axis] * span**2
            c3 = 10 * (p1 - p0) - 6 * v0 - 4 * v1 - 1.5 * a0 + 0.5 * a1
            c4 = -15 * (p1 - p0) + 8 * v0 + 7 * v1 + 1.5 * a0 - a1
            c5 = 6 * (p1 - p0) - 3 * v0 - 3 * v1 - 0.5 * a0 + 0.5 * a1
            s = (time_s[inside] - a.time_s) / span
            values[inside] = p0 + s * (v0 + s * (a0 / 2 + s * (c3 + s * (c4 + s * c5))))
        result[:, axis] = values
    return result
