"""What a drawing is made from: a finding, what its measure tells again of the take, and the decisive moment."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..body.movement import SIDES
from ..findings.evidence import Evidence
from ..findings.find import MEASURES
from ..findings.finding import Finding
from ..findings.observation import Observation
from ..phrase.phase import P, Turn
from ..take import Floats
from .drawing import Reading, Shape
from .moment import Moment

#: What lies on the floor is drawn so far above it.
ABOVE_FLOOR_M = 0.006


@dataclass(frozen=True)
class Seen:
    """A finding with what it was measured from. told: the observation, None where the measure does not tell it any more."""

    finding: Finding
    evidence: Evidence
    told: Observation | None

    @property
    def frame(self) -> int:
        """The decisive frame."""
        return self.told.peak if self.told is not None else self.evidence.frame(self.finding.peak_s)

    @property
    def now(self) -> Moment:
        """The decisive moment."""
        return Moment(self.evidence, self.frame)

    @property
    def before(self) -> Moment:
        """The moment from which the number is a change; the decisive one where it stands for itself."""
        against = None if self.told is None else self.told.against
        return Moment(self.evidence, self.frame if against is None else against)

    @property
    def side(self) -> str:
        """The side that the number is of; the right where none is said."""
        side = self.told.side if self.told is not None else self.finding.side
        return side if side in SIDES else "right"

    @property
    def value(self) -> float:
        """The number, in its unit."""
        return self.finding.value


Shapes = tuple[list[Shape], Reading, Floats]


Draw = Callable[[Seen], Shapes]


def observation_of(finding: Finding, evidence: Evidence) -> Observation | None:
    """What the measure of a finding tells again of its phase: the one whose number and side are the finding's."""
    measure = MEASURES.get(finding.fault)
    if measure is None:
        return None
    told = [
        item
        for item in measure(evidence)
        if isinstance(item, Observation) and item.phase.id == finding.phase and item.measure == finding.measure
    ]
    if finding.side in SIDES:
        told = [item for item in told if item.side == finding.side] or told
    return min(told, key=lambda item: abs(np.nan_to_num(item.value, nan=np.inf) - finding.value), default=None)


def on_floor(place: Floats, height: float = ABOVE_FLOOR_M) -> Floats:
    return np.array([place[0], place[1], height])


def step_of(seen: Seen, kind: type[P]) -> P | None:
    """The step in which the number was measured, where it is of a kind."""
    return seen.told.phase if seen.told is not None and isinstance(seen.told.phase, kind) else None


def turns_of(seen: Seen) -> float:
    """Turns that a length is divided by."""
    turn = step_of(seen, Turn)
    if seen.finding.fault != "turn-travels" or turn is None:
        return 1.0
    return max(1.0, turn.revolutions or 1.0)
