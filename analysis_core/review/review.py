"""The Review: what was analysed, what the teacher decided, and what is shown of the two together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..body.movement import Movement
from ..clean.quality import Quality
from ..findings.causes import chains_of
from ..findings.finding import Finding, Unsure
from ..findings.measured import Measured
from ..phrase.phase import Phrase
from ..take import Inference, Kind
from .decisions import Decisions, as_decided, match


@dataclass(frozen=True)
class TakeSummary:
    """What a review keeps of the take itself. folder: where the recording lay when it was reviewed, to find it again for the
    hand-over; never shown to others."""

    file: str
    sha256: str
    kind: Kind
    rate_hz: float
    frames: int
    duration_s: float
    inferred: tuple[Inference, ...]
    warnings: tuple[str, ...]
    folder: str | None = None


@dataclass(frozen=True)
class Markers:
    """The cleaned markers of a take, for looking at. positions_m (F, N, 3) with the floor at 0, NaN where nothing holds; source
    (F, N): values of Source."""

    labels: tuple[str, ...]
    positions_m: NDArray[np.float32]
    source: NDArray[np.uint8]


@dataclass(frozen=True)
class Review:
    """Everything that is known of one take.

    profile: the level whose bands were used. analysed: the findings as the analysis left them. measured: every number that was
    judged, inside its band or not. placement: sha256 of the static take, None without one. measures_version: what the numbers
    were judged by. markers: none for a skeleton. What is shown are ``findings`` and ``chains``: ``analysed`` with ``decisions``.
    """

    take: TakeSummary
    profile: str
    quality: Quality
    movement: Movement
    phrase: Phrase
    analysed: tuple[Finding, ...]
    unsure: tuple[Unsure, ...]
    measured: tuple[Measured, ...] = ()
    placement: str | None = None
    measures_version: str = ""
    decisions: Decisions = field(default_factory=Decisions)
    markers: Markers | None = None

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """The findings as the teacher left them."""
        return as_decided(self.analysed, self.decisions)

    @cached_property
    def chains(self) -> tuple[tuple[str, ...], ...]:
        """Ids of what came first and may have led to what, from root to end, as the teacher left the links."""
        return chains_of(self.findings)


def decide(review: Review, decisions: Decisions) -> Review:
    """The same review with other decisions in place of those it had."""
    return replace(review, decisions=decisions)


def carry_over(before: Decisions, after: Review) -> Review:
    """Put the teacher's decisions of an earlier review of the take into a new one; nothing is lost.

    What no longer matches stays listed in ``decisions.unmatched`` and ``decisions.unmatched_links``.
    """
    return decide(after, match(before, after.analysed, after.phrase.phases))
