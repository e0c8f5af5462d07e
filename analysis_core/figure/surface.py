"""A closed surface around a field of numbers on a grid (naive surface nets, after Gibson 1998)."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from ..take import Floats

_CORNERS = tuple(itertools.product((0, 1), repeat=3))
_EDGES = tuple(
    (a, b)
    for a, b in itertools.combinations(range(8), 2)
    if sum(x != y for x, y in zip(_CORNERS[a], _CORNERS[b], strict=True)) == 1
)


def surface_nets(
    field: NDArray[np.float32], level: float, axes: tuple[Floats, Floats, Floats]
) -> tuple[Floats, NDArray[np.int32]]:
    """Vertices (V, 3) and outward quads (Q, 4) around where ``field`` (X, Y, Z) is above ``level``.

    axes: the coordinates of the grid along X, Y, Z, evenly spaced or not. The field must be below the level at the border.
    """
    inside = field > level
    shape = tuple(size - 1 for size in field.shape)
    corners = [inside[i : i + shape[0], j : j + shape[1], k : k + shape[2]] for i, j, k in _CORNERS]
    count = np.zeros(shape, dtype=np.int8)
    for corner in corners:
        count += corner
    cells = np.argwhere((count > 0) & (count < 8))
    number = np.full(shape, -1, dtype=np.int32)
    number[tuple(cells.T)] = np.arange(len(cells), dtype=np.int32)

    values = np.stack([field[tuple((cells + corner).T)] for corner in _CORNERS], axis=1).astype(np.float64) - level
    total = np.zeros((len(cells), 3))
    crossings = np.zeros(len(cells))
    places = np.array(_CORNERS, dtype=np.float64)
    for a, b in _EDGES:
        first, second = values[:, a], values[:, b]
        cut = (first > 0) != (second > 0)
        share = np.where(cut, first / np.where(cut, first - second, 1.0), 0.0)
        total += np.where(cut[:, None], places[a] + share[:, None] * (places[b] - places[a]), 0.0)
        crossings += cut
    within = total / crossings[:, None]
    vertices = np.empty((len(cells), 3))
    for axis, line in enumerate(axes):
        low = cells[:, axis]
        vertices[:, axis] = line[low] + within[:, axis] * (line[low + 1] - line[low])

    quads = []
    for axis in range(3):
        others = [other for other in range(3) if other != axis]
        ahead = np.moveaxis(inside, axis, 0)
        changed = np.argwhere(ahead[1:] != ahead[:-1])
        edge = np.empty((len(changed), 3), dtype=np.int64)
        edge[:, [axis, *others]] = changed
        steps = []
        for x, y in ((0, 0), (1, 0), (1, 1), (0, 1)):
            step = np.zeros(3, dtype=np.int64)
            step[others[0]], step[others[1]] = -x, -y
            beside = edge + step
            steps.append(number[tuple(beside.T)])
        quad = np.stack(steps, axis=1)
        leaves = inside[tuple(edge.T)]
        # For the middle axis the two others run the other way round.
        flip = leaves if axis == 1 else ~leaves
        quad[flip] = quad[flip][:, ::-1]
        quads.append(quad)
    return vertices, np.concatenate(quads).astype(np.int32)
