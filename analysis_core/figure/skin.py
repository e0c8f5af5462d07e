"""The dancer's body as one closed skin with the weights that move it. Plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from ..body.movement import SEGMENTS
from ..take import Floats
from .palette import CLOTH, HAIR, RING_ABOVE, RING_EVERY_M, SHOES, SKIN
from .proportions import Rest
from .shape import BLEND_SHARE, HEAD_HEIGHT, Tube, bun_place, tubes_of
from .surface import surface_nets

#: Distance of the surface's points, part of stature; finer where feet and face are.
_SPACING = 0.0056
_FINE_SPACING = 0.0036
_BELOW_ANKLE = 0.055
_ABOVE_CHIN = 0.86
_FAR = -30.0
_ROUNDS_OF_SMOOTHING = 2
_ROUNDS_OF_SOFTENING = 16


@dataclass(frozen=True)
class Skin:
    """vertices_m (V, 3), quads (Q, 4) outward; weights (V, S) of SEGMENTS, rows sum to 1; colours (V, 3) linear.

    stripes (V,): 0 or 1, rings along each limb, for the pattern that tells a fault without colour.
    """

    vertices_m: Floats
    quads: NDArray[np.int32]
    weights: Floats
    colours: Floats
    stripes: Floats


def _grid(tubes: list[Tube], margin: float, size: float) -> tuple[Floats, Floats, Floats]:
    boxes = [tube.bounds(margin) for tube in tubes]
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    step, fine = _SPACING * size, _FINE_SPACING * size
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
    first = np.concatenate([quads[:, i] for i in range(4)])
    second = np.concatenate([quads[:, (i + 1) % 4] for i in range(4)])
    rows, columns = np.concatenate([first, second]), np.concatenate([second, first])
    matrix = csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    matrix.data[:] = 1.0
    degree = np.asarray(matrix.sum(axis=1)).ravel()
    return matrix.multiply(1.0 / degree[:, None]).tocsr()


def _weights(tubes: list[Tube], vertices: Floats, blend: float) -> tuple[Floats, Floats]:
    """Weights (V, S) and the stripes (V,)."""
    weights = np.zeros((len(vertices), len(SEGMENTS)))
    best, stripes = np.full(len(vertices), -np.inf), np.zeros(len(vertices))
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
        stripes[near[closer]] = (np.sin(along[closer] * 2.0 * np.pi / RING_EVERY_M) > RING_ABOVE).astype(np.float64)
    return weights / np.maximum(weights.sum(axis=1, keepdims=True), 1e-9), stripes


def _colours(rest: Rest, vertices: Floats, weights: Floats) -> Floats:
    """Leotard, skin, hair and shoes, so that the body reads."""
    size = rest.stature_m

    def of(*names: str) -> Floats:
        moved: Floats = weights[:, [SEGMENTS.index(name) for name in names]].sum(axis=1)
        return moved

    colours = np.tile(np.array(SKIN), (len(vertices), 1))
    hips, neck = rest.head_of("pelvis")[2], rest.head_of("neck")[2]
    height, outward = vertices[:, 2], np.abs(vertices[:, 1])
    # Cut high over the hip and low at neck and back; straps over the shoulders.
    cut = hips - 0.036 * size + 0.55 * np.maximum(outward - 0.030 * size, 0.0)
    neckline = neck - 0.055 * size + 0.30 * outward
    trunk = of("pelvis", "lumbar", "thorax", "thigh.L", "thigh.R", "clavicle.L", "clavicle.R")
    colours[(height > cut) & (height < neckline) & (trunk > 0.5) & (outward < 0.100 * size)] = CLOTH
    for side, suffix in enumerate((".L", ".R")):
        foot = of(f"foot{suffix}", f"toes{suffix}") > 0.5
        ankle = rest.head_of(f"foot{suffix}")[2]
        colours[foot & (height < ankle * 0.62 + 0.25 * np.abs(vertices[:, 0] - rest.feet[side, 0, 0] - 0.05 * size))] = SHOES
    centre = rest.ends["head"]
    size = rest.head_m / HEAD_HEIGHT
    forward, up = vertices[:, 0] - centre[0], height - centre[2]
    bun = np.linalg.norm(vertices - bun_place(centre, size), axis=1) < 0.028 * size
    hair = (up > 0.024 * size + 0.55 * (forward - 0.030 * size)) & (up > -0.026 * size)
    ear = np.linalg.norm(np.stack([forward + 0.004 * size, outward - 0.046 * size, up + 0.012 * size]), axis=0) < 0.015 * size
    colours[(of("head") > 0.5) & (hair | bun) & ~ear] = HAIR
    return colours


def skin_of(rest: Rest) -> Skin:
    """One closed surface around a dancer at rest, with weights."""
    size = rest.stature_m
    blend = BLEND_SHARE * size
    tubes = tubes_of(rest)
    axes = _grid(tubes, 8.0 * blend, size)
    vertices, quads = surface_nets(_field(tubes, axes, blend), 0.0, axes)
    average = _neighbours(quads, len(vertices))
    for _ in range(_ROUNDS_OF_SMOOTHING):
        # Forth and back (Taubin 1995): smooths without shrinking.
        vertices = vertices + 0.5 * (average @ vertices - vertices)
        vertices = vertices - 0.53 * (average @ vertices - vertices)
    weights, stripes = _weights(tubes, vertices, blend)
    for _ in range(_ROUNDS_OF_SOFTENING):
        weights = 0.5 * weights + 0.5 * (average @ weights)
    weights[weights < 0.01] = 0.0
    weights /= weights.sum(axis=1, keepdims=True)
    return Skin(vertices, quads, weights, _colours(rest, vertices, weights), stripes)
