"""What a fault is that is built into a phrase, and what those who build faults in share: when a step is judged, how a control
leaves its course."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from ..analysis_core.body.anatomy import SIDES
from .score import Score, Sided, Step
from .timeline import Move


@dataclass(frozen=True)
class Fault:
    """What to build in: a fault of the catalogue, the id of a phase (turn-1, plie-1, …), and its size in the fault's unit.

    side: for faults of two-footed steps; both feet when None. lead_s: by how much heel-lifts-early begins before the push.
    """

    fault: str
    phase: str
    size: float
    side: Sided | None = None
    lead_s: float = 0.26


Times = tuple[float, float]
Builder = Callable[[Score, Step, Fault], Times]


@dataclass(frozen=True)
class Builders:
    """Faults that can be built in: of each the unit of its size, the kinds of phase that can carry it, and what builds it in."""

    known: dict[str, tuple[str, tuple[str, ...], Builder]] = field(default_factory=dict)

    def builds(self, name: str, unit: str, *kinds: str) -> Callable[[Builder], Builder]:
        """Declares what builds a fault in; it returns when the fault begins and when it is greatest."""

        def keep(builder: Builder) -> Builder:
            self.known[name] = (unit, kinds, builder)
            return builder

        return keep


def window(step: Step) -> Times:
    """When a step is judged: single support of a turn, hold of a balance, the whole of other steps."""
    m = step.moments
    return (m["up_s"], m["spun_s"]) if step.kind == "turn" else (step.start_s, step.end_s)


def held(score: Score, step: Step, channel: str, size: float) -> Times:
    """Leave a control's course by size for the time in which the step is judged."""
    start, end = window(step)
    rise = min(0.3, 0.35 * (end - start))
    score[channel].bump(start, end, size, rise)
    return start, start + rise


def sides(fault: Fault) -> tuple[Sided, ...]:
    """The side that a fault is asked for on, or both."""
    return (fault.side,) if fault.side else SIDES


def support(step: Step) -> Sided:
    """The foot that a step stands on."""
    side = step.facts["support"]
    return "left" if side == "left" else "right"


def suffix(side: str) -> str:
    """How the controls of a side end."""
    return ".L" if side == "left" else ".R"


def pitch_of(score: Score, millimetres: float) -> float:
    """The pitch of a foot whose heel is so high above its ball."""
    return float(np.arcsin(millimetres / 1000.0 / score.body.foot.length_heel_to_ball_m))


#: The controls that say where the body and its feet are in the room.
EVERYTHING = ("com_x", "com_y", "ball_x.L", "ball_y.L", "ball_x.R", "ball_y.R")


def shift_for_good(score: Score, names: tuple[str, ...], start_s: float, end_s: float, across: tuple[float, float]) -> None:
    """Move controls to another place between two moments and leave them there; later flights go with them."""
    for name in names:
        size = across[0] if name.endswith(("_x", "_x.L", "_x.R")) else across[1]
        score[name].moves.append(Move(start_s, end_s, size))
    for i, jump in enumerate(score.jumps):
        score.jumps[i] = [
            replace(a, across=(a.across[0] + across[0], a.across[1] + across[1])) if a.time_s > end_s else a for a in jump
        ]
