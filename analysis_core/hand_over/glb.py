"""glTF binary of the hand-over: +Y up, facing +Z, metres, identity at rest; one skeleton, one body, a clip for each piece."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ..body.movement import SEGMENTS
from ..figure.gltf import INDICES, VERTICES, File
from ..figure.rotations import continuous, quaternions_of
from ..figure.skin import normals_of
from ..take import Floats
from ..write.bvh import Y_UP, local_rotations
from ..write.files import whole_file
from .body import Body
from .pieces import Piece
from .skeleton import PARENT_OF, Skeleton

_INFLUENCES = 4


def _mesh(file: File, body: Body) -> dict[str, Any]:
    order = np.argsort(-body.weights, axis=1, kind="stable")[:, :_INFLUENCES]
    weights = np.take_along_axis(body.weights, order, axis=1)
    weights /= weights.sum(axis=1, keepdims=True)
    order = np.where(weights > 0, order, 0)
    triangles = np.concatenate([body.quads[:, [0, 1, 2]], body.quads[:, [0, 2, 3]]])
    normals = normals_of(body.vertices_m, body.quads) @ Y_UP.T
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    attributes = {
        "POSITION": file.add((body.vertices_m @ Y_UP.T).astype(np.float32), target=VERTICES, bounds=True),
        "NORMAL": file.add(normals.astype(np.float32), target=VERTICES),
        "JOINTS_0": file.add(order.astype(np.uint8), target=VERTICES),
        "WEIGHTS_0": file.add(weights.astype(np.float32), target=VERTICES),
        "COLOR_0": file.add(np.round(255.0 * body.colours).clip(0, 255).astype(np.uint8), target=VERTICES, normalized=True),
    }
    indices = file.add(triangles.astype(np.uint32).ravel(), target=INDICES)
    return {"name": "dancer", "primitives": [{"attributes": attributes, "indices": indices, "material": 0}]}


def _nodes(skeleton: Skeleton) -> list[dict[str, Any]]:
    """A node for each segment, rotations of identity at rest."""
    heads = skeleton.rest.heads @ Y_UP.T
    nodes: list[dict[str, Any]] = []
    for index, name in enumerate(SEGMENTS):
        parent = PARENT_OF[index]
        node: dict[str, Any] = {"name": name, "translation": (heads[index] - (0.0 if parent < 0 else heads[parent])).tolist()}
        children = np.flatnonzero(index == PARENT_OF).tolist()
        nodes.append(node | ({"children": children} if children else {}))
    return nodes


def _clip(file: File, name: str, turns: Floats, places: Floats, rate_hz: float) -> dict[str, Any]:
    """One animation; a bone that stays still has a single key."""
    times = file.add((np.arange(len(turns)) / rate_hz).astype(np.float32), bounds=True)
    still: int | None = None
    samplers, channels = [], []
    for index in range(len(SEGMENTS)):
        own = turns[:, index, [1, 2, 3, 0]].astype(np.float32)
        own /= np.linalg.norm(own, axis=1, keepdims=True)
        constant = bool((own == own[0]).all())
        if constant and still is None:
            still = file.add(np.zeros(1, dtype=np.float32), bounds=True)
        samplers.append({"input": still if constant else times, "output": file.add(own[:1] if constant else own)})
        channels.append({"sampler": index, "target": {"node": index, "path": "rotation"}})
    samplers.append({"input": times, "output": file.add(places.astype(np.float32))})
    channels.append({"sampler": len(SEGMENTS), "target": {"node": 0, "path": "translation"}})
    return {"name": name, "samplers": samplers, "channels": channels}


def write_hand_over_glb(
    skeleton: Skeleton, body: Body, pieces: Sequence[Piece], extras: dict[str, Any], path: Path, *, overwrite: bool = False
) -> None:
    """Write the dancer with the whole take as the first clip and each piece as a further one.

    Quaternions are continuous in sign, float32; times are frame ÷ rate. extras: what goes into ``asset.extras``. Raises
    OutputError when the file is there or cannot be written.
    """
    file = File()
    turns = continuous(quaternions_of(local_rotations(skeleton)))
    places = skeleton.pelvis_m @ Y_UP.T
    binds = np.tile(np.eye(4), (len(SEGMENTS), 1, 1))
    binds[:, :3, 3] = -skeleton.rest.heads @ Y_UP.T
    inverse = file.add(np.swapaxes(binds, 1, 2).reshape(-1, 16).astype(np.float32))
    nodes = _nodes(skeleton)
    mesh = {"name": "dancer.body", "mesh": 0, "skin": 0}
    document = file.document
    document["asset"]["extras"] = extras
    document |= {
        "scene": 0,
        "scenes": [{"nodes": [0, len(nodes)]}],
        "nodes": [*nodes, mesh],
        "meshes": [_mesh(file, body)],
        "materials": [{"name": "dancer", "pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": 0.8}}],
        "skins": [{"joints": list(range(len(nodes))), "inverseBindMatrices": inverse, "skeleton": 0}],
        "animations": [
            _clip(file, "take", turns, places, skeleton.rate_hz),
            *(_clip(file, piece.name, turns[piece.rows], places[piece.rows], skeleton.rate_hz) for piece in pieces),
        ],
    }
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_bytes(file.to_bytes())
