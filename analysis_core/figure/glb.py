"""The dancer as a GLB: one skinned mesh, one skeleton, one animation for each take. No Blender is needed.

Small by rounding (KHR_mesh_quantization): places in steps of about 0.03 mm, turns of 0.03°. What the student's page draws
by itself (rings, edges of clothes, severity) stands in attributes and accessors of its own, named in ``extras``; other readers
ignore it and show the colours of the points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..body.movement import SEGMENTS
from ..body.rotations import quaternions_of
from ..findings.finding import Finding
from ..review import Review
from ..take import Floats
from ..write.files import whole_file
from .gltf import INDICES, VERTICES, File
from .levels import levels_of
from .looks import COVERS, DEFAULT_LOOK
from .motion import Motion, at_samples, bone_axes, motion_of
from .proportions import PARENTS, Rest, rest_of
from .skin import Skin, normals_of, skin_of

#: Keys a second, joined by straight lines: joints are then within 0.2 mm (root mean square) and 8 mm at a hard landing.
KEYS_HZ = 60.0
#: Takes longer than this, seconds, have half as many keys (0.7 mm, 21 mm at a hard landing): ten minutes still fit into a mail.
LONG_S, LONG_KEYS_HZ = 180.0, 30.0
#: Points of trunk and limbs lie this much further apart than in Blender: 10,000 points instead of 24,000.
COARSENESS = 1.6
#: Steps of places (metres), of turns (parts of 32767), of the places along limbs and of the distances to edges (metres): what is
#: rounded packs well, and nobody sees it.
_PLACE_STEP_M, _TURN_STEP, _ALONG_STEP_M, _EDGE_STEP_M = 1.0 / 8192.0, 8, 0.0001, 0.0005
_INFLUENCES = 4
_ROUGHNESS = 0.65


@dataclass(frozen=True)
class Clip:
    """One take of the dancer. motion: K samples at rate_hz. levels (K, S): severity of SEGMENTS, 0 calm to 1."""

    name: str
    motion: Motion
    levels: Floats
    rate_hz: float


def clip_of(name: str, review: Review, rest: Rest, findings: tuple[Finding, ...] | None = None) -> Clip:
    """A review's take on the body of ``rest``, at KEYS_HZ (LONG_KEYS_HZ when it is long) or its own rate where that is lower.

    findings: those whose severity is shown; all of the review when None.
    """
    movement = review.movement
    rate = min(KEYS_HZ if movement.frames / movement.rate_hz <= LONG_S else LONG_KEYS_HZ, movement.rate_hz)
    samples = np.arange(0.0, movement.frames - 1 + 1e-6, movement.rate_hz / rate)
    levels = levels_of(review.findings if findings is None else findings, samples / movement.rate_hz)
    return Clip(name, at_samples(motion_of(movement, rest), samples), levels, rate)


def _quantized(vertices: Floats) -> tuple[NDArray[np.int16], Floats]:
    """Places (V, 3) as whole numbers and the matrix (4, 4) that turns these back into metres."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    step, middle = float((high - low).max()) / 65000.0, (low + high) / 2.0
    back = np.diag([step, step, step, 1.0])
    back[:3, 3] = middle
    return np.round((vertices - middle) / step).astype(np.int16), back


def _influences(weights: Floats) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The segments (V, 4) that move each point most, and how much, in parts of 255 that sum to 255."""
    order = np.argsort(-weights, axis=1, kind="stable")[:, :_INFLUENCES]
    most = np.take_along_axis(weights, order, axis=1)
    parts = np.round(255.0 * most / most.sum(axis=1, keepdims=True))
    parts[:, 0] += 255.0 - parts.sum(axis=1)
    return np.where(parts > 0, order, 0).astype(np.uint8), parts.astype(np.uint8)


def _parts(weights: Floats) -> NDArray[np.uint8]:
    """The two segments (V, 4) whose severity a point shows, and the share of the second one in parts of 255."""
    order = np.argsort(-weights, axis=1, kind="stable")[:, :2]
    first, second = np.take_along_axis(weights, order, axis=1).T
    share = np.round(255.0 * second / (first + second))
    return np.column_stack([order, share, np.zeros(len(order))]).astype(np.uint8)


def _mesh(file: File, skin: Skin) -> tuple[dict[str, Any], Floats]:
    """The mesh of a skin, and the matrix that turns its places into metres."""
    places, back = _quantized(skin.vertices_m)
    joints, weights = _influences(skin.weights)
    colours = np.column_stack([skin.colours, np.ones(len(skin.colours))])
    edges = np.clip(np.round(skin.covered_m / _EDGE_STEP_M), -127, 127)
    triangles = np.concatenate([skin.quads[:, [0, 1, 2]], skin.quads[:, [0, 2, 3]]])
    kind = np.uint16 if len(skin.vertices_m) < 65535 else np.uint32
    attributes = {
        "POSITION": file.add(places, target=VERTICES, bounds=True),
        "NORMAL": file.add(
            np.round(127.0 * normals_of(skin.vertices_m, skin.quads)).astype(np.int8), target=VERTICES, normalized=True
        ),
        "JOINTS_0": file.add(joints, target=VERTICES),
        "WEIGHTS_0": file.add(weights, target=VERTICES, normalized=True),
        "COLOR_0": file.add(np.round(255.0 * colours).astype(np.uint8), target=VERTICES, normalized=True),
        "_PART": file.add(_parts(skin.weights), target=VERTICES),
        "_ALONG": file.add(np.round(skin.along_m / _ALONG_STEP_M).astype(np.int16), target=VERTICES),
        "_SURFACE": file.add(edges.astype(np.int8), target=VERTICES),
    }
    indices = file.add(triangles.astype(kind).ravel(), target=INDICES)
    told = {"segments": list(SEGMENTS), "along_step_m": _ALONG_STEP_M, "surface": list(COVERS), "surface_step_m": _EDGE_STEP_M}
    return {"primitives": [{"attributes": attributes, "indices": indices, "material": 0}], "extras": told}, back


def _skeleton(rest: Rest) -> list[dict[str, Any]]:
    """One node for each of SEGMENTS, in that order, at rest; children by their number in SEGMENTS."""
    axes = bone_axes(rest)
    nodes: list[dict[str, Any]] = []
    for index, name in enumerate(SEGMENTS):
        before = np.eye(3) if name not in PARENTS else axes[SEGMENTS.index(PARENTS[name])]
        offset = rest.heads[index] - (0.0 if name not in PARENTS else rest.heads[SEGMENTS.index(PARENTS[name])])
        w, x, y, z = quaternions_of((before.T @ axes[index])[None])[0].tolist()
        node: dict[str, Any] = {"name": name, "translation": (offset @ before).tolist(), "rotation": [x, y, z, w]}
        children = [SEGMENTS.index(child) for child, parent in PARENTS.items() if parent == name]
        if children:
            node["children"] = children
        nodes.append(node)
    return nodes


def _inverse_binds(rest: Rest, back: Floats) -> NDArray[np.float32]:
    """From whole numbers to metres to each bone's own axes (S, 16), by columns, as glTF has matrices."""
    axes = bone_axes(rest)
    matrices = np.tile(np.eye(4), (len(SEGMENTS), 1, 1))
    matrices[:, :3, :3] = np.swapaxes(axes, 1, 2)
    matrices[:, :3, 3] = -np.einsum("sji,sj->si", axes, rest.heads)
    return np.swapaxes(matrices @ back, 1, 2).reshape(-1, 16).astype(np.float32)


def _product(first: Floats, second: Floats) -> Floats:
    """Quaternions (…, 4) w, x, y, z: the second turn, then the first one."""
    a, b = np.moveaxis(first, -1, 0), np.moveaxis(second, -1, 0)
    return np.stack(
        [
            a[0] * b[0] - a[1] * b[1] - a[2] * b[2] - a[3] * b[3],
            a[0] * b[1] + a[1] * b[0] + a[2] * b[3] - a[3] * b[2],
            a[0] * b[2] - a[1] * b[3] + a[2] * b[0] + a[3] * b[1],
            a[0] * b[3] + a[1] * b[2] - a[2] * b[1] + a[3] * b[0],
        ],
        axis=-1,
    )


def _animation(file: File, clip: Clip, rest: Rest, nodes: list[dict[str, Any]]) -> dict[str, Any]:
    """The turns of all bones and the place of the pelvis; severity and what is known in accessors named in extras."""
    motion = clip.motion
    times = file.add((np.arange(len(motion.known)) / clip.rate_hz).astype(np.float32), bounds=True)
    at_rest = np.array([node["rotation"] for node in nodes])[:, [3, 0, 1, 2]]
    turns = _product(np.broadcast_to(at_rest, motion.quaternions.shape), motion.quaternions)[..., [1, 2, 3, 0]]
    rounded = (np.round(turns * 32767.0 / _TURN_STEP) * _TURN_STEP).clip(-32767, 32767).astype(np.int16)
    places = np.round((rest.head_of("pelvis") + motion.shift_m) / _PLACE_STEP_M) * _PLACE_STEP_M
    samplers = [{"input": times, "output": file.add(rounded[:, index], normalized=True)} for index in range(len(SEGMENTS))]
    channels = [{"sampler": index, "target": {"node": index, "path": "rotation"}} for index in range(len(SEGMENTS))]
    samplers.append({"input": times, "output": file.add(places.astype(np.float32))})
    channels.append({"sampler": len(SEGMENTS), "target": {"node": SEGMENTS.index("pelvis"), "path": "translation"}})
    levels = np.round(255.0 * np.clip(clip.levels, 0.0, 1.0)).astype(np.uint8)
    told = {
        "levels": file.add(levels.ravel(), normalized=True),
        "known": file.add(motion.known.astype(np.uint8).ravel()),
        "rate_hz": clip.rate_hz,
    }
    return {"name": clip.name, "samplers": samplers, "channels": channels, "extras": told}


def glb_of(rest: Rest, clips: Sequence[Clip], look: str = DEFAULT_LOOK, *, coarseness: float = COARSENESS) -> bytes:
    """A GLB of one dancer at rest with its takes; look: of LOOKS.

    ``mesh.extras`` says what ``_PART``, ``_ALONG`` and ``_SURFACE`` hold; ``animation.extras`` names the accessors of severity
    and of what is known, one row of SEGMENTS for each key.
    """
    file = File()
    mesh, back = _mesh(file, skin_of(rest, look, coarseness=coarseness))
    nodes = _skeleton(rest)
    pelvis, count = SEGMENTS.index("pelvis"), len(nodes)
    half = float(np.sqrt(0.5))
    # Our Z points up, glTF's Y.
    nodes.append({"name": "dancer", "rotation": [-half, 0.0, 0.0, half], "children": [pelvis]})
    nodes.append({"name": "body", "mesh": 0, "skin": 0})
    document = file.document
    document["animations"] = [_animation(file, clip, rest, nodes[:count]) for clip in clips]
    document["meshes"] = [mesh]
    document["materials"] = [{"name": "skin", "pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": _ROUGHNESS}}]
    binds = file.add(_inverse_binds(rest, back))
    document["skins"] = [{"joints": list(range(count)), "inverseBindMatrices": binds, "skeleton": count}]
    document["nodes"] = nodes
    document["scenes"] = [{"nodes": [count, count + 1]}]
    document["scene"] = 0
    document["extensionsUsed"] = document["extensionsRequired"] = ["KHR_mesh_quantization"]
    if not clips:
        del document["animations"]
    return file.to_bytes()


def write_glb(path: Path, review: Review, *, name: str = "take", look: str = DEFAULT_LOOK, overwrite: bool = False) -> None:
    """Write the dancer of a review with its take.

    Raises OutputError when it cannot be written, or is there and may not be replaced.
    """
    rest = rest_of(review.movement)
    data = glb_of(rest, [clip_of(name, review, rest)], look)
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_bytes(data)
