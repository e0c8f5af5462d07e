"""What a measure hands on: a number with its time, its curve and what it rests on; or that it cannot be told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..phrase.phase import Phase
from ..take import Floats
from .limits import LEVERS

if TYPE_CHECKING:
    # Who reads a review back needs what was measured, and nothing of what measures.
    from .evidence import Evidence


@dataclass(frozen=True)
class Observation:
    """One measure of one fault in one phase, not yet judged.

    value: in the unit of the catalogue's measure. start, peak, end: frames of the window
    and of the decisive moment. curve (end - start + 1,): the measure in every frame of the window, or None for a number that has
    no course. joints: what the number rests on.
    lever_m: length over which an error of these joints becomes an angle (deg) or a share (ratio).
    beyond_fault: a rule of the catalogue other than the limit (duration, number of events) says that this is a fault.
    extra_sd: 1-SD error that comes on top, in the measure's unit. least_sd: the error is no smaller than this in all: what other
    recordings of the same dance cannot tell.
    widened: the band is wider here by this factor and by this much, in the measure's unit (a lifted leg, a fifth position).
    says: what the number is, where the catalogue's words are not enough (which way an axis leans).
    made_of: the curve (F,) that the value was taken from at its peak, computed frame by frame, in the measure's unit; where
    ``path`` is said a path (F, 2) over the floor, along which the value is a distance. against: the frame from which it is a
    change (None: it stands for itself, or its curve counts from standing). By them the value is measured again on other
    recordings of the same dance; without made_of the catalogue's error serves.
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
    lever_m: float = LEVERS.limb_m
    beyond_fault: bool = False
    extra_sd: float = 0.0
    least_sd: float = 0.0
    widened: tuple[float, float] = (1.0, 0.0)
    says: str | None = None
    made_of: Callable[[Evidence], Floats] | None = None
    against: int | None = None
    path: bool = False


@dataclass(frozen=True)
class NotTold:
    """A fault that could have been seen in a phase but cannot be told from this take; ``why`` completes "cannot be told: …"."""

    fault: str
    phase: Phase
    why: str
