"""The hand-over on a rig of another build, as one picture: the dancer, and beside her Blender's own human meta-rig that dances
the same moments. Run by hand:

    .venv/bin/python scripts/picture_foreign_rig.py [OUT.jpg]     (default: docs/pictures/foreign_rig.jpg)
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.body.movement import frame_at
from in_the_round.analysis_core.hand_over.give import Wishes, hand_over
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.scene.build import CAPTIONS, MARK, build_scene
from in_the_round.scene.cameras import make_camera
from in_the_round.scene.retarget import bring_onto_armature
from in_the_round.scene.stage import mesh_object, plain_material
from mathutils import Vector

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo_data"
#: What is shown of the demo phrase: the kind of step, which of them, and where in it.
MOMENTS = (("plie", 0, 0.5), ("turn", 0, 0.45), ("jump", 1, 0.5))
_SIZE, _GAP = (600, 540), 8
#: How far beside the dancer the rig stands, and how much is seen, metres.
_BESIDE_M, _SEEN_M = 1.35, 3.05
#: How high the middle of the picture lies, metres.
_MIDDLE_M = 1.07
_BONE = (0.02, 0.10, 0.38)
#: Of a bone's length: where it is broadest, and half how broad it is there.
_BROADEST, _HALF_BREADTH = 0.12, 0.085


def _meta_rig() -> Any:
    import addon_utils  # There only once Blender is.

    addon_utils.enable("rigify", default_set=True)
    bpy.ops.object.armature_human_metarig_add()
    return bpy.context.object


def _bones(armature: Any, collection: Any) -> Any:
    """The bones as they are now, each a body with eight faces as Blender draws it, in world space."""
    points: list[Any] = []
    faces: list[tuple[int, ...]] = []
    for bone in armature.evaluated_get(bpy.context.evaluated_depsgraph_get()).pose.bones:
        turned = armature.matrix_world @ bone.matrix
        first, half = len(points), _HALF_BREADTH * bone.length
        points += [
            turned @ Vector(place)
            for place in (
                (0.0, 0.0, 0.0),
                *((x * half, _BROADEST * bone.length, z * half) for x, z in ((1, 1), (-1, 1), (-1, -1), (1, -1))),
                (0.0, bone.length, 0.0),
            )
        ]
        for side in range(4):
            one, other = first + 1 + side, first + 1 + (side + 1) % 4
            faces += [(first, other, one), (first + 5, one, other)]
    return mesh_object("Bones", [tuple(point) for point in points], faces, plain_material("Bones", _BONE), collection)


def _picture(scene: Any, rig: Any, review: Review, time_s: float, to: str) -> np.ndarray:
    """Pixels (H, W, 4) of one moment, from the dancer's own front."""
    frame = frame_at(review.movement, time_s)
    middle = Vector([*np.nanmean(review.movement.joint_centres_m[frame, :, :2], axis=0).tolist(), _MIDDLE_M])
    across = (review.movement.joint("hip.L") - review.movement.joint("hip.R"))[frame]
    left = Vector((across[0], across[1], 0.0)).normalized()
    front = Vector((left.y, -left.x, 0.0))
    rig.location = (left * _BESIDE_M).to_tuple()
    scene.frame_set(frame)
    bones = _bones(rig, scene.collection)
    scene.frame_set(scene.frame_start + frame)
    aim = middle + left * _BESIDE_M / 2.0
    camera = make_camera("seen", aim + (front * 6.0 + left * -1.2 + Vector((0.0, 0.0, 0.55))), aim, scene.collection)
    camera.data.lens = camera.data.sensor_width * 6.0 / _SEEN_M
    scene.camera, scene.render.filepath = camera, to
    bpy.ops.render.render(write_still=True, scene=scene.name)
    image = bpy.data.images.load(to, check_existing=False)
    pixels = np.array(image.pixels[:], dtype=np.float32).reshape(_SIZE[1], _SIZE[0], 4)
    for item in (bones, camera):
        bpy.data.objects.remove(item)
    bpy.data.images.remove(image)
    return pixels


def main() -> None:
    """Bring the careful demo take onto the rig, and draw the moments beside each other."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures" / "foreign_rig.jpg"
    review = analyse(DEMO / "careful.c3d", Settings(static=DEMO / "static.c3d", tempo_bpm=120.0))
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = build_scene(review)
    bpy.context.window.scene = scene
    for item in scene.collection.children_recursive:
        if item.get(MARK) in (CAPTIONS, "measures"):
            item.hide_render = True
    rig = _meta_rig()
    bring_onto_armature(hand_over(review, Wishes()), rig, "careful")
    scene.render.resolution_x, scene.render.resolution_y = _SIZE
    scene.render.image_settings.file_format = "PNG"
    phases = review.phrase.phases
    pictures = []
    with tempfile.TemporaryDirectory() as place:
        for kind, which, share in MOMENTS:
            phase = [phase for phase in phases if phase.kind == kind][which]
            time_s = phase.start_s + share * (phase.end_s - phase.start_s)
            pictures.append(_picture(scene, rig, review, time_s, str(Path(place) / "one.png")))
    gap = np.ones((_SIZE[1], _GAP, 4), dtype=np.float32)
    whole = np.concatenate([part for picture in pictures for part in (gap, picture)][1:], axis=1)
    image = bpy.data.images.new("all", whole.shape[1], whole.shape[0])
    image.pixels[:] = whole.ravel().tolist()
    image.file_format = "JPEG" if out.suffix in (".jpg", ".jpeg") else "PNG"
    image.filepath_raw = str(out.resolve())
    image.save(quality=88)
    sys.stdout.write(f"{out}: {out.stat().st_size // 1000} kB\n")


if __name__ == "__main__":
    main()
    sys.stdout.flush()
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(0)
