"""The animator's Blender file: a bare armature with a plain skinned body, the take and its steps as actions.

Nothing of the review's scene is used: its body costs exporters minutes, and animators ask for none of it. All that is not
Blender's is made beforehand (analysis_core/hand_over/for_blender.py), in another process where there is one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Scene
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.hand_over.blender_file import Action, BlenderFile, Bone, BoneKeys, Pictures, SkinnedMesh
from ..blender_types import of_kind, there
from .curves import Keys, add_cubic
from .quads import mesh_of_quads

#: What the objects and the slots of all actions are called.
_NAME = "dancer"
#: Who may use the assets, and how they are found.
_LICENCE, _TAG = "the recording's own", "dance"


def fresh_scene(rate_hz: float, frames: int) -> Any:
    """An empty scene whose clock is exactly the take's."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = there(bpy.context.scene)
    scene.world = None
    whole = max(1, round(rate_hz))
    scene.render.fps, scene.render.fps_base = whole, whole / rate_hz
    scene.frame_start, scene.frame_end = 0, frames - 1
    scene.sync_mode = "FRAME_DROP"
    return scene


def make_armature(bones: Sequence[Bone], scene: Scene) -> Any:
    """Bones at rest as an armature in a scene."""
    data = bpy.data.armatures.new(_NAME)
    armature = bpy.data.objects.new(_NAME, data)
    scene.collection.objects.link(armature)
    there(bpy.context.view_layer).objects.active = armature
    bpy.ops.object.mode_set(mode="EDIT")
    for bone in bones:
        made = data.edit_bones.new(bone.name)
        frame = Matrix(bone.axes).to_4x4()
        frame.translation = Vector(bone.head)
        made.head, made.tail = (0.0, 0.0, 0.0), (0.0, bone.length_m, 0.0)
        made.matrix = frame
        if bone.parent >= 0:
            made.parent = data.edit_bones[bones[bone.parent].name]
    bpy.ops.object.mode_set(mode="OBJECT")
    return armature


def make_body(bones: Sequence[Bone], body: SkinnedMesh, armature: Any, scene: Scene) -> Any:
    """The plain body, skinned to an armature."""
    mesh = mesh_of_quads(f"{_NAME}.body", body.vertices_m, body.quads)
    skinned = bpy.data.objects.new(f"{_NAME}.body", mesh)
    scene.collection.objects.link(skinned)
    for bone, whole, shared in zip(bones, body.whole, body.shared, strict=True):
        group = skinned.vertex_groups.new(name=bone.name)
        group.add(whole, 1.0, "REPLACE")
        for vertex, weight in shared:
            group.add([vertex], weight, "REPLACE")
    of_kind(skinned.modifiers.new("Armature", "ARMATURE"), bpy.types.ArmatureModifier).object = armature
    skinned.parent = armature
    material = bpy.data.materials.new(_NAME)
    material.diffuse_color = (0.6, 0.55, 0.5, 1.0)
    mesh.materials.append(material)
    return skinned


def add_action(armature: Any, name: str, keys: Sequence[BoneKeys]) -> Any:
    """An action of keys; it becomes the armature's own."""
    curves = compat.curves_of(armature, name)
    every: Keys | None = None
    for item in keys:
        path = f'pose.bones["{item.bone}"].{item.path}'
        if item.frames is not None and item.slopes is not None:
            for axis, (values, slopes) in enumerate(zip(item.values, item.slopes, strict=True)):
                add_cubic(curves, path, axis, item.bone, item.frames.astype(np.float32), values, slopes)
            continue
        every = every or Keys(curves, np.arange(item.values.shape[1], dtype=np.float32))
        for axis, values in enumerate(item.values):
            every.add(path, axis, values, item.bone)
    action = armature.animation_data.action
    # The same name everywhere: an action put on an armature of another file finds its slot by it.
    action.slots[0].name_display = _NAME
    return action


def _as_asset(action: Any, made: Action) -> None:
    action.use_fake_user = True
    action.use_frame_range = True
    action.frame_start, action.frame_end = 0, made.frames - 1
    action.use_cyclic = made.loops
    action.asset_mark()
    data = action.asset_data
    data.catalog_id = made.catalogue
    data.description, data.license = made.about, _LICENCE
    data.tags.new(_TAG)


def _strips(armature: Any, steps: Sequence[tuple[Any, Action]]) -> None:
    """Every step as a strip where it was danced, on muted tracks: the take itself plays.

    Strips that overlap lie on different tracks. None holds its last pose: a strip that does would lie over all others.
    """
    tracks: list[tuple[Any, int]] = []
    for action, made in steps:
        start = made.start
        if start is None:
            continue
        free = next((place for place, (_, end) in enumerate(tracks) if end <= start), None)
        if free is None:
            track = armature.animation_data.nla_tracks.new()
            track.name, track.mute = f"steps {len(tracks) + 1}", True
            tracks.append((track, 0))
            free = len(tracks) - 1
        track = tracks[free][0]
        strip = track.strips.new(made.name, start, action)
        strip.action_slot = action.slots[0]
        strip.extrapolation, strip.blend_type = "NOTHING", "REPLACE"
        strip.use_auto_blend = False
        tracks[free] = (track, start + made.frames)


def _show(action: Any, picture: Any) -> None:
    """Give an action its preview."""
    preview = action.preview_ensure()
    preview.image_size = picture.shape[:2]
    preview.image_pixels_float.foreach_set(picture.ravel())


def build(file: BlenderFile) -> Any:
    """A fresh file with the dancer at rest; returns her armature."""
    scene = fresh_scene(file.rate_hz, file.frames)
    armature = make_armature(file.bones, scene)
    make_body(file.bones, file.body, armature, scene)
    for name, value in file.properties.items():
        armature[name] = value
    for name, frame in file.markers:
        scene.timeline_markers.new(name, frame=frame)
    return armature


def write(file: BlenderFile, pictures: Callable[[], Pictures], path: Path) -> None:
    """Write the file with the whole take on the dancer, every step as an action of its own, as an asset and as a strip.

    pictures: asked for the previews of the actions once all else is made.
    """
    armature = build(file)
    actions = [add_action(armature, made.name, made.keys) for made in file.actions]
    whole, steps = actions[0], list(zip(actions, file.actions, strict=True))
    for action, made in steps:
        _as_asset(action, made)
    armature.animation_data.action = whole
    armature.animation_data.action_slot = whole.slots[0]
    _strips(armature, steps)
    for action, picture in zip(actions, pictures(), strict=True):
        _show(action, picture)
    # The place holder goes first, or Blender would keep it as a backup beside the file.
    path.unlink(missing_ok=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True, check_existing=False)
