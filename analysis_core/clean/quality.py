"""The capture verdict as data: what each marker gave, what happened, and whether to retake."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..take import CleaningEvent

Verdict = Literal["good", "usable", "retake"]


@dataclass(frozen=True)
class MarkerQuality:
    """One marker: shares of the take (0..1) that were missing as recorded and filled by each method; longest gap in seconds."""

    label: str
    landmark: str | None
    missing_fraction: float
    longest_gap_s: float
    filled_own_path: float
    filled_body_part: float
    filled_whole_body: float


@dataclass(frozen=True)
class Quality:
    """The verdict with at most five reasons, most important first, in plain sentences."""

    verdict: Verdict
    reasons: tuple[str, ...]
    missing_fraction: float
    markers: tuple[MarkerQuality, ...]
    events: tuple[CleaningEvent, ...]
