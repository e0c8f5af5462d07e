"""Standing still: the moments that show the dancer's own upright body, and what the dancer can do."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..take import Floats

#: A quiet moment lasts this long; all joints move slower than this in it. Proposed default, no published norm.
_WINDOW_S = 0.4
_STILL_M_S = 0.15


def quiet_frames(positions: Floats, rate_hz: float) -> NDArray[np.bool_]:
    """The quietest moment of points (F, N, 3): a mask (F,) of at least 0.4 s, or of the whole take when it is shorter.

    Quiet is judged by the mean speed of the points that are there; of equally quiet moments the one where the points reach
    highest is taken (upright rather than crouching). Missing samples do not count.
    """
    frames = positions.shape[0]
    window = max(3, round(_WINDOW_S * rate_hz))
    if frames <= window:
        return np.ones(frames, dtype=bool)
    speed = np.linalg.norm(np.diff(positions, axis=0), axis=2) * rate_hz
    there = np.isfinite(speed)
    mean_speed = np.where(there, speed, 0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
    # Half of the markers gone is no moment to learn a body from.
    mean_speed = np.where(there.mean(axis=1) > 0.5, mean_speed, np.inf)
    height = np.nan_to_num(np.nanmax(np.where(np.isfinite(positions[..., 2]), positions[..., 2], -np.inf), axis=1), neginf=0)
    cumulative = np.concatenate([[0], np.cumsum(np.minimum(mean_speed, 1e3))])
    running = (cumulative[window:] - cumulative[:-window]) / window
    low = height[: len(running)] < 0.93 * np.quantile(height, 0.95)
    best = int(np.argmin(running + np.where(low, 10.0, 0.0)))
    mask = np.zeros(frames, dtype=bool)
    mask[best : best + window] = True
    # All other moments that are as still and as tall belong to it.
    still = np.append(mean_speed < min(_STILL_M_S, 1.5 * running[best] + 0.02), False)
    return np.asarray(mask | (still & (height > 0.97 * np.median(height[mask]))))


def median_over(values: Floats, mask: NDArray[np.bool_]) -> Floats:
    """Median over the frames of a mask; NaN where nothing is known in them."""
    chosen = values[mask]
    known = np.isfinite(chosen).any(axis=0)
    return np.where(known, np.nanmedian(np.where(known, chosen, 0.0), axis=0), np.nan)
