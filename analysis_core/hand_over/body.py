"""The plain skinned body that goes with the hand-over's skeleton, in its rest pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS
from ..body.movement import SEGMENTS
from ..body.rotations import turned_by, vectors_of
from ..figure.proportions import Rest
from ..figure.skin import skin_of
from ..take import Floats
from .skeleton import RestSkeleton

#: Spacing of the points against the review's figure: animators bring their own bodies, this one shows the motion. Proposed.
_COARSENESS = 1.6


@dataclass(frozen=True)
class Body:
    """vertices_m (V, 3) in the skeleton's rest pose; quads (Q, 4) outward; weights (V, S) of SEGMENTS, rows sum to 1; colours
    (V, 3), linear."""

    vertices_m: Floats
    quads: NDArray[np.int32]
    weights: Floats
    colours: Floats


def _forearm_turn(rest: Rest, resting: RestSkeleton, vertices: Floats, suffix: str) -> Floats:
    """Vertices (V, 3) of one forearm in the new rest pose, twisted evenly from elbow to wrist as the radius turns on the ulna."""
    upper, index, hand = (SEGMENTS.index(name + suffix) for name in ARM_SEGMENTS)
    length = np.linalg.norm(rest.heads[hand] - rest.heads[index])
    local = (vertices - rest.heads[index]) @ rest.rotations[index]
    share = np.clip(-local[:, 1] / length, 0.0, 1.0)
    straight = resting.axes[upper]
    away = vectors_of(resting.axes[index] @ straight.T)
    turned = np.einsum("vij,vj->vi", turned_by(share[:, None] * away), local @ straight.T)
    placed: Floats = resting.heads[index] + turned
    return placed


def body_of(rest: Rest, resting: RestSkeleton, *, coarseness: float = _COARSENESS) -> Body:
    """The figure's skin, brought from the figure's rest into the skeleton's T- or A-pose. coarseness: of its points."""
    skin = skin_of(rest, coarseness=coarseness)
    moved = np.zeros_like(skin.vertices_m)
    for index, name in enumerate(SEGMENTS):
        share = skin.weights[:, index, None]
        if name.startswith("forearm"):
            place = _forearm_turn(rest, resting, skin.vertices_m, name[-2:])
        else:
            turn = resting.axes[index] @ rest.rotations[index].T
            place = resting.heads[index] + (skin.vertices_m - rest.heads[index]) @ turn.T
        moved += share * place
    return Body(moved, skin.quads, skin.weights, skin.colours)
