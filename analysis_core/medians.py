"""The median of what is known, for all of the core: many times as quick as the library's where samples are missing."""

from __future__ import annotations

import numpy as np

from .take import Floats


def median_of_known(values: Floats, axis: int = 0, least: int = 1) -> Floats:
    """Median of values (…, K, …) along an axis, NaN left out; NaN where fewer than ``least`` are known, without a warning.

    least: 2 where one alone is no evidence, such as one companion that says a marker is out of place.
    """
    ordered = np.moveaxis(np.sort(values, axis=axis), axis, -1)
    size = ordered.shape[-1]
    if size < least:
        return np.full(ordered.shape[:-1], np.nan)
    # Missing ones are sorted behind all others.
    count = size - np.isnan(ordered).sum(axis=-1)
    if count.size and count.min() == size:
        return np.asarray(0.5 * (ordered[..., (size - 1) // 2] + ordered[..., size // 2]))
    beside = np.stack([np.maximum(count - 1, 0) // 2, np.minimum(count // 2, size - 1)], axis=-1)
    middle = 0.5 * np.take_along_axis(ordered, beside, axis=-1).sum(axis=-1)
    return np.where(count >= least, middle, np.nan)
