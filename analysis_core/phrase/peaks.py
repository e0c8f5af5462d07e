"""The peaks of a series, with how far each stands out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..take import Floats


class Peaks(NamedTuple):
    """Peaks of a series, in its order: the frame of each (N,), and of the lowest sample on either side within its reach."""

    frame: NDArray[np.int64]
    left_base: NDArray[np.int64]
    right_base: NDArray[np.int64]


def summits(values: Floats) -> NDArray[np.int64]:
    """Frames (N,) of values (F,) that are higher than both neighbours; of a level top the middle one. Finite values only."""
    level = np.concatenate([[True], np.diff(values) != 0, [True]])
    start = np.flatnonzero(level[:-1])
    end = np.append(start[1:], values.size) - 1
    inner = slice(1, -1)
    top = (values[start[:-2]] < values[start[inner]]) & (values[start[2:]] < values[start[inner]])
    return np.asarray((start[inner][top] + end[inner][top]) // 2, dtype=np.int64)


def _apart(frames: NDArray[np.int64], values: Floats, distance: int) -> NDArray[np.int64]:
    """The frames that stay when every peak removes the lower ones less than ``distance`` frames away."""
    stays = np.ones(frames.size, dtype=np.bool_)
    for index in np.argsort(values[frames], kind="stable")[::-1].tolist():
        if stays[index]:
            near = np.abs(frames - frames[index]) < distance
            near[index] = False
            stays &= ~near
    return frames[stays]


def _base(side: Floats, top: float) -> int:
    """Steps to the lowest sample of a side (read away from the peak) before it rises above the top."""
    above = np.flatnonzero(side > top)
    return int(np.argmin(side[: above[0]] if above.size else side))


def peaks(values: Floats, least: float, prominence: float, distance: int = 1) -> Peaks:
    """Peaks of values (F,) at least so high, standing out by at least ``prominence``, at least ``distance`` frames apart.

    How far a peak stands out is its height above the higher of its two bases; a base is the lowest sample on the way to the
    next higher one (or the end). Finite values only: give what is missing a value below all others.
    """
    frames = summits(values)
    frames = _apart(frames[values[frames] >= least], values, distance)
    left = np.array([peak - _base(values[peak::-1], values[peak]) for peak in frames.tolist()], dtype=np.int64)
    right = np.array([peak + _base(values[peak:], values[peak]) for peak in frames.tolist()], dtype=np.int64)
    keep = values[frames] - np.maximum(values[left], values[right]) >= prominence
    return Peaks(frames[keep], left[keep], right[keep])
