"""What a measure hands on: a number with its time, its curve and what it rests on; or that it cannot be told."""

from __future__ import annotations

from dataclasses import dataclass

from ..phrase.phase import Phase
from ..take import Floats


@dataclass(frozen=True)
class Observation:
    """One measure of one fault in one phase, not yet judged.

    value: in the unit of the catalogue's measure. start, peak, end: frames of the window
    and of the decisive moment. curve (end - start + 1,): the measure in every frame of the window, or None for a number that has
    no course. joints: what the number rests on.
    lever_m: length over which an error of these joints becomes an angle (deg) or a share (ratio).
    beyond_fault: a rule of the catalogue other than the limit (duration, number of events) says that this is a fault.
    extra_sd: 1-SD error that comes on top of the catalogue's, in the measure's unit.
    """

    fault: str
    measure: str
    phase: Phase
    side: str | None
    value: float
    start: int
    peak: int
    end: int
    joints: tuple[str, ...]
    curve: Floats | None = None
    lever_m: float = 0.4
    beyond_fault: bool = False
    extra_sd: float = 0.0


@dataclass(frozen=True)
class NotTold:
    """A fault that could have been seen in a phase but cannot be told from this take; ``why`` completes "cannot be told: …"."""

    fault: str
    phase: Phase
    why: str
