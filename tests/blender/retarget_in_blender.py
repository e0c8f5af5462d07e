"""Brings a hand-over onto rigs of another build in Blender. By itself: PREPARED HUMANOID.glb OUT.npz STEP

For each rig OUT holds, at every STEP-th frame: where its bones begin, how they are turned away from rest (evaluated by Blender
from the keys), and where they begin at rest.
"""

from __future__ import annotations

import os
import pickle
import sys
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from in_the_round.analysis_core.hand_over.bone_names import match
from in_the_round.scene.retarget import bring_onto_armature
from mathutils import Euler, Matrix


def _meta_rig() -> Any:
    import addon_utils  # There only once Blender is.

    addon_utils.enable("rigify", default_set=True)
    bpy.ops.object.armature_human_metarig_add()
    return bpy.context.object


def _humanoid(path: str) -> Any:
    bpy.ops.import_scene.gltf(filepath=path, bone_heuristic="BLENDER")
    return next(item for item in bpy.data.objects if item.type == "ARMATURE" and item.name != "metarig")


def _read(armature: Any, frames: range) -> dict[str, Any]:
    # Of the hundred and more bones of such a rig those that a hand-over moves.
    moved = set(match([bone.name for bone in armature.data.bones]).values())
    names = [bone.name for bone in armature.data.bones if bone.name in moved]
    heads, turned = np.empty((len(frames), len(names), 3)), np.empty((len(frames), len(names), 3, 3))
    world = armature.matrix_world
    at_rest = [armature.data.bones[name] for name in names]
    rest = [np.array((world @ bone.matrix_local).to_3x3().normalized()).T for bone in at_rest]
    for row, frame in enumerate(frames):
        bpy.context.scene.frame_set(frame)
        posed = armature.evaluated_get(bpy.context.evaluated_depsgraph_get()).pose.bones
        for column, bone in enumerate(posed[name] for name in names):
            heads[row, column] = world @ bone.head
            turned[row, column] = np.array((world @ bone.matrix).to_3x3().normalized()) @ rest[column]
    return {
        "names": names,
        "heads": heads,
        "turned": turned,
        "rest": np.array([(world @ bone.head_local)[:] for bone in at_rest]),
    }


def main() -> None:
    """Add both rigs, bring the take onto them, step through it."""
    prepared, humanoid, out, step = sys.argv[1:]
    given = pickle.loads(Path(prepared).read_bytes())
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    found = {}
    stands = {
        # An object that was moved, turned and scaled, as rigs come from other files.
        "meta": Matrix.LocRotScale((3.0, -2.0, 0.4), Euler((0.0, 0.0, 0.7)), (1.25, 1.25, 1.25)),
        "humanoid": Matrix.Identity(4),
    }
    for kind, armature in (("meta", _meta_rig()), ("humanoid", _humanoid(humanoid))):
        armature.matrix_world = stands[kind] @ armature.matrix_world
        bring_onto_armature(given, armature, "take")
        for name, values in _read(armature, range(0, given.rig.frames, int(step))).items():
            found[f"{kind}_{name}"] = values
        found[f"{kind}_stands"] = np.array(stands[kind])
    np.savez(out, **found)


main()
sys.stdout.flush()
os._exit(0)
