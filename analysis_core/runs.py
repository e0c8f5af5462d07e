"""Stretches of frames in which something holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Runs = list[tuple[int, int]]


def runs(mask: NDArray[np.bool_]) -> Runs:
    """First frame and last frame + 1 of every stretch in which a mask (F,) holds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(start), int(stop)) for start, stop in edges.reshape(-1, 2)]
