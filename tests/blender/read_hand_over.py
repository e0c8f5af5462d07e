"""Reads files of a hand-over in Blender: joints and rotations of chosen frames. By itself: RATE FRAME,FRAME… FOLDER FILE…"""

from __future__ import annotations

import sys
from pathlib import Path

import bpy
import numpy as np

#: Importers' own words for axes: the add-on's files are Y up, facing +Z.
_READ = {
    ".bvh": lambda path: bpy.ops.import_anim.bvh(filepath=path, global_scale=0.01, update_scene_fps=True),
    ".glb": lambda path: bpy.ops.import_scene.gltf(filepath=path, bone_heuristic="BLENDER"),
    ".fbx": lambda path: bpy.ops.import_scene.fbx(filepath=path),
    ".usdc": lambda path: bpy.ops.wm.usd_import(filepath=path),
    ".usdz": lambda path: bpy.ops.wm.usd_import(filepath=path),
    ".blend": lambda path: bpy.ops.wm.open_mainfile(filepath=path),
}


def read(path: Path, rate_hz: float, frames: list[int], out: Path) -> None:
    """Read one file, step through, write what is there."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.context.scene.render.fps = round(rate_hz)
    _READ[path.suffix](str(path))
    scene = bpy.context.scene
    (armature,) = (item for item in bpy.data.objects if item.type == "ARMATURE")
    action = armature.animation_data.action
    first = int(action.frame_range[0]) if path.suffix != ".blend" else 0
    names = [bone.name.replace("_L", ".L").replace("_R", ".R") for bone in armature.pose.bones]
    heads = np.empty((len(frames), len(names), 3))
    turned = np.empty((len(frames), len(names), 3, 3))
    for row, frame in enumerate(frames):
        scene.frame_set(first + frame)
        world = armature.evaluated_get(bpy.context.evaluated_depsgraph_get())
        for column, bone in enumerate(world.pose.bones):
            heads[row, column] = world.matrix_world @ bone.head
            now = (world.matrix_world @ bone.matrix).to_3x3().normalized()
            rest = (world.matrix_world @ bone.bone.matrix_local).to_3x3().normalized()
            turned[row, column] = np.array(now @ rest.inverted())
    rest = np.array([armature.matrix_world @ bone.head_local for bone in armature.data.bones])
    meshes = sum(item.type == "MESH" for item in bpy.data.objects)
    np.savez(out, names=names, heads=heads, turned=turned, rest=rest, keys=np.array(action.frame_range), meshes=meshes,
             rate=scene.render.fps / scene.render.fps_base, actions=[item.name for item in bpy.data.actions])  # fmt: skip


for file in sys.argv[4:]:
    read(
        Path(file),
        float(sys.argv[1]),
        [int(word) for word in sys.argv[2].split(",")],
        Path(sys.argv[3]) / f"{Path(file).name}.npz",
    )
