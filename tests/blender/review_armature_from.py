"""Run in a Blender of its own: bring a recording in through each of Blender's formats, review the armature, write what was found.

Arguments: BVH file, folder to work in, result file (JSON: bvh, fbx, glb and usdc).
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from in_the_round import armature_take
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.body.movement import JOINTS

EXPORT = {
    "fbx": lambda path: bpy.ops.export_scene.fbx(filepath=path, bake_anim=True, bake_anim_simplify_factor=0.0),
    "glb": lambda path: bpy.ops.export_scene.gltf(filepath=path, export_format="GLB", export_force_sampling=True),
    "usdc": lambda path: bpy.ops.wm.usd_export(filepath=path, export_animation=True, export_armatures=True),
}
IMPORT = {
    "fbx": lambda path: bpy.ops.import_scene.fbx(filepath=path),
    "glb": lambda path: bpy.ops.import_scene.gltf(filepath=path),
    "usdc": lambda path: bpy.ops.wm.usd_import(filepath=path),
}


def empty() -> None:
    """An empty file with Blender's own importers and exporters."""
    import addon_utils  # found only once bpy is there

    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    for module in ("io_scene_fbx", "io_scene_gltf2"):
        addon_utils.enable(module)


def bring_in(recording: str) -> tuple[int, float]:
    """Import a BVH into an empty file; its rate as the scene has it."""
    empty()
    # The file is in centimetres and Blender in metres.
    bpy.ops.import_anim.bvh(filepath=recording, global_scale=0.01, update_scene_fps=True, update_scene_duration=True)
    return bpy.context.scene.render.fps, bpy.context.scene.render.fps_base


def bring_in_again(form: str, path: str, rate: tuple[int, float]) -> None:
    """Import what was exported into an empty file. None of these formats carries the frame rate into the scene."""
    empty()
    bpy.context.scene.render.fps, bpy.context.scene.render.fps_base = rate
    IMPORT[form](path)


def reviewed() -> dict[str, Any]:
    """The review of the armature of the file."""
    armature = next(item for item in bpy.data.objects if item.type == "ARMATURE")
    take = armature_take.take_of(armature, bpy.context.scene, bpy.context.evaluated_depsgraph_get())
    review = analyse_take(take)
    centres = review.movement.joint_centres_m
    yaw = review.movement.angle("pelvis_yaw")
    legs = [JOINTS.index(name + side) for name in ("hip", "knee", "ankle") for side in (".L", ".R")]
    return {
        "rate_hz": take.rate_hz,
        "frames": take.frames,
        "net_yaw_deg": float(np.degrees(yaw[-1] - yaw[0])),
        "revolutions": [float(turn.revolutions or 0.0) for turn in review.phrase.of_kind("turn")],
        "jumps": len(review.phrase.of_kind("jump")),
        "faults": sorted({finding.fault for finding in review.findings}),
        "clear": sorted({finding.fault for finding in review.findings if finding.grade == "fault"}),
        "values": [[finding.fault, finding.phase, finding.value, finding.plus_minus] for finding in review.findings],
        "legs_m": (centres[:, legs] - centres[:, JOINTS.index("pelvis"), None]).tolist(),
    }


def main(recording: str, folder: str, result: str) -> None:
    """All formats in one Blender, exported from one import; each is brought back into an empty file."""
    rate = bring_in(recording)
    told, paths = {"bvh": reviewed()}, {form: str(Path(folder) / f"dancer.{form}") for form in EXPORT}
    for form, path in paths.items():
        EXPORT[form](path)
    for form, path in paths.items():
        bring_in_again(form, path, rate)
        told[form] = reviewed()
    Path(result).write_text(json.dumps(told), encoding="utf-8")
    sys.stdout.flush()
    os._exit(0)  # Blender's module can hang at the end


if __name__ == "__main__":
    main(*sys.argv[1:4])
