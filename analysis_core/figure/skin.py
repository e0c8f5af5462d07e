"""The dancer's body as one closed skin with the weights that move it. Plain arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..body.movement import SEGMENTS
from ..take import Floats
from .clothes import colours_of, covers
from .looks import COVERS, DEFAULT_LOOK, LOOKS
from .palette import RING_ABOVE, RING_EVERY_M
from .proportions import Rest
from .shape import BLEND_SHARE, Tube, tubes_of
from .surface import surface_nets

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

#: Distance of the surface's points, part of stature; finer where feet and face are.
_SPACING = 0.0056
_FINE_SPACING = 0.0036
_BELOW_ANKLE = 0.055
_ABOVE_CHIN = 0.86
#: Of the coarseness that is asked for, head and feet take this share.
_FINE_COARSENS = 0.4
#: How thick cloth and short hair are and how long their edges, parts of stature.
_CLOTH, _HEM = 0.0030, 0.004
_HAIR, _HAIRLINE = 0.0055, 0.010
_FAR = -30.0
_ROUNDS_OF_SMOOTHING = 2
_ROUNDS_OF_SOFTENING = 16


@dataclass(frozen=True)
class Skin:
    """vertices_m (V, 3), quads (Q, 4) outward; weights (V, S) of SEGMENTS, rows sum to 1; colours (V, 3) linear.

    covered_m (V, 4): how far inside each of COVERS a point lies, negative outside. along_m (V,): place along its limb, for the
    rings that tell a fault without colour.
    """

    vertices_m: Floats
    quads: NDArray[np.int32]
    weights: Floats
    colours: Floats
    covered_m: Floats
    along_m: Floats

    @property
    def stripes(self) -> Floats:
        """1 within a ring, 0 between two (V,)."""
        within: Floats = (np.sin(self.along_m * 2.0 * np.pi / RING_EVERY_M) > RING_ABOVE).astype(np.float64)
        return within


def _grid(tubes: list[Tube], margin: float, size: float, coarseness: float) -> tuple[Floats, Floats, Floats]:
    boxes = [tube.bounds(margin) for tube in tubes]
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    step, fine = _SPACING * size * coarseness, _FINE_SPACING * size * coarseness**_FINE_COARSENS
    feet, head = _BELOW_ANKLE * size, _ABOVE_CHIN * size
    level = np.concatenate([np.arange(low[2], feet, fine), np.arange(feet, head, step), np.arange(head, high[2] + fine, fine)])
    # Even spacing sideways keeps left and right alike.
    half = np.arange(0.0, max(abs(low[1]), abs(high[1])) + step, step) + step / 2
    return np.arange(low[0], high[0] + step, step), np.concatenate([-half[::-1], half]), level


def _field(tubes: list[Tube], axes: tuple[Floats, Floats, Floats], blend: float) -> NDArray[np.float32]:
    """How deep each point of a grid lies inside the soft union of the tubes, in units of the blend."""
    total = np.zeros(tuple(len(axis) for axis in axes), dtype=np.float32)
    for tube in tubes:
        low, high = tube.bounds(6.0 * blend)
        part = tuple(slice(*np.searchsorted(axis, (low[i], high[i]))) for i, axis in enumerate(axes))
        points = np.stack(np.meshgrid(*(axis[one] for axis, one in zip(axes, part, strict=True)), indexing="ij"), axis=-1)
        total[part] += np.exp(-np.clip(tube.distance(points) / blend, -20.0, 20.0))
    depth: NDArray[np.float32] = np.log(np.maximum(total, np.exp(np.float32(_FAR))))
    return depth


def _neighbours(quads: NDArray[np.int32], count: int) -> csr_matrix:
    """Averages each vertex' neighbours."""
    from scipy.sparse import csr_matrix  # loaded when a dancer is made, not with the add-on

    first = np.concatenate([quads[:, i] for i in range(4)])
    second = np.concatenate([quads[:, (i + 1) % 4] for i in range(4)])
    rows, columns = np.concatenate([first, second]), np.concatenate([second, first])
    matrix = csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    matrix.data[:] = 1.0
    degree = np.asarray(matrix.sum(axis=1)).ravel()
    return matrix.multiply(1.0 / degree[:, None]).tocsr()


def _weights(tubes: list[Tube], vertices: Floats, blend: float) -> tuple[Floats, Floats]:
    """Weights (V, S), and the place (V,) along the tube that each point is of."""
    weights = np.zeros((len(vertices), len(SEGMENTS)))
    best, places_along = np.full(len(vertices), -np.inf), np.zeros(len(vertices))
    for tube in tubes:
        low, high = tube.bounds(6.0 * blend)
        near = np.flatnonzero(((vertices >= low) & (vertices <= high)).all(axis=1))
        places = vertices[near]
        depth = -tube.distance(places) / blend
        share = np.exp(np.clip(depth / 2.0, -20.0, 8.0))
        for bone, column in zip(tube.bones, tube.weights(places).T, strict=True):
            weights[near, SEGMENTS.index(bone)] += share * column
        along = (places - tube.begin) @ tube.axes[:, 0]
        closer = depth > best[near]
        best[near[closer]] = depth[closer]
        places_along[near[closer]] = along[closer]
    return weights / np.maximum(weights.sum(axis=1, keepdims=True), 1e-9), places_along


def _dressed(vertices: Floats, quads: NDArray[np.int32], covered: Floats, size: float) -> Floats:
    """Vertices (V, 3) with a shirt and hair laid over the skin: they end in an edge, not in a change of colour."""
    shirt, hair = (
        thick * size * np.clip(covered[:, COVERS.index(name)] / (edge * size), 0.0, 1.0)
        for name, thick, edge in (("cloth", _CLOTH, _HEM), ("hair", _HAIR, _HAIRLINE))
    )
    thickness = shirt + hair
    return vertices + thickness[:, None] * normals_of(vertices, quads)


def skin_of(rest: Rest, look: str = DEFAULT_LOOK, *, coarseness: float = 1.0) -> Skin:
    """One closed surface around a dancer at rest, with weights.

    look: a name of ``looks.LOOKS``. coarseness: how much further apart the points of trunk and
    limbs lie; head and feet less so.
    """
    size = rest.stature_m
    blend = BLEND_SHARE * size
    tubes = tubes_of(rest, bun=LOOKS[look].bun)
    axes = _grid(tubes, 8.0 * blend, size, coarseness)
    vertices, quads = surface_nets(_field(tubes, axes, blend), 0.0, axes)
    average = _neighbours(quads, len(vertices))
    for _ in range(_ROUNDS_OF_SMOOTHING):
        # Forth and back (Taubin 1995): smooths without shrinking.
        vertices = vertices + 0.5 * (average @ vertices - vertices)
        vertices = vertices - 0.53 * (average @ vertices - vertices)
    weights, along = _weights(tubes, vertices, blend)
    # Points that lie further apart reach as far with fewer rounds.
    for _ in range(max(2, round(_ROUNDS_OF_SOFTENING / coarseness**2))):
        weights = 0.5 * weights + 0.5 * (average @ weights)
    weights[weights < 0.01] = 0.0
    weights /= weights.sum(axis=1, keepdims=True)
    covered = covers(look, rest, vertices, weights)
    colours = colours_of(look, covered, _SPACING * coarseness * size)
    if LOOKS[look].loose:
        vertices = _dressed(vertices, quads, covered, size)
    return Skin(vertices, quads, weights, colours, covered, along)


def normals_of(vertices: Floats, quads: NDArray[np.int32]) -> Floats:
    """Unit normals (V, 3) of vertices (V, 3), the mean of the quads (Q, 4) around them by area."""
    corners = vertices[quads]
    a, b, c, d = (corners[:, corner] for corner in range(4))
    of_quads = np.cross(c - a, d - b)
    normals = np.zeros_like(vertices)
    for corner in range(4):
        for axis in range(3):
            normals[:, axis] += np.bincount(quads[:, corner], of_quads[:, axis], len(vertices))
    unit: Floats = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    return unit
