"""Faults that are built into a clean phrase: each changes a few controls in one phase and leaves everything else alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .fault_builders import Fault as Fault
from .fault_builders import support
from .faults_of_jumps import JUMPS
from .faults_of_poses import POSES
from .faults_of_turns import TURNS
from .score import Score

_BUILDERS = TURNS.known | POSES.known | JUMPS.known


@dataclass(frozen=True)
class BuiltInFault:
    """What was built in, as truth: onset_s where it begins, peak_s where it is greatest; value in ``unit`` as asked for."""

    fault: str
    phase: str
    side: Literal["left", "right", "both"] | None
    onset_s: float
    peak_s: float
    value: float
    unit: str


def supported() -> dict[str, tuple[str, tuple[str, ...]]]:
    """Faults that can be built in: the unit of their size, and the kinds of phase that can carry them."""
    return {name: (unit, kinds) for name, (unit, kinds, _) in sorted(_BUILDERS.items())}


def build_in(score: Score, faults: tuple[Fault, ...]) -> tuple[BuiltInFault, ...]:
    """Change the score; returns the truth. Raises ValueError for an unknown fault, phase or pairing."""
    steps = {step.id: step for step in score.steps}
    built = []
    for fault in faults:
        if fault.fault not in _BUILDERS:
            raise ValueError(f"{fault.fault} cannot be built in; these can: {', '.join(sorted(_BUILDERS))}")
        unit, kinds, builder = _BUILDERS[fault.fault]
        step = steps.get(fault.phase)
        if step is None or step.kind not in kinds:
            raise ValueError(f"{fault.fault} needs a phase of kind {' or '.join(kinds)}, not {fault.phase!r}")
        onset, peak = builder(score, step, fault)
        side = fault.side or (support(step) if step.facts.get("support") else step.side)
        name = fault.fault.removeprefix("standing-")
        built.append(BuiltInFault(name, fault.phase, side, onset, peak, fault.size, unit))
    return tuple(built)
