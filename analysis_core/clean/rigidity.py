"""Which markers keep their distance to which: the companions that a marker can be checked against and rebuilt from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.rigid import fit_rigid
from ..take import Floats

#: Distances are surveyed on this many frames, spread over the take.
_SURVEYED_FRAMES = 240
#: A pair that shares fewer surveyed frames than this is not judged.
_LEAST_SHARED = 12
#: Three markers span a plane when their second principal spread is at least this, metres; otherwise their turn is not known.
_LEAST_WIDTH_M = 0.012


@dataclass(frozen=True)
class Survey:
    """Distances between markers over the take. usual_m (N, N); spread_m (N, N): within which 80 % of the frames (or the share
    that was asked for) stay of it, infinite where too few frames are shared and on the diagonal."""

    usual_m: Floats
    spread_m: Floats

    def steadiest(self, marker: int, among: Iterable[int]) -> list[int]:
        """Markers by how steadily they keep their distance to ``marker``; those never seen with it are left out."""
        others = np.array(list(among), dtype=np.int64)
        spread_m = self.spread_m[marker, others]
        steady: list[int] = others[np.argsort(spread_m, kind="stable")][: np.isfinite(spread_m).sum()].tolist()
        return steady


class Apart:
    """How far apart all markers are in frames spread over a take.

    ordered_m (P, K): of each pair of N markers, in rising order; those that are not seen together last, NaN.
    """

    def __init__(self, positions: Floats) -> None:
        """positions (F, N, 3), NaN where missing."""
        self.markers = positions.shape[1]
        self.frames = np.unique(np.linspace(0, positions.shape[0] - 1, _SURVEYED_FRAMES).astype(np.int64))
        self.pairs = np.stack(np.triu_indices(self.markers, 1))
        self.ordered_m = self._of(positions, self.pairs)

    def _of(self, positions: Floats, pairs: NDArray[np.int64]) -> Floats:
        # Frames last: what is reckoned of a pair lies in one piece.
        some = np.ascontiguousarray(positions[self.frames].transpose(1, 2, 0))
        between = some[pairs[0]] - some[pairs[1]]
        return np.sort(np.sqrt(np.einsum("mik,mik->mk", between, between)), axis=1)

    def changed(self, positions: Floats, markers: Iterable[int]) -> Apart:
        """The same of positions (F, N, 3) in which only some markers are not as they were."""
        touched = np.isin(self.pairs, list(markers)).any(axis=0)
        if not touched.any():
            return self
        result = copy(self)
        result.ordered_m = self.ordered_m.copy()
        result.ordered_m[touched] = self._of(positions, self.pairs[:, touched])
        return result

    def survey(self, sound: float = 0.8) -> Survey:
        """What the distances usually are.

        sound: share of the frames that is taken for right. The usual distance is the middle of the shortest range that holds so
        many values, so that a label that was wrong for the rest of the frames does not count.
        """
        low, high, seen = shortest_range(self.ordered_m, sound)
        enough = seen >= min(_LEAST_SHARED, self.frames.size)
        usual_m, spread_m = np.full((2, self.markers, self.markers), [[[np.nan]], [[np.inf]]])
        first, second = self.pairs
        usual_m[first, second] = usual_m[second, first] = np.where(enough, 0.5 * (low + high), np.nan)
        spread_m[first, second] = spread_m[second, first] = np.where(enough, 0.5 * (high - low), np.inf)
        return Survey(usual_m, spread_m)


def shortest_range(ordered: Floats, share: float) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Ends of the shortest range with a share of the values (M, K), in rising order, of each row, and how many there are; NaN is
    left out, and given without any."""
    counts = np.isfinite(ordered).sum(axis=1)
    low, high = np.full((2, ordered.shape[0]), np.nan)
    for count in np.unique(counts[counts > 0]).tolist():
        rows = np.flatnonzero(counts == count)
        reach = max(int(np.ceil(share * count)) - 1, 0)
        known = ordered[rows, :count]
        start = (known[:, reach:] - known[:, : count - reach]).argmin(axis=1)
        low[rows], high[rows] = known[np.arange(rows.size), start], known[np.arange(rows.size), start + reach]
    return low, high, counts


def quantile(values: Floats, share: float) -> Floats:
    """Quantile over axis 0, NaN left out (they sort to the end); NaN for a column without values."""
    if values.shape[0] == 0:
        return np.full(values.shape[1:], np.nan)
    count = np.isfinite(values).sum(axis=0)
    rank = np.maximum(np.round(share * (count - 1)).astype(np.int64), 0)
    # Only the ranks that are asked for have to be in their places.
    ordered = np.partition(values, np.unique(rank), axis=0)
    return np.asarray(np.take_along_axis(ordered, rank[None], axis=0)[0])


@dataclass(frozen=True)
class Carrier:
    """A frame that moves with a group of markers. rotation (F, 3, 3), origin (F, 3), NaN where fewer than three are there."""

    rotation: Floats
    origin: Floats

    def local(self, points: Floats) -> Floats:
        """Points (F, M, 3) of the laboratory as seen from the frame."""
        return np.asarray((points - self.origin[:, None]) @ self.rotation)

    def local_point(self, point: Floats) -> Floats:
        """One point (F, 3) of the laboratory as seen from the frame."""
        return self.local(point[:, None])[:, 0]

    def world_part(self, local: Floats, part: slice) -> Floats:
        """Points (n, 3) as seen from the frame, in the laboratory, for a part of the frames."""
        turned, origin = (self.rotation[part] @ local[:, :, None])[:, :, 0], self.origin[part]
        return np.asarray(turned + origin)


def shape_of(points: Floats) -> Floats | None:
    """Mean shape (M, 3) of a group of markers (K, M, 3) about its own centre.

    None without a frame in which all are there, or when they lie on one line or in one place and so have no frame of their own.
    """
    whole = points[np.isfinite(points).all(axis=(1, 2))]
    if not whole.shape[0]:
        return None
    first = whole[whole.shape[0] // 2]
    rotation, translation, _ = fit_rigid(first, whole)
    turned = np.einsum("fji,fmj->fmi", rotation, whole - translation[:, None])
    turned = turned[np.isfinite(turned).all(axis=(1, 2))]
    if not turned.shape[0]:
        return None
    mean = turned.mean(axis=0)
    return np.asarray(mean - mean.mean(axis=0))


def is_wide(shape: Floats) -> bool:
    """Whether points (M, 3) about their centre fix a rotation: three at least, and not on one line."""
    spread = np.linalg.svd(shape, compute_uv=False) / np.sqrt(shape.shape[0])
    return shape.shape[0] >= 3 and bool(spread[1] >= _LEAST_WIDTH_M)


def carry(group: Floats, shape: Floats) -> Carrier:
    """The frame that carries ``shape`` (M, 3) onto a group of markers (F, M, 3)."""
    rotation, origin, _ = fit_rigid(shape, group)
    return Carrier(rotation, origin)


def same_segment(marker: int, segment_of: Mapping[int, str]) -> list[int]:
    """Other markers of the same body part."""
    return [other for other, part in segment_of.items() if part == segment_of.get(marker) and other != marker]
