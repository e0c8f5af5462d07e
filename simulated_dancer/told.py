"""What the program tells of a simulated take: its review, and every number it measured with its ±, judged or not."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..analysis_core.analyse import analyse_take
from ..analysis_core.findings.catalogue import load_profile
from ..analysis_core.findings.evidence import Evidence
from ..analysis_core.findings.find import observe
from ..analysis_core.findings.finding import PLUS_MINUS, Finding
from ..analysis_core.findings.observation import Observation
from ..analysis_core.findings.uncertainty import errors_within_take, standard_errors
from ..analysis_core.phrase.counts import Counts
from ..analysis_core.phrase.phase import Phase
from ..analysis_core.review import Review
from ..analysis_core.settings import Settings
from ..analysis_core.take import Take


@dataclass(frozen=True)
class Number:
    """One measured number: what it is of, the window that the program looked at, its value and its ± (95 %).

    plus_minus_within: of the same number against itself in another step of the take; NaN where the program does not say.
    """

    fault: str
    measure: str
    phase: Phase
    side: str | None
    start_s: float
    peak_s: float
    end_s: float
    value: float
    plus_minus: float
    plus_minus_within: float


def reviewed(take: Take, static: Take | None, *, level: str = "intermediate", tempo_bpm: float | None = None) -> Review:
    """The review of a take, with or without its static take; tempo_bpm: the music's, its count 1 at the first frame."""
    return analyse_take(take, Settings(level=level, tempo_bpm=tempo_bpm), static)


def numbers(review: Review, tempo_bpm: float | None = None) -> tuple[Number, ...]:
    """Every number that the program measures in a take."""
    profile = load_profile(review.profile)
    counts = None if tempo_bpm is None else Counts(tempo_bpm)
    evidence = Evidence(review.movement, review.phrase, counts)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        told = [item for item in observe(evidence, profile) if isinstance(item, Observation) and np.isfinite(item.value)]
        limits = [profile.entries[item.fault].measures[item.measure] for item in told]
        errors = standard_errors(told, limits, evidence)
        within = errors_within_take(told, limits, evidence)
    time_s = review.movement.time_s
    return tuple(
        Number(
            item.fault, item.measure, item.phase, item.side,
            float(time_s[item.start]), float(time_s[item.peak]), float(time_s[item.end]),
            float(item.value), PLUS_MINUS * sd, np.nan if again is None else PLUS_MINUS * again,
        )
        for item, sd, again in zip(told, errors, within, strict=True)
    )  # fmt: skip


def findings_of(review: Review, *faults: str) -> list[Finding]:
    """The findings of some faults."""
    return [finding for finding in review.findings if finding.fault in faults]


def in_words(findings: Sequence[Finding]) -> str:
    """Findings in a line: fault, step, side, value, ±, grade."""
    said = [
        f"{f.fault} {f.measure} {f.phase}{f' {f.side}' if f.side else ''} {f.value:.3g} ± {f.plus_minus:.2g} {f.unit} ({f.grade})"
        for f in findings
    ]
    return "; ".join(said) or "nothing"
