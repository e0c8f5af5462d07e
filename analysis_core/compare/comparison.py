"""What a comparison of two takes says. Values are B minus A; times in seconds from each take's first frame."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ..review import TakeSummary
from ..take import Floats, Side

Method = Literal["landmarks", "elastic"]
Change = Literal["gone", "better", "same", "worse", "new", "cannot be told"]


@dataclass(frozen=True)
class Landmark:
    """The same moment of the phrase in both takes. found_b_s: where it was found in B by B's own movement alone."""

    name: str
    a_s: float
    b_s: float
    found_b_s: float


@dataclass(frozen=True)
class Unmatched:
    """A stretch of one take that answers to nothing in the other."""

    take: Literal["a", "b"]
    start_s: float
    end_s: float
    why: str


@dataclass(frozen=True)
class Alignment:
    """When B does what A does. pieces: pairs of times (K,), both rising; between two pieces lies what is unmatched.

    matched: phase of A -> phase of B, by id.
    """

    method: Method
    landmarks: tuple[Landmark, ...]
    pieces: tuple[tuple[Floats, Floats], ...]
    unmatched: tuple[Unmatched, ...]
    matched: dict[str, str] = field(default_factory=dict)

    @property
    def path(self) -> tuple[Floats, Floats]:
        """All pieces after each other: times in A and in B."""
        if not self.pieces:
            return np.empty(0), np.empty(0)
        return np.concatenate([a for a, _ in self.pieces]), np.concatenate([b for _, b in self.pieces])

    def to_b(self, a_s: Floats) -> Floats:
        """Times of B that answer to times of A; NaN where nothing does."""
        answers = np.full(np.shape(a_s), np.nan)
        for a, b in self.pieces:
            inside = (a_s >= a[0] - 1e-9) & (a_s <= a[-1] + 1e-9)
            answers[inside] = np.interp(np.asarray(a_s)[inside], a, b)
        return answers


@dataclass(frozen=True)
class Usual:
    """How a step usually goes in A, from its repetitions there, at one place of it. z: how many SD B is away; repetitions: n.

    t, t_least: of the repetitions in B against those in A, and what |t| must exceed (random field theory, 5 %); None with fewer
    than five.
    """

    mean: float
    sd: float
    repetitions: int
    z: float
    t: float | None = None
    t_least: float | None = None


@dataclass(frozen=True)
class Difference:
    """The largest lasting difference of one quantity in one phase. rms: of the difference over the phase, in the same unit.

    phase: id in A, None between phases. least: the smallest difference that the measurement can show here, looking at
    as many numbers as were looked at.
    """

    quantity: str
    phase: str | None
    a_s: float
    b_s: float
    value: float
    unit: str
    plus_minus: float
    least: float
    beyond_measurement: bool
    rms: float
    usual: Usual | None = None


@dataclass(frozen=True)
class Timing:
    """When B comes to a landmark against A, both counted from the first landmark, seconds, + = later.

    since_before_s: how much longer B took since the landmark before; since_before_beyond: whether that can be shown.
    """

    landmark: str
    value_s: float
    plus_minus_s: float
    beyond_measurement: bool
    since_before_s: float
    since_before_beyond: bool


@dataclass(frozen=True)
class FindingChange:
    """What became of one fault in one step. a, b: ids of the findings. value: B minus A of the measure, None when unknown."""

    fault: str
    side: Side | None
    phase: str
    change: Change
    a: str | None
    b: str | None
    value: float | None
    unit: str
    plus_minus: float | None
    why: str = ""


@dataclass(frozen=True)
class Comparison:
    """Two takes against each other. same_markers: whether the markers stayed on between them, so that what is the same all the
    time drops out of the difference. differences: the largest against what can be shown first."""

    a: TakeSummary
    b: TakeSummary
    same_markers: bool
    alignment: Alignment
    differences: tuple[Difference, ...]
    timing: tuple[Timing, ...]
    findings: tuple[FindingChange, ...]
