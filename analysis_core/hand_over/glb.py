"""glTF binary of the hand-over: +Y up, facing +Z, metres, identity at rest; one skeleton, one body, a clip for each piece."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..body.rotations import continuous, quaternions_of
from ..figure.gltf import INDICES, VERTICES, File
from ..figure.skin import normals_of
from ..take import Floats
from ..write.files import whole_file
from .body import Body
from .keys import Reduced, of_quaternions
from .pieces import Piece
from .rig import Y_UP, Rig

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


def _nodes(rig: Rig) -> list[dict[str, Any]]:
    """A node for each bone, rotations of identity at rest."""
    offsets = rig.offsets @ Y_UP.T
    nodes: list[dict[str, Any]] = []
    for index, name in enumerate(rig.names):
        node: dict[str, Any] = {"name": name, "translation": offsets[index].tolist()}
        children = rig.children(index)
        nodes.append(node | ({"children": children} if children else {}))
    return nodes


def _turns(rig: Rig) -> Floats:
    """Quaternions (F, B, 4) w, x, y, z against the parents in the file's axes, without changes of sign."""
    return continuous(quaternions_of(Y_UP @ rig.local() @ Y_UP.T))


def _clip(file: File, name: str, rig: Rig, turns: Floats, rows: slice) -> dict[str, Any]:
    """One animation; a bone that stays still has a single key."""
    own = turns[rows]
    times = file.add((np.arange(len(own)) / rig.rate_hz).astype(np.float32), bounds=True)
    still: int | None = None
    samplers: list[dict[str, Any]] = []
    channels: list[dict[str, Any]] = []

    def add(index: int, path: str, values: NDArray[np.floating[Any]]) -> None:
        nonlocal still
        constant = bool((values == values[0]).all())
        if constant and still is None:
            still = file.add(np.zeros(1, dtype=np.float32), bounds=True)
        channels.append({"sampler": len(samplers), "target": {"node": index, "path": path}})
        samplers.append({"input": still if constant else times, "output": file.add(values[:1] if constant else values)})

    for index in range(len(rig.names)):
        quaternions = own[:, index, [1, 2, 3, 0]].astype(np.float32)
        add(index, "rotation", quaternions / np.linalg.norm(quaternions, axis=1, keepdims=True))
    for index in rig.moved:
        add(index, "translation", (rig.places(index)[rows] @ Y_UP.T).astype(np.float32))
    return {"name": name, "samplers": samplers, "channels": channels}


def _reduced_clip(file: File, name: str, rig: Rig, reduced: Reduced, rows: slice) -> dict[str, Any]:
    """One animation of few keys: cubic splines, tangents a second; a place or turn between keys is exactly the curve's."""
    start, stop, _ = rows.indices(rig.frames)
    samplers: list[dict[str, Any]] = []
    channels: list[dict[str, Any]] = []
    turns = [curve.through(of_quaternions(Y_UP)[[1, 2, 3, 0]]) for curve in reduced.turns]
    places = {index: curve.through(Y_UP) for index, curve in reduced.places.items()}
    all_curves = [(index, "rotation", curve) for index, curve in enumerate(turns)]
    all_curves += [(index, "translation", curve) for index, curve in places.items()]
    for index, path, whole in all_curves:
        curve = whole.cut(start, stop)
        values = curve.values
        if path == "rotation":
            values = values / np.linalg.norm(values, axis=1, keepdims=True)
        slopes = curve.slopes * rig.rate_hz
        output = np.stack([slopes, values, slopes], axis=1).reshape(-1, values.shape[1]).astype(np.float32)
        times = file.add((curve.frames / rig.rate_hz).astype(np.float32), bounds=True)
        channels.append({"sampler": len(samplers), "target": {"node": index, "path": path}})
        samplers.append({"input": times, "interpolation": "CUBICSPLINE", "output": file.add(output)})
    return {"name": name, "samplers": samplers, "channels": channels}


def write_hand_over_glb(
    rig: Rig,
    body: Body,
    pieces: Sequence[Piece],
    extras: dict[str, Any],
    path: Path,
    *,
    reduced: Reduced | None = None,
    loops: Sequence[tuple[str, Rig]] = (),
    overwrite: bool = False,
) -> None:
    """Write the dancer with the whole take as the first clip and each piece as a further one.

    Quaternions are continuous in sign, float32; times are frame ÷ rate. reduced: curves of few keys instead of a key on every
    frame. loops: further clips of the same bones, by name. extras: what goes into ``asset.extras``. Raises
    OutputError when the file is there or cannot be written.
    """
    file = File()
    turns = _turns(rig) if reduced is None else np.empty(0)

    def clip(name: str, rows: slice) -> dict[str, Any]:
        return _clip(file, name, rig, turns, rows) if reduced is None else _reduced_clip(file, name, rig, reduced, rows)

    binds = np.tile(np.eye(4), (len(rig.names), 1, 1))
    binds[:, :3, 3] = -rig.heads @ Y_UP.T
    inverse = file.add(np.swapaxes(binds, 1, 2).reshape(-1, 16).astype(np.float32))
    nodes = _nodes(rig)
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
            clip("take", slice(None)),
            *(clip(piece.name, piece.rows) for piece in pieces),
            *(_clip(file, name, loop, _turns(loop), slice(None)) for name, loop in loops),
        ],
    }
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_bytes(file.to_bytes())
