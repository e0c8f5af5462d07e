"""Files for animators that Blender writes: a bare armature with a plain skinned body, never the review's scene."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.body.movement import SEGMENTS
from ..analysis_core.figure.rotations import continuous, quaternions_of
from ..analysis_core.hand_over.body import Body
from ..analysis_core.hand_over.pieces import Piece
from ..analysis_core.hand_over.skeleton import PARENT_OF, RestSkeleton, Skeleton
from ..analysis_core.take import Floats
from .armature import Keys

#: What the objects and the asset catalogue are called.
_NAME = "dancer"
_CATALOGUE = "Dance"
_TAKE = "take"


def _fresh_scene(rate_hz: float, frames: int) -> Any:
    """An empty scene whose clock is exactly the take's."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    scene.world = None
    whole = max(1, round(rate_hz))
    scene.render.fps, scene.render.fps_base = whole, whole / rate_hz
    scene.frame_start, scene.frame_end = 0, frames - 1
    return scene


def _armature(rest: RestSkeleton, scene: Any) -> Any:
    data = bpy.data.armatures.new(_NAME)
    armature = bpy.data.objects.new(_NAME, data)
    scene.collection.objects.link(armature)
    bpy.context.view_layer.objects.active = armature
    bpy.ops.object.mode_set(mode="EDIT")
    for index, name in enumerate(SEGMENTS):
        bone = data.edit_bones.new(name)
        frame = Matrix(rest.bones[index].tolist()).to_4x4()
        frame.translation = Vector(rest.heads[index].tolist())
        bone.head, bone.tail = (0.0, 0.0, 0.0), (0.0, float(rest.lengths_m[index]), 0.0)
        bone.matrix = frame
    for index, name in enumerate(SEGMENTS):
        if PARENT_OF[index] >= 0:
            data.edit_bones[name].parent = data.edit_bones[SEGMENTS[PARENT_OF[index]]]
    bpy.ops.object.mode_set(mode="OBJECT")
    return armature


def _body(body: Body, armature: Any, scene: Any) -> Any:
    mesh = bpy.data.meshes.new(f"{_NAME}.body")
    mesh.from_pydata(body.vertices_m.tolist(), [], body.quads.tolist())
    mesh.polygons.foreach_set("use_smooth", np.ones(len(body.quads), dtype=bool))
    skinned = bpy.data.objects.new(f"{_NAME}.body", mesh)
    scene.collection.objects.link(skinned)
    for index, name in enumerate(SEGMENTS):
        group = skinned.vertex_groups.new(name=name)
        for vertex in np.flatnonzero(body.weights[:, index] > 0).tolist():
            group.add([vertex], float(body.weights[vertex, index]), "REPLACE")
    skinned.modifiers.new("Armature", "ARMATURE").object = armature
    skinned.parent = armature
    material = bpy.data.materials.new(_NAME)
    material.diffuse_color = (0.6, 0.55, 0.5, 1.0)
    mesh.materials.append(material)
    return skinned


def bone_keys(skeleton: Skeleton) -> tuple[Floats, Floats]:
    """Quaternions (F, S, 4) w, x, y, z of every bone in its own rest axes, and the pelvis' place (F, 3) in its bone's axes."""
    turned, bones = skeleton.turned, skeleton.rest.bones
    local = np.empty_like(turned)
    for index, parent in enumerate(PARENT_OF):
        above = np.eye(3) if parent < 0 else np.swapaxes(turned[:, parent], -1, -2)
        local[:, index] = bones[index].T @ (above @ turned[:, index]) @ bones[index]
    root = SEGMENTS.index("pelvis")
    places = (skeleton.pelvis_m - skeleton.rest.heads[root]) @ bones[root]
    return continuous(quaternions_of(local)), places


def _action(armature: Any, name: str, turns: Floats, places: Floats) -> Any:
    curves = compat.curves_of(armature, name)
    keys = Keys(curves, np.arange(len(turns), dtype=np.float64))
    for index, bone in enumerate(SEGMENTS):
        for axis in range(4):
            keys.add(f'pose.bones["{bone}"].rotation_quaternion', axis, turns[:, index, axis], bone)
    for axis in range(3):
        keys.add('pose.bones["pelvis"].location', axis, places[:, axis], "pelvis")
    return armature.animation_data.action


def _as_asset(action: Any, frames: int, words: str) -> None:
    action.use_fake_user = True
    action.use_frame_range = True
    action.frame_start, action.frame_end = 0, frames - 1
    action.asset_mark()
    action.asset_data.catalog_id = str(uuid.uuid5(uuid.NAMESPACE_URL, f"in-the-round/{_CATALOGUE}"))
    action.asset_data.description = words


def _write_fbx(path: Path) -> None:
    bpy.ops.export_scene.fbx(
        filepath=str(path), object_types={"ARMATURE", "MESH"}, add_leaf_bones=False, bake_anim_simplify_factor=0.0,
        bake_anim_use_nla_strips=False, bake_anim_use_all_actions=False, apply_scale_options="FBX_SCALE_ALL",
    )  # fmt: skip


def _write_usd(path: Path) -> None:
    bpy.ops.wm.usd_export(
        filepath=str(path), export_animation=True, convert_orientation=True, export_global_up_selection="Y",
        export_global_forward_selection="NEGATIVE_Z", convert_world_material=False,
    )  # fmt: skip


def _write_blend(path: Path, armature: Any, skeleton: Skeleton, pieces: Sequence[Piece], keys: tuple[Floats, Floats]) -> None:
    """The file with the whole take on the dancer, every piece as an action of its own and as a strip on one track."""
    whole = armature.animation_data.action
    _as_asset(whole, skeleton.frames, "The whole take")
    turns, places = keys
    actions = [(piece, _action(armature, piece.name, turns[piece.rows], places[piece.rows])) for piece in pieces]
    for piece, action in actions:
        _as_asset(action, piece.stop - piece.start, "A step of the take")
    armature.animation_data.action = whole
    armature.animation_data.action_slot = whole.slots[0]
    (path.parent / "blender_assets.cats.txt").write_text(
        f"VERSION 1\n\n{uuid.uuid5(uuid.NAMESPACE_URL, f'in-the-round/{_CATALOGUE}')}:{_CATALOGUE}:{_CATALOGUE}\n",
        encoding="utf-8",
    )
    # The place holder goes first, or Blender would keep it as a backup beside the file.
    path.unlink(missing_ok=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True, check_existing=False)


def write_files(
    skeleton: Skeleton, body: Body, pieces: Sequence[Piece], unusable_s: Sequence[Sequence[float]], paths: dict[str, Path]
) -> None:
    """Write FBX, USD and .blend (paths by format) from one bare scene: one armature, one skinned body, one clip.

    Unusable stretches are timeline markers in pairs. USDZ is packed from the USD by the caller.
    """
    scene = _fresh_scene(skeleton.rate_hz, skeleton.frames)
    armature = _armature(skeleton.rest, scene)
    _body(body, armature, scene)
    keys = bone_keys(skeleton)
    _action(armature, _TAKE, *keys)
    for start, end in unusable_s:
        scene.timeline_markers.new("unusable from here", frame=round(start * skeleton.rate_hz))
        scene.timeline_markers.new("usable again", frame=round(end * skeleton.rate_hz))
    if "fbx" in paths:
        _write_fbx(paths["fbx"])
    if "usd" in paths:
        _write_usd(paths["usd"])
    if "blend" in paths:
        _write_blend(paths["blend"], armature, skeleton, pieces, keys)
