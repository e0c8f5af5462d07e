"""The hand-over's files read again by Blender, as one picture: rest pose above, a frame of the dance below, bones as rods.

The C3D has no rest pose: its first frame above, its markers as points, once as read by this program and once by ezc3d.

    .venv/bin/python scripts/picture_hand_over.py FOLDER OUT.png [FRAME]

FOLDER: a hand-over that the command wrote. For looking at, and for the README.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import bpy
import ezc3d
import numpy as np
from in_the_round.analysis_core.read import read_take
from mathutils import Vector

_WIDTH, _HEIGHT = 250, 330
_PAPER = (0.97, 0.96, 0.94)
_READ = {
    ".bvh": lambda path: bpy.ops.import_anim.bvh(filepath=path, global_scale=0.01),
    ".fbx": lambda path: bpy.ops.import_scene.fbx(filepath=path),
    ".glb": lambda path: bpy.ops.import_scene.gltf(filepath=path, bone_heuristic="TEMPERANCE"),
    ".usdc": lambda path: bpy.ops.wm.usd_import(filepath=path),
    ".usdz": lambda path: bpy.ops.wm.usd_import(filepath=path),
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
    return _shown(points, faces)


def _shown(points: list[Any], faces: list[tuple[int, ...]]) -> Any:
    """Faces as an object of the scene, in the colour of bones and markers."""
    mesh = bpy.data.meshes.new("shown")
    mesh.from_pydata([list(point) for point in points], [], faces)
    shown = bpy.data.objects.new("shown", mesh)
    shown.color = (0.0, 0.1, 0.5, 1.0)
    bpy.context.scene.collection.objects.link(shown)
    return shown


def _dots(places: np.ndarray) -> Any:
    """An octahedron at each place (M, 3) that is known."""
    away = 0.018 * np.concatenate([np.eye(3), -np.eye(3)])
    sides = [(a, b, c) for a in (0, 3) for b in (1, 4) for c in (2, 5)]
    known = places[np.isfinite(places).all(axis=1)]
    points = [point for place in known for point in place + away]
    return _shown(points, [tuple(6 * number + corner for corner in side) for number in range(len(known)) for side in sides])


def _picture(rods: Any, to: str) -> np.ndarray:
    """Pixels (H, W, 4) of what the scene holds, from before the dancer; rods, bones or markers, go again."""
    scene = bpy.context.scene
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


def _ready(rate_hz: float) -> None:
    """An empty scene at a rate, for a file to be read into."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.context.scene.render.fps, bpy.context.scene.render.fps_base = round(rate_hz), round(rate_hz) / rate_hz


def _dressed() -> Any:
    """The scene, set up to be drawn."""
    scene = bpy.context.scene
    scene.render.engine = "BLENDER_WORKBENCH"
    scene.render.resolution_x, scene.render.resolution_y = _WIDTH, _HEIGHT
    scene.render.image_settings.file_format = "PNG"
    shading = scene.display.shading
    shading.light, shading.color_type, shading.show_xray = "STUDIO", "OBJECT", True
    shading.xray_alpha, scene.render.film_transparent = 0.55, True
    scene.view_settings.view_transform = "Standard"
    return scene


def _of_recording(path: Path, frame: int, rate_hz: float, to: str) -> list[np.ndarray]:
    """A column for each reader of the cleaned recording: its first frame, and the frame asked for."""
    ours = read_take(path).positions_m
    others = ezc3d.c3d(str(path))
    unit = {"mm": 0.001, "cm": 0.01, "m": 1.0}[others["parameters"]["POINT"]["UNITS"]["value"][0]]
    columns = []
    for positions in (ours, unit * others["data"]["points"][:3].transpose(2, 1, 0)):
        _ready(rate_hz)
        _dressed()
        columns.append(np.concatenate([_picture(_dots(positions[at]), to) for at in (0, frame)], axis=0))
    return columns


def _of_file(path: Path, frame: int, rate_hz: float, to: str) -> np.ndarray:
    """Both pictures of one file, one above the other."""
    _ready(rate_hz)
    _READ[path.suffix](str(path))
    scene = _dressed()
    armature = next(item for item in bpy.data.objects if item.type == "ARMATURE")
    first = 0 if path.suffix == ".blend" else int(armature.animation_data.action.frame_range[0])
    pictures = []
    for pose, at in (("REST", first), ("POSE", first + frame)):
        armature.data.pose_position = pose
        scene.frame_set(at)
        pictures.append(_picture(_rods(armature), to))
    return np.concatenate(pictures, axis=0)


def main() -> None:
    """Draw all files beside each other."""
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    frame = int(sys.argv[3]) if len(sys.argv) > 3 else 2900
    rate_hz = json.loads((folder / "note.json").read_text(encoding="utf-8"))["rate_hz"]
    files = [path for ending in _READ for path in sorted(folder.iterdir()) if path.suffix == ending]
    recordings = sorted(folder.glob("*.c3d"))
    with tempfile.TemporaryDirectory() as place:
        to = str(Path(place) / "one.png")
        columns = [_of_file(path, frame, rate_hz, to) for path in files]
        columns += [column for path in recordings for column in _of_recording(path, frame, rate_hz, to)]
    whole = np.concatenate(columns, axis=1)
    whole[..., 3] = 1.0
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    image = bpy.data.images.new("all", whole.shape[1], whole.shape[0])
    image.pixels[:] = whole[::-1].ravel().tolist()
    image.file_format = "JPEG" if out.suffix in (".jpg", ".jpeg") else "PNG"
    image.filepath_raw = str(out.resolve())
    image.save()
    sys.stdout.write(", ".join(path.name for path in (*files, *recordings)) + f": {out}\n")
    sys.stdout.flush()
    os._exit(0)


main()
