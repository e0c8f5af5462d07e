"""The dancer's armature, keyed."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from bpy.types import Collection
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.body.anatomy import NEXT
from ..analysis_core.body.movement import SEGMENTS
from ..analysis_core.figure.motion import Motion, bone_axes
from ..analysis_core.figure.proportions import PARENTS, Rest
from ..blender_types import there
from .curves import Keys

#: Segments whose axis does not point at the next one: their bones have a length of their own.
_POINTS_ELSEWHERE = ("clavicle", "foot")
_USUAL_LENGTH = 0.06


def _length(rest: Rest, name: str) -> float:
    base, _, side = name.partition(".")
    after = None if base in _POINTS_ELSEWHERE else NEXT.get(base)
    suffix = f".{side}" if side else ""
    end = rest.ends.get(name) if after is None else rest.head_of(after + suffix)
    found = _USUAL_LENGTH if end is None else float(np.linalg.norm(end - rest.head_of(name)))
    return max(found, 0.02)


def _edit_bones(data: Any, rest: Rest) -> None:
    axes = bone_axes(rest)
    bones = {}
    for index, name in enumerate(SEGMENTS):
        bone = data.edit_bones.new(name)
        frame = Matrix(axes[index].tolist()).to_4x4()
        frame.translation = Vector(rest.heads[index].tolist())
        bone.head, bone.tail = (0.0, 0.0, 0.0), (0.0, _length(rest, name), 0.0)
        bone.matrix = frame
        bones[name] = bone
    for name, parent in PARENTS.items():
        bones[name].parent = bones[parent]


def make_armature(name: str, rest: Rest, collection: Collection) -> bpy.types.Object:
    """An armature object with one bone for each segment of SEGMENTS, at rest, linked to a collection."""
    data = bpy.data.armatures.new(name)
    data.display_type = "WIRE"
    armature = bpy.data.objects.new(name, data)
    layer, looked_at = there(bpy.context.view_layer), there(bpy.context.scene)
    before = layer.objects.active
    # Bones can be added in edit mode only, and only in the scene that is looked at.
    if before is not None and before.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    looked_at.collection.objects.link(armature)
    layer.objects.active = armature
    bpy.ops.object.mode_set(mode="EDIT")
    _edit_bones(data, rest)
    bpy.ops.object.mode_set(mode="OBJECT")
    layer.objects.active = before
    looked_at.collection.objects.unlink(armature)
    collection.objects.link(armature)
    armature.show_in_front = False
    return armature


def animate(armature: bpy.types.Object, rest: Rest, motion: Motion, frame_start: int) -> None:
    """Key every bone; row i of the motion lies on frame frame_start + i."""
    frames = frame_start + np.arange(len(motion.known), dtype=np.float64)
    keys = Keys(compat.curves_of(armature, armature.name), frames)
    for index, name in enumerate(SEGMENTS):
        path = f'pose.bones["{name}"]'
        for axis in range(4):
            keys.add(f"{path}.rotation_quaternion", axis, motion.quaternions[:, index, axis], name)
    # Only the pelvis changes its place; its bone's own axes count.
    axes = bone_axes(rest)[SEGMENTS.index("pelvis")]
    for axis, places in enumerate((motion.shift_m @ axes).T):
        keys.add('pose.bones["pelvis"].location', axis, places, "pelvis")
