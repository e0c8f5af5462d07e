"""The truth of every fault, by formulas of its own: written from the fault catalogue on the exact dance and its score.

    values = true_values(simulation)      every number of the catalogue, for every step, with the frames it may look at

It shares no code with the program's findings and phases: a wrong definition, window or gate there does not cancel here.
"""

from __future__ import annotations

from ..simulate import Simulation
from .dance import Dance, TrueValue
from .holds import balances, music
from .jumps import jumps
from .legs import legs
from .posture import posture
from .turns import retires, turns

__all__ = ["Dance", "TrueValue", "true_values"]


def true_values(simulation: Simulation) -> tuple[TrueValue, ...]:
    """All numbers of one dance."""
    dance = Dance(simulation)
    families = (turns, retires, posture, legs, jumps, balances, music)
    return tuple(value for family in families for value in family(dance) if value is not None)
