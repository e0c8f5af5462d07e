"""From a Take to a CleanedTake: every step in its order, nothing silent, the original kept."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Floats, Source, Take
from .filling import GapFiller
from .gaps import Gap, find_gaps, gap_events, present
from .mending import Mended, mend
from .rigidity import quantile
from .smoothing import choose_cut_offs, smooth

#: Skeletons come smoothed by the program that solved them; this only takes the rest of the jitter. Catalogue 3.2 (jumps).
SKELETON_CUT_OFF_HZ = 12.0
#: Measured samples are not believed better than this, metres: calibration and marker movement do not show in the noise.
#: Source: published static and dynamic marker errors 0.06 to 2 mm (catalogue 3.5); proposed default in between.
LEAST_ERROR_M = 0.0005
#: A gap is filled from so much of a take: more teaches little, and the cost of a gap would grow with the take. Proposed default.
_VIEW_S = 120.0


def clean_take(take: Take, *, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> CleanedTake:
    """Clean one take. landmark_of, segment_of: by marker index, may be empty; skeleton takes are only smoothed.

    Frames without a sample stay NaN where nothing holds; ``source`` says where every sample comes from.
    """
    if take.kind == "skeleton":
        return _smoothed(take)
    mended = mend(take, landmark_of, segment_of)
    gaps = find_gaps(present(mended.positions_m))
    positions, source, error = _filled(mended, gaps, take.rate_hz, segment_of)
    cut_off = choose_cut_offs(positions, take.rate_hz, segment_of)
    smoothed = smooth(positions, cut_off, take.rate_hz, segment_of)
    told = {(event.label, round(event.start_s * take.rate_hz)) for event in mended.events if event.kind == "fell-off"}
    hidden = [gap for gap in find_gaps(present(take.positions_m)) if (take.labels[gap.marker], gap.start) not in told]
    events = (*mended.events, *gap_events(hidden, take.labels, source, take.rate_hz))
    return CleanedTake(take, positions, smoothed, source, error, cut_off, events)


def _filled(
    mended: Mended, gaps: list[Gap], rate_hz: float, segment_of: Mapping[int, str]
) -> tuple[Floats, NDArray[np.uint8], Floats]:
    """Positions (F, N, 3) with the gaps filled that something holds, source (F, N) and error (F, N)."""
    measured = mended.positions_m
    positions = measured.copy(order="K")
    there, moved = present(measured), mended.put_back_m > 0
    source = np.select([~there, moved], [Source.NONE, Source.BODY_PART], Source.MEASURED).astype(np.uint8)
    noise = _noise(measured, rate_hz)
    error = np.where(there, np.hypot(noise, mended.put_back_m), np.nan)
    if gaps:
        fillers: dict[tuple[int, int], GapFiller] = {}
        for gap in gaps:
            view = _view(gap, measured.shape[0], rate_hz)
            key = view.start, view.stop
            if key not in fillers:
                fillers[key] = GapFiller(measured[view], mended.surveyed, rate_hz, segment_of)
            shifted = Gap(gap.marker, gap.start - view.start, gap.end - view.start)
            fill = fillers[key].fill(shifted, float(noise[gap.marker]))
            if fill is not None:
                frames = slice(gap.start, gap.end)
                positions[frames, gap.marker], source[frames, gap.marker] = fill.samples, fill.source
                error[frames, gap.marker] = fill.error_m
    return positions, source, error


def _view(gap: Gap, frames: int, rate_hz: float) -> slice:
    """The part of a take that a gap is filled from: all of it, or two minutes with the gap in their middle half."""
    whole = round(_VIEW_S * rate_hz)
    step = whole // 2
    start = min(max(gap.start // step * step - step // 2, 0), max(frames - whole, 0))
    return slice(start, max(min(start + whole, frames), gap.end))


def _smoothed(take: Take) -> CleanedTake:
    """A skeleton take, low-passed; its joints are all measured."""
    cut_off = np.full(len(take.labels), SKELETON_CUT_OFF_HZ)
    there = present(take.positions_m)
    source = np.where(there, Source.MEASURED, Source.NONE).astype(np.uint8)
    error = np.where(there, LEAST_ERROR_M, np.nan)
    return CleanedTake(take, take.positions_m, smooth(take.positions_m, cut_off, take.rate_hz), source, error, cut_off, ())


def _noise(measured: Floats, rate_hz: float) -> Floats:
    """Noise (N,) of each marker's measured samples, metres: what three neighbours leave unexplained, never below LEAST_ERROR_M.

    The third difference of a smooth path is small; of white noise its variance is 20 times the noise's. The median keeps
    landings, spikes and swaps out; 2.366 is the median of chi² with three degrees of freedom, whose mean is 3.
    """
    if measured.shape[0] < 4:
        return np.full(measured.shape[1], LEAST_ERROR_M)
    squared = (np.diff(measured, 3, axis=0) ** 2).sum(axis=2) / 20.0
    return np.asarray(np.fmax(np.sqrt(quantile(squared, 0.5) * 3 / 2.366), LEAST_ERROR_M))
