"""Running windows along time, on whole arrays: weighted means, means, greatest and least values.

The same as the library's filters, which take a fifth of a second to load before the first figure can be shown. Values must be
known: a missing one (NaN) spreads, in ``mean`` to all that come later.
"""

from __future__ import annotations

import numpy as np

from .take import Floats

#: A bell is cut off at so many of its widths.
_CUT = 4.0


def _held(values: Floats, before: int, after: int) -> Floats:
    """Values (F, …) with the first and the last held for so many samples more."""
    held: Floats = np.pad(values, [(before, after), *[(0, 0)] * (values.ndim - 1)], mode="edge")
    return held


def bell(values: Floats, width: float) -> Floats:
    """Means of values (F, …) along axis 0 weighted by a Gaussian of ``width`` samples; both ends held."""
    reach = int(_CUT * width + 0.5)
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    weights /= weights.sum()
    flat = _held(values, reach, reach).reshape(len(values) + 2 * reach, -1)
    columns = [np.convolve(column, weights, "valid") for column in flat.T]
    return np.stack(columns, axis=1).reshape(values.shape)


def mean(values: Floats, size: int) -> Floats:
    """Means of ``size`` samples of values (F, …) along axis 0, an even window reaching further back; both ends held."""
    sums = np.cumsum(_held(values, size // 2 + 1, size - size // 2 - 1), axis=0)
    means: Floats = (sums[size:] - sums[:-size]) / size
    return means


def most(values: Floats, half: int) -> Floats:
    """The greatest of values (F, …) within ``half`` samples before and behind along axis 0."""
    greatest, size = _held(values, half, half), 1
    # Windows twice as wide from two beside each other, as long as they fit; then two that overlap.
    while 2 * size <= 2 * half + 1:
        greatest, size = np.maximum(greatest[:-size], greatest[size:]), 2 * size
    rest = 2 * half + 1 - size
    return np.maximum(greatest[: len(greatest) - rest], greatest[rest:])


def least_around(values: Floats, half: int) -> Floats:
    """The least of values (R, C) within ``half`` rows and columns around each."""
    rows = -most(-values, half)
    least: Floats = -most(-rows.T, half).T
    return least
