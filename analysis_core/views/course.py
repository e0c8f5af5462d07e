"""The measure of a finding as a curve through the whole take, as it is drawn beside its band."""

from __future__ import annotations

import numpy as np

from ..findings.evidence import Evidence
from ..findings.finding import Finding
from ..findings.observation import Observation
from ..findings.reading import placed
from ..take import Floats
from .seen import observation_of


def course_of(finding: Finding, evidence: Evidence) -> Floats | None:
    """The number of a finding (F,) in every frame of the take, in its unit, counted from where the finding counts it.

    NaN where it is not known. None for a number that has no course: a time, a count, one of a whole jump.
    """
    told = observation_of(finding, evidence)
    return None if told is None else course(told, evidence)


def course(told: Observation, evidence: Evidence) -> Floats | None:
    """The same of an observation."""
    read = None if told.curve is None else placed(told.curve, told.start, evidence.frames)
    if told.made_of is None:
        return read
    made = np.asarray(told.made_of(evidence), dtype=np.float64)
    if told.path:  # how far from where it was
        return np.asarray(np.linalg.norm(made - made[told.start if told.against is None else told.against], axis=1))
    # What a number is made of may be counted from elsewhere, and what becomes less is told as a size: beside what was read in the
    # window it is known how.
    since = made if told.against is None else made - made[told.against]
    if read is None:
        known = -made if told.against is not None and since[told.peak] * told.value < 0.0 else made
        return np.asarray(known + told.value - known[told.peak])
    window = slice(told.start, told.end + 1)
    likely: list[Floats] = [values + np.nanmedian(read[window] - values[window]) for values in (made, -made, abs(since))]
    # A difference of two sides is told without its sign.
    likely += [abs(values) for values in likely[:2]]
    misfits = [np.nan_to_num(np.nanmean(abs(read[window] - values[window])), nan=np.inf) for values in likely]
    return likely[int(np.argmin(misfits))]
