"""Whether a take is good, usable, or should be captured again, in an operator's words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Source
from .gaps import find_gaps, present
from .quality import MarkerQuality, Quality, Verdict
from .words import marker_in_words, what_it_serves

#: Missing samples as recorded, share of all, beyond which a take is no longer good, or should be retaken. Proposed defaults,
#: no published norm.
GOOD_MISSING, USABLE_MISSING = 0.02, 0.15
#: Samples that nothing could fill: longest open gap of a marker in seconds. Beyond 2 s nothing is filled (catalogue 3.3).
GOOD_OPEN_S, USABLE_OPEN_S = 0.1, 2.0
MOST_REASONS = 5


def judge_capture(cleaned: CleanedTake, *, landmark_of: Mapping[int, str]) -> Quality:
    """The verdict on one take. landmark_of: by marker index; other markers count only when nothing is named at all."""
    take = cleaned.take
    missing = ~present(take.positions_m)
    used = sorted(landmark_of) if landmark_of else list(range(len(take.labels)))
    open_gaps = [gap for gap in find_gaps(present(cleaned.positions_m)) if gap.marker in set(used)]
    open_gaps.sort(key=lambda gap: gap.start - gap.end)
    share = float(missing[:, used].mean()) if used and take.frames else 1.0
    longest_open_s = (open_gaps[0].end - open_gaps[0].start) / take.rate_hz if open_gaps else 0.0
    reasons = []
    for gap in open_gaps[: MOST_REASONS - 1]:
        length_s = (gap.end - gap.start) / take.rate_hz
        if length_s > GOOD_OPEN_S:
            reasons.append(_open_gap_sentence(cleaned, gap.marker, gap.start, gap.end, landmark_of))
    if share > GOOD_MISSING:
        reasons.append(f"{100 * share:.0f} % of all samples are missing: check the cameras' view and aim before the next take.")
    verdict: Verdict = "good"
    if reasons:
        verdict = "retake" if share > USABLE_MISSING or longest_open_s > USABLE_OPEN_S else "usable"
    return Quality(verdict, tuple(reasons), share, _markers(cleaned, missing, landmark_of), cleaned.events)


def _open_gap_sentence(cleaned: CleanedTake, marker: int, start: int, end: int, landmark_of: Mapping[int, str]) -> str:
    """One marker that is missing for a while and could not be filled."""
    rate_hz = cleaned.take.rate_hz
    name = marker_in_words(cleaned.take.labels[marker], landmark_of.get(marker))
    serves = what_it_serves(landmark_of.get(marker))
    if start == 0 and end == cleaned.take.frames:
        return f"{name} marker missing throughout: {serves} will be lost. Put it on and retake."
    if end == cleaned.take.frames:
        return f"{name} marker missing from {start / rate_hz:.1f} s: {serves} will be lost from there. Stick it back and retake."
    return f"{name} marker hidden from {start / rate_hz:.1f} to {end / rate_hz:.1f} s: {serves} will be lost there."


def _markers(cleaned: CleanedTake, missing: NDArray[np.bool_], landmark_of: Mapping[int, str]) -> tuple[MarkerQuality, ...]:
    rate_hz = cleaned.take.rate_hz
    longest = dict.fromkeys(range(len(cleaned.take.labels)), 0)
    for gap in find_gaps(~missing):
        longest[gap.marker] = max(longest[gap.marker], gap.end - gap.start)
    share = {kind: (cleaned.source == kind).mean(axis=0) for kind in (Source.SPLINE, Source.RIGID, Source.PATTERN)}
    return tuple(
        MarkerQuality(
            label=label,
            landmark=landmark_of.get(marker),
            missing_fraction=float(missing[:, marker].mean()),
            longest_gap_s=longest[marker] / rate_hz,
            filled_spline=float(share[Source.SPLINE][marker]),
            filled_rigid=float(share[Source.RIGID][marker]),
            filled_pattern=float(share[Source.PATTERN][marker]),
        )
        for marker, label in enumerate(cleaned.take.labels)
    )
