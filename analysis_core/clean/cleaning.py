"""From a Take to a CleanedTake: every step in its order, nothing silent, the original kept."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Floats, Source, Take
from .gaps import close_short, find_gaps, gap_events, present
from .smoothing import choose_cut_offs, smooth

#: Skeletons come smoothed by the program that solved them; this only takes the rest of the jitter. Catalogue 3.2 (jumps).
SKELETON_CUT_OFF_HZ = 12.0
#: Measured samples are not believed better than this, metres: calibration and marker movement do not show in the noise.
#: Source: published static and dynamic marker errors 0.06 to 2 mm (catalogue 3.5); proposed default in between.
LEAST_ERROR_M = 0.0005
#: A closed short gap errs by this many times the marker's own noise (measured on simulated takes, see the bench).
_SHORT_GAP_ERROR = 2.0


def clean_take(take: Take, *, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> CleanedTake:
    """Clean one take. landmark_of, segment_of: by marker index, may be empty; skeleton takes are only smoothed.

    Frames without a sample stay NaN where nothing holds; ``source`` says where every sample comes from.
    """
    if take.kind == "skeleton":
        return _smoothed(take)
    positions = take.positions_m.copy()
    source = np.where(present(positions), Source.MEASURED, Source.NONE).astype(np.uint8)
    gaps = find_gaps(positions)
    for gap in gaps:
        filled = close_short(positions, gap, take.rate_hz)
        if filled is not None:
            positions[gap.start : gap.end, gap.marker] = filled
            source[gap.start : gap.end, gap.marker] = Source.SPLINE
    cut_off = choose_cut_offs(positions, take.rate_hz, segment_of)
    smoothed = smooth(positions, cut_off, take.rate_hz)
    noise = _noise(positions, smoothed, source)
    error = np.where(source == Source.NONE, np.nan, noise[None, :])
    error = np.where(source == Source.SPLINE, _SHORT_GAP_ERROR * noise[None, :], error)
    events = gap_events(gaps, take.labels, source, take.rate_hz)
    return CleanedTake(take, positions, smoothed, source, error, cut_off, events)


def _smoothed(take: Take) -> CleanedTake:
    """A skeleton take, low-passed; its joints are all measured."""
    cut_off = np.full(len(take.labels), SKELETON_CUT_OFF_HZ)
    there = present(take.positions_m)
    source = np.where(there, Source.MEASURED, Source.NONE).astype(np.uint8)
    error = np.where(there, LEAST_ERROR_M, np.nan)
    return CleanedTake(take, take.positions_m, smooth(take.positions_m, cut_off, take.rate_hz), source, error, cut_off, ())


def _noise(positions: Floats, smoothed: Floats, source: NDArray[np.uint8]) -> Floats:
    """Noise (N,) of each marker: root mean square distance between what was measured and its smoothed path, metres."""
    squared = np.where(source == Source.MEASURED, ((positions - smoothed) ** 2).sum(axis=2), np.nan)
    # The median keeps landings, where the filter rounds true movement, out of the noise; 2.366 is the median of chi² with
    # three degrees of freedom, whose mean is 3.
    known = np.isfinite(squared).any(axis=0)
    noise = np.full(positions.shape[1], LEAST_ERROR_M)
    noise[known] = np.sqrt(np.nanmedian(squared[:, known], axis=0) * 3 / 2.366)
    return np.maximum(noise, LEAST_ERROR_M)
