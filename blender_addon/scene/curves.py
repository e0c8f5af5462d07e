"""Animation curves from whole arrays of keys."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .. import compat

Row = NDArray[np.floating[Any]]
_LINEAR = 1
#: Blender's numbers for curves that stay until the next key, and for those with handles.
CONSTANT, _BEZIER = 0, 2


class Keys:
    """Curves with keys on the same frames, a whole curve at a time."""

    def __init__(self, curves: Any, frames: Row, kind: int = _LINEAR) -> None:
        """curves: of an action. frames (K,), rising. kind: interpolation of all keys."""
        self._curves = curves
        self._places = np.empty((len(frames), 2), dtype=np.float32)
        self._places[:, 0] = frames
        self._kinds = np.full(len(frames), kind, dtype=np.int32)

    def add(self, path: str, index: int, values: Row, group: str | None = None) -> None:
        """One curve of values (K,)."""
        curves = self._curves
        curve = curves.new(path, index=index) if group is None else compat.new_curve(curves, path, index, group)
        self._places[:, 1] = values
        curve.keyframe_points.add(len(self._places))
        curve.keyframe_points.foreach_set("co", self._places.ravel())
        curve.keyframe_points.foreach_set("interpolation", self._kinds)
        # No curve.update(): it sorts keys and sets handles, and these come in order and are joined by straight lines. It would
        # take as long as all the rest.


def key(curves: Any, path: str, index: int, frames: Row, values: Row, *, kind: int = _LINEAR) -> None:
    """One curve with all of its keys at once."""
    Keys(curves, frames, kind).add(path, index, values)


def add_cubic(curves: Any, path: str, index: int, group: str, frames: Row, values: Row, slopes: Row) -> None:
    """A cubic through values (K,) on frames (K,), slopes (K,) a frame: handles a third of the way to the next key."""
    spans = np.diff(frames) / 3.0
    before, after = np.append(spans[:1], spans), np.append(spans, spans[-1:])
    free, bezier = np.zeros(len(frames), dtype=np.int32), np.full(len(frames), _BEZIER, dtype=np.int32)
    points = compat.new_curve(curves, path, index, group).keyframe_points
    points.add(len(frames))
    points.foreach_set("co", np.stack([frames, values], axis=1).ravel())
    points.foreach_set("handle_left", np.stack([frames - before, values - before * slopes], axis=1).ravel())
    points.foreach_set("handle_right", np.stack([frames + after, values + after * slopes], axis=1).ravel())
    points.foreach_set("handle_left_type", free)
    points.foreach_set("handle_right_type", free)
    points.foreach_set("interpolation", bezier)
