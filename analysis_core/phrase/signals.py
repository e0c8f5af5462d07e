"""Small tools on time series that every part of the phrase uses: runs, hysteresis, gaps, derivatives."""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from ..runs import Runs, runs
from ..take import Floats

Mask = NDArray[np.bool_]


def from_runs(stretches: Runs, frames: int) -> Mask:
    """The mask (F,) of a list of stretches."""
    steps = np.zeros(frames + 1, dtype=np.int64)
    for start, stop in stretches:
        steps[start] += 1
        steps[stop] -= 1
    return np.asarray(np.cumsum(steps[:-1]) > 0)


def hysteresis(enter: Mask, leave: Mask) -> Mask:
    """State (F,) that turns on where ``enter`` holds and off where ``leave`` holds; in between it stays; off at first."""
    decided = np.where(enter, 1, np.where(leave, 0, -1))
    last = np.maximum.accumulate(np.where(decided >= 0, np.arange(decided.size), -1))
    return np.asarray(np.where(last >= 0, decided[np.maximum(last, 0)], 0) == 1)


def fill_short(values: Floats, longest: int) -> Floats:
    """Values (F,) with inner gaps of at most ``longest`` samples bridged by straight lines; longer gaps stay NaN."""
    known = np.isfinite(values)
    if known.all() or not known.any():
        return values
    filled = values.copy()
    for start, stop in runs(~known):
        if start > 0 and stop < values.size and stop - start <= longest:
            filled[start:stop] = np.interp(np.arange(start, stop), [start - 1, stop], [values[start - 1], values[stop]])
    return filled


def bridged(mask: Mask, longest: int) -> Mask:
    """Mask (F,) with inner stretches of False of at most ``longest`` samples turned to True."""
    stretches = [(a, b) for a, b in runs(~mask) if a > 0 and b < mask.size and b - a <= longest]
    return mask | from_runs(stretches, mask.size)


def lasting(mask: Mask, shortest: int) -> Mask:
    """Mask (F,) without the stretches of True that are shorter than ``shortest`` samples."""
    return from_runs([(a, b) for a, b in runs(mask) if b - a >= shortest], mask.size)


def derivative(values: Floats, rate_hz: float, order: int, window_s: float) -> Floats:
    """Smoothed derivative (order 0, 1 or 2) along axis 0 by local parabolas over ``window_s`` (Savitzky & Golay 1964).

    values (F, ...). Samples in or beside a gap come from the samples that are there; where a sample is NaN the result is NaN.
    """
    frames = values.shape[0]
    window = max(5, round(window_s * rate_hz) | 1)
    flat = values.reshape(frames, -1)
    if frames < 5:
        return np.full(values.shape, np.nan)
    window = min(window, frames if frames % 2 else frames - 1)
    known = np.isfinite(flat)
    whole = flat
    if not known.all():
        whole = flat.copy()
        index = np.arange(frames)
        for column in np.flatnonzero(~known.all(axis=0)):
            have = known[:, column]
            whole[:, column] = np.interp(index, index[have], flat[have, column]) if have.any() else 0.0
    result = _local_parabolas(whole, window, order) * rate_hz**order
    return np.where(known, result, np.nan).reshape(values.shape)


def _local_parabolas(values: Floats, window: int, order: int) -> Floats:
    """Derivative (F, C) per sample of the parabola that fits best around each sample of values (F, C); window odd.

    The first and the last half window take the parabola of the first and the last whole window.
    """
    half = window // 2
    place = np.arange(-half, half + 1, dtype=float)
    fit = np.linalg.pinv(place[:, None] ** np.arange(3))
    nothing = np.zeros(window)
    # The derivative at each place, from the coefficients of 1, t and t².
    there = np.stack(
        ([nothing + 1, place, place**2], [nothing, nothing + 1, 2 * place], [nothing, nothing, nothing + 2])[order], axis=1
    )
    result = np.empty_like(values)
    result[half : values.shape[0] - half] = sliding_window_view(values, window, axis=0) @ (there[half] @ fit)
    result[:half] = (there @ (fit @ values[:window]))[:half]
    result[values.shape[0] - half :] = (there @ (fit @ values[-window:]))[half + 1 :]
    return result


def vertex(values: Floats, index: int) -> float:
    """Place of an extremum between samples: vertex of the parabola through three samples around ``index``."""
    if index <= 0 or index >= values.size - 1:
        return float(index)
    before, here, after = values[index - 1 : index + 2]
    bend = before - 2 * here + after
    if not np.isfinite(bend) or bend == 0.0:
        return float(index)
    return index + float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def at(values: Floats, place: float) -> float:
    """Value (F,) at a place between samples, by a straight line; NaN outside the series."""
    if not 0 <= place <= values.size - 1:
        return float("nan")
    before = int(place)
    after = min(before + 1, values.size - 1)
    return float(values[before] if place == before else values[before] + (place - before) * (values[after] - values[before]))
