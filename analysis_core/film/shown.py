"""Which corrections a film tells, and what each take shows of one: its moment, its number and what is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..compare.comparison import Comparison
from ..findings.evidence import Evidence
from ..findings.finding import Finding
from ..review import Review
from ..take import Floats
from ..views import Drawing, drawing_of
from ..views.inside import Inside, inside_of
from ..views.pairs import answer_to


@dataclass(frozen=True)
class Shown:
    """One correction in one take. time_s: its moment there; NaN where the take does not dance it. finding: None where its measure
    was not seen. found: whether it is a correction there too. inside: the body at the edge of the band, where there is one."""

    time_s: float
    finding: Finding | None
    drawing: Drawing | None
    found: bool
    inside: Inside | None = None


def to_stop_at(review: Review) -> list[Finding]:
    """What a film of a take may stop for: the corrections that the teacher kept; without any, all that were not set aside.

    First what is worst and has led to most.
    """
    left = [finding for finding in review.findings if finding.decision != "set aside"]
    kept = [finding for finding in left if finding.decision == "kept"]
    return sorted(kept or left, key=lambda f: (-f.severity - 0.25 * len(f.may_have_led_to), f.peak_s))


def of_one(review: Review, findings: list[Finding]) -> dict[str, Shown]:
    """What a take shows of its own corrections, by their ids."""
    evidence = Evidence(review.movement, review.phrase)
    shown = {}
    for finding in findings:
        drawing = drawing_of(finding, review, evidence)
        time_s = drawing.time_s if drawing is not None else finding.peak_s
        shown[finding.id] = Shown(time_s, finding, drawing, True, inside_of(finding, review, evidence))
    return shown


def of_other(other: Review, findings: list[Finding], comparison: Comparison) -> dict[str, Shown]:
    """What the second take of a comparison shows of corrections of the first, by their ids there."""
    evidence = Evidence(other.movement, other.phrase)
    shown = {}
    for finding in findings:
        answer = answer_to(finding, comparison, other, evidence)
        drawing = None if answer.shown is None else drawing_of(answer.shown, other, evidence)
        time_s = np.nan if answer.time_s is None else drawing.time_s if drawing is not None else answer.time_s
        shown[finding.id] = Shown(float(time_s), answer.shown, drawing, answer.found)
    return shown


def answering(times_s: Floats, at: list[tuple[float, float]], comparison: Comparison, near_s: float) -> Floats:
    """Times of the second take for times (K,) of the first, by what both dance; NaN where nothing answers.

    at: pairs (first, second) of moments that must meet exactly; on both sides of one the course comes back within near_s.
    """
    answers = comparison.alignment.to_b(times_s)
    for first, second in at:
        met = float(comparison.alignment.to_b(np.array([first]))[0])
        if np.isfinite(met) and np.isfinite(second):
            share = np.clip(1.0 - np.abs(times_s - first) / near_s, 0.0, 1.0)
            answers = answers + (second - met) * share * share * (3.0 - 2.0 * share)
    return np.asarray(answers)
