"""The hand-over's files read again by Blender, as one picture: rest pose above, a frame of the dance below, bones as rods.

    .venv/bin/python scripts/picture_hand_over.py FOLDER OUT.png [FRAME]

FOLDER: a hand-over that the command wrote. For looking at, and for the README.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

_WIDTH, _HEIGHT = 250, 330
_PAPER = (0.97, 0.96, 0.94)
_READ = {
    ".bvh": lambda path: bpy.ops.import_anim.bvh(filepath=path, global_scale=0.01),
    ".fbx": lambda path: bpy.ops.import_scene.fbx(filepath=path),
    ".glb": lambda path: bpy.ops.import_scene.gltf(filepath=path, bone_heuristic="TEMPERANCE"),
    ".usdc": lambda path: bpy.ops.wm.usd_import(filepath=path),
    ".blend": lambda path: bpy.ops.wm.open_mainfile(filepath=path),
}


def _rods(armature: Any) -> Any:
    """Slim pyramids from head to tail of every bone as they are now, in world space."""
    points, faces = [], []
    for bone in armature.evaluated_get(bpy.context.evaluated_depsgraph_get()).pose.bones:
        head, tail = armature.matrix_world @ bone.head, armature.matrix_world @ bone.tail
        side = (tail - head).orthogonal().normalized() * 0.02
        other = (tail - head).normalized().cross(side)
        first = len(points)
        points += [head + side, head + other, head - side, head - other, tail]
        faces += [(first + i, first + (i + 1) % 4, first + 4) for i in range(4)]
    mesh = bpy.data.meshes.new("rods")
    mesh.from_pydata([list(point) for point in points], [], faces)
    rods = bpy.data.objects.new("rods", mesh)
    rods.color = (0.0, 0.1, 0.5, 1.0)
    bpy.context.scene.collection.objects.link(rods)
    return rods


def _picture(armature: Any, to: str) -> np.ndarray:
    """Pixels (H, W, 4) of body and bones from before the dancer."""
    scene = bpy.context.scene
    rods = _rods(armature)
    for item in bpy.data.objects:
        if item.type == "MESH" and item != rods:
            item.color = (0.9, 0.75, 0.6, 1.0)
            item.hide_render = False
    camera = bpy.data.objects.new("seen", bpy.data.cameras.new("seen"))
    scene.collection.objects.link(camera)
    camera.data.type, camera.data.ortho_scale = "ORTHO", 2.1
    middle = Vector(np.mean([list(point.co) for point in rods.data.vertices], axis=0).tolist())
    camera.location = middle + Vector((2.0, -4.5, 0.8))
    camera.rotation_euler = (middle - camera.location).to_track_quat("-Z", "Y").to_euler()
    scene.camera, scene.render.filepath = camera, to
    bpy.ops.render.render(write_still=True)
    image = bpy.data.images.load(to, check_existing=False)
    pixels = np.array(image.pixels[:], dtype=np.float32).reshape(_HEIGHT, _WIDTH, 4)[::-1]
    bpy.data.images.remove(image)
    bpy.data.objects.remove(camera)
    bpy.data.objects.remove(rods)
    paper = np.append(_PAPER, 1.0).astype(np.float32)
    # Straight alpha: what is half seen through lies over paper.
    return pixels[..., 3:] * pixels + (1.0 - pixels[..., 3:]) * paper


def _of_file(path: Path, frame: int, to: str) -> np.ndarray:
    """Both pictures of one file, one above the other."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.context.scene.render.fps = 240
    _READ[path.suffix](str(path))
    scene = bpy.context.scene
    scene.render.engine = "BLENDER_WORKBENCH"
    scene.render.resolution_x, scene.render.resolution_y = _WIDTH, _HEIGHT
    scene.render.image_settings.file_format = "PNG"
    shading = scene.display.shading
    shading.light, shading.color_type, shading.show_xray = "STUDIO", "OBJECT", True
    shading.xray_alpha, scene.render.film_transparent = 0.55, True
    scene.view_settings.view_transform = "Standard"
    armature = next(item for item in bpy.data.objects if item.type == "ARMATURE")
    first = 0 if path.suffix == ".blend" else int(armature.animation_data.action.frame_range[0])
    pictures = []
    for pose, at in (("REST", first), ("POSE", first + frame)):
        armature.data.pose_position = pose
        scene.frame_set(at)
        pictures.append(_picture(armature, to))
    return np.concatenate(pictures, axis=0)


def main() -> None:
    """Draw all files beside each other."""
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    frame = int(sys.argv[3]) if len(sys.argv) > 3 else 2900
    files = [path for ending in _READ for path in sorted(folder.iterdir()) if path.suffix == ending]
    with tempfile.TemporaryDirectory() as place:
        columns = [_of_file(path, frame, str(Path(place) / "one.png")) for path in files]
    whole = np.concatenate(columns, axis=1)
    whole[..., 3] = 1.0
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    image = bpy.data.images.new("all", whole.shape[1], whole.shape[0])
    image.pixels[:] = whole[::-1].ravel().tolist()
    image.file_format = "JPEG" if out.suffix in (".jpg", ".jpeg") else "PNG"
    image.filepath_raw = str(out.resolve())
    image.save()
    sys.stdout.write(", ".join(path.name for path in files) + f": {out}\n")
    sys.stdout.flush()
    os._exit(0)


main()
