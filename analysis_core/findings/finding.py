"""What the review says about a take: findings, and what it cannot tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..take import Side

Confidence = Literal["high", "medium", "low"]
Grade = Literal["watch", "fault"]

#: 1.96 standard deviations: every ± is the 95 % interval.
PLUS_MINUS = 1.96


@dataclass(frozen=True)
class View:
    """Where to stand to see a finding: camera position and aim in the laboratory, metres, at the finding's peak."""

    position_m: tuple[float, float, float]
    aim_m: tuple[float, float, float]
    name: str


@dataclass(frozen=True)
class _Numbered:
    id: str


@dataclass(frozen=True)
class Unnumbered:
    """One fault in one phase, before all findings of a take are known and counted.

    Fields as in the review.json contract; band limits may be None on an open side.

    plus_minus: 95 %, against what the body truly did. plus_minus_within_take: 95 %, against the same number where the
    step comes again in this take, without what is the same throughout it; None where the recording does not tell the two apart.
    asked_in: ids of this and of the same steps in which a number of this fault was told: those that could have shown it.
    """

    fault: str
    phase: str
    side: Side | None
    start_s: float
    onset_s: float
    peak_s: float
    end_s: float
    value: float
    unit: str
    band: tuple[float | None, float | None]
    plus_minus: float
    severity: float
    grade: Grade
    confidence: Confidence
    band_source: str
    parts: tuple[str, ...]
    view: View
    cue: str
    caution: str | None = None
    came_after: tuple[str, ...] = ()
    may_have_led_to: tuple[str, ...] = ()
    decision: Literal["open", "kept", "set aside"] = "open"
    note: str = ""
    #: Which of the fault's measures the value is, and what the number is in words.
    measure: str = ""
    says: str = ""
    plus_minus_within_take: float | None = None
    asked_in: tuple[str, ...] = ()


@dataclass(frozen=True)
class Finding(Unnumbered, _Numbered):
    """One fault in one phase, with its id in the take."""


@dataclass(frozen=True)
class Unsure:
    """A fault that this take cannot show in this phase, and why."""

    fault: str
    phase: str
    why: str
