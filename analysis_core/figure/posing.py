"""The skin in motion: where every point of it is at a moment."""

from __future__ import annotations

import numpy as np

from ..take import Floats
from .motion import Motion, placed
from .proportions import Rest
from .skin import Skin


def skin_at(skin: Skin, motion: Motion, rest: Rest) -> Floats:
    """Points (F, V, 3) of a skin in every row of a motion, each moved by its bones in the proportions of its weights."""
    turned, origins = placed(motion, rest)
    # Σ w (R (v − rest) + o) = (Σ w R) v + Σ w (o − R rest): two small products instead of a large one for each bone.
    moved = origins - np.einsum("fsij,sj->fsi", turned, rest.heads)
    rotations = np.einsum("vs,fsij->fvij", skin.weights, turned, optimize=True)
    points: Floats = np.einsum("fvij,vj->fvi", rotations, skin.vertices_m) + skin.weights @ moved
    return points
