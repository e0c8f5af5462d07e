"""The hand-over on two rigs of another build, evaluated by Blender: limbs point alike in the world, feet still hold."""

from __future__ import annotations

import json
import os
import pickle
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pygltflib
import pytest
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.hand_over.bone_names import match, read_bone_names, write_bone_names
from in_the_round.analysis_core.hand_over.formats import BONE_NAMES_FILE
from in_the_round.analysis_core.hand_over.give import HandOver, hand_over
from in_the_round.analysis_core.hand_over.rig import rig_of
from in_the_round.analysis_core.hand_over.timing import cut
from in_the_round.analysis_core.hand_over.wishes import Wishes
from in_the_round.analysis_core.review import Review

pytestmark = pytest.mark.blender
SCRIPT = Path(__file__).with_name("retarget_in_blender.py")
STEP = 8
#: So much of the take is brought over: it holds a turn, pliés and a travel; more would only take longer.
FRAMES = 2400
#: Humanoid names and a T-pose as the open VRM 1.0 specification has them, with lengths of nobody: name -> parent, place from the
#: parent, metres, Y up, facing +Z, the dancer's left at +X. Shanks are long, the arms short, the hips wide, the feet small.
HUMANOID: dict[str, tuple[str | None, tuple[float, float, float]]] = {
    "root": (None, (0.0, 0.0, 0.0)),
    "hips": ("root", (0.0, 1.16, 0.01)),
    "spine": ("hips", (0.0, 0.07, 0.0)),
    "chest": ("spine", (0.0, 0.14, -0.01)),
    "upperChest": ("chest", (0.0, 0.11, 0.0)),
    "neck": ("upperChest", (0.0, 0.13, 0.02)),
    "head": ("neck", (0.0, 0.09, 0.01)),
    **{
        f"{side}{name}": (parent if parent in ("hips", "upperChest") else f"{side}{parent}", (sign * x, y, z))
        for side, sign in (("left", 1.0), ("right", -1.0))
        for name, parent, (x, y, z) in (
            ("Shoulder", "upperChest", (0.03, 0.09, 0.0)),
            ("UpperArm", "Shoulder", (0.13, 0.01, 0.0)),
            ("LowerArm", "UpperArm", (0.24, 0.0, 0.0)),
            ("Hand", "LowerArm", (0.21, 0.0, 0.0)),
            ("UpperLeg", "hips", (0.12, -0.05, 0.0)),
            ("LowerLeg", "UpperLeg", (0.0, -0.49, 0.0)),
            ("Foot", "LowerLeg", (0.0, -0.54, 0.0)),
            ("Toes", "Foot", (0.0, -0.06, 0.11)),
        )
    },
}
#: Limbs by the humanoid names: from joint to joint.
LIMBS = [("UpperArm", "LowerArm"), ("LowerArm", "Hand"), ("UpperLeg", "LowerLeg"), ("LowerLeg", "Foot")]


def write_humanoid(path: Path) -> None:
    """The rig as glTF with a triangle for a body; Blender makes an armature of a skin only."""
    names = list(HUMANOID)
    place: dict[str, np.ndarray] = {}
    for name, (parent, away) in HUMANOID.items():
        place[name] = np.array(away) + (place[parent] if parent else 0.0)
    binds = np.tile(np.eye(4, dtype=np.float32), (len(names), 1, 1))
    binds[:, 3, :3] = [-place[name] for name in names]
    arrays = [
        np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0]], np.float32), np.zeros((3, 4), np.uint8),
        np.tile(np.array([1, 0, 0, 0], np.float32), (3, 1)), binds.reshape(-1, 16),
    ]  # fmt: skip
    kinds = [(5126, "VEC3"), (5121, "VEC4"), (5126, "VEC4"), (5126, "MAT4")]
    document, data = pygltflib.GLTF2(), b""
    for array, (component, kind) in zip(arrays, kinds, strict=True):
        document.bufferViews.append(pygltflib.BufferView(buffer=0, byteOffset=len(data), byteLength=array.nbytes))
        view = len(document.bufferViews) - 1
        document.accessors.append(pygltflib.Accessor(bufferView=view, componentType=component, count=len(array), type=kind))
        data += array.tobytes() + b"\0" * (-array.nbytes % 4)
    document.accessors[0].min, document.accessors[0].max = [0.0, 0.0, 0.0], [0.1, 0.1, 0.0]
    for name, (_, away) in HUMANOID.items():
        children = [names.index(child) for child, (parent, _) in HUMANOID.items() if parent == name]
        document.nodes.append(pygltflib.Node(name=name, translation=list(away), children=children))
    document.nodes.append(pygltflib.Node(name="body", mesh=0, skin=0))
    attributes = pygltflib.Attributes(POSITION=0, JOINTS_0=1, WEIGHTS_0=2)
    document.meshes.append(pygltflib.Mesh(primitives=[pygltflib.Primitive(attributes=attributes)]))
    document.skins.append(pygltflib.Skin(joints=list(range(len(names))), inverseBindMatrices=3))
    document.scenes.append(pygltflib.Scene(nodes=[0, len(names)]))
    document.scene = 0
    document.buffers.append(pygltflib.Buffer(byteLength=len(data)))
    document.set_binary_blob(data)
    document.save_binary(str(path))


@pytest.fixture(scope="module")
def given(careful_review: Review) -> HandOver:
    whole = hand_over(careful_review, Wishes())
    short = cut(whole.skeleton, 0, FRAMES)
    return replace(whole, skeleton=short, rig=rig_of(short, "pelvis"))


@pytest.fixture(scope="module")
def brought(given: HandOver, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("retarget")
    write_humanoid(folder / "humanoid.glb")
    (folder / "prepared").write_bytes(pickle.dumps(given))
    files = [str(folder / name) for name in ("prepared", "humanoid.glb", "out.npz")]
    command = [sys.executable, str(SCRIPT), *files, str(STEP)]
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(folder / "resources")}
    ran = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300, check=False)
    assert ran.returncode == 0, ran.stderr[-3000:]
    return dict(np.load(folder / "out.npz"))


def joint(brought: dict[str, Any], given: HandOver, rig: str, ours: str) -> int:
    names = list(brought[f"{rig}_names"])
    return names.index(match(names)[ours])


OURS = {"UpperArm": "upper_arm", "LowerArm": "forearm", "Hand": "hand", "UpperLeg": "thigh", "LowerLeg": "shank", "Foot": "foot"}


@pytest.mark.parametrize("rig", ["meta", "humanoid"])
def test_limbs_point_as_they_were_danced(brought: dict[str, Any], given: HandOver, rig: str) -> None:
    """World directions from joint to joint, ≤ 3° in every frame. Would catch local rotations copied between rests, and a rig that
    is taken for its own space though its object was turned and scaled."""
    heads, source = brought[f"{rig}_heads"], given.rig.origins_m[::STEP]
    for side in (".L", ".R"):
        for first, last in LIMBS:
            a, b = (joint(brought, given, rig, OURS[name] + side) for name in (first, last))
            theirs = heads[:, b] - heads[:, a]
            i, j = (given.rig.names.index(OURS[name] + side) for name in (first, last))
            ours = source[:, j] - source[:, i]
            cosine = (theirs * ours).sum(axis=1) / np.linalg.norm(theirs, axis=1) / np.linalg.norm(ours, axis=1)
            apart = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
            assert apart.max() < 3.0, (first + side, apart.max())


@pytest.mark.parametrize("rig", ["meta", "humanoid"])
def test_feet_still_hold(brought: dict[str, Any], given: HandOver, rig: str) -> None:
    """A point fixed in the foot of the other rig, below its ankle where ours was held: how far it creeps in a held stretch.

    Would catch feet that follow the scaled hips: legs of other proportions slide by centimetres.
    """
    holding = given.holding
    assert holding is not None
    heads, turned, rest, stands = (brought[f"{rig}_{what}"] for what in ("heads", "turned", "rest", "stands"))
    # From where the rig's object stands, which the test moved and turned.
    heads, rest, facing = heads - stands[:3, 3], rest - stands[:3, 3], stands[:3, :3] / np.linalg.norm(stands[0, :3])
    legs = [[joint(brought, given, rig, name + side) for name in ("thigh", "shank", "foot")] for side in (".L", ".R")]
    ours = [given.skeleton.rest.heads[[given.rig.names.index(name + ".L") for name in ("thigh", "shank", "foot")]]]
    scale = np.linalg.norm(np.diff(rest[legs[0]], axis=0), axis=1).sum() / np.linalg.norm(np.diff(ours[0], axis=0), axis=1).sum()
    speeds, sunk = [], []
    for planted in holding.kept:
        foot, frames = legs[planted.side][2], np.arange(-(-planted.start // STEP), -(-planted.stop // STEP))
        if len(frames) < 3 or planted.stop > FRAMES:
            continue
        below = planted.offset[2] + ours[0][2, 2]
        point = facing @ np.array([*scale * planted.offset[:2], scale * below - rest[foot, 2]])
        path = heads[frames, foot] + turned[frames, foot] @ point
        speeds.append(np.linalg.norm(np.diff(path[:, :2], axis=0), axis=1) * given.rig.rate_hz / STEP)
        sunk.append(path[:, 2] - scale * planted.target[2])
    every = 1000 * np.concatenate(speeds)
    assert len(every) > 150
    assert every.mean() < 1.0
    assert np.quantile(every, 0.95) < 2.0
    assert np.abs(np.concatenate(sunk)).max() < 0.002


def test_the_map_lies_beside_the_files_and_takes_names_of_ones_own(given: HandOver, tmp_path: Path) -> None:
    """Names in the file are read back for a rig of one's own; a rig without legs is refused with a sentence."""
    path = tmp_path / BONE_NAMES_FILE
    write_bone_names(given.rig, path)
    document = json.loads(path.read_text(encoding="utf-8"))
    assert {bone["name"]: bone["humanoid"] for bone in document["bones"]}["thigh.L"] == "leftUpperLeg"
    with pytest.raises(OptionError, match="names no bone"):
        read_bone_names(path)
    for bone in document["bones"]:
        bone["yours"] = "my " + bone["name"]
    path.write_text(json.dumps(document), encoding="utf-8")
    names = read_bone_names(path)
    assert match(list(names.values()), names) == {name: "my " + name for name in given.rig.names}
    with pytest.raises(OptionError, match=r"thigh\.L"):
        match(["hips", "spine", "leftUpperArm"])
