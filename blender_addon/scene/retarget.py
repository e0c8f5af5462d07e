"""A hand-over brought onto an armature of another build."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import bpy
import numpy as np

from ..analysis_core.errors import OptionError
from ..analysis_core.hand_over.bone_names import match
from ..analysis_core.hand_over.for_blender import keys_of
from ..analysis_core.hand_over.give import HandOver
from ..analysis_core.hand_over.retarget import Target, bring_onto
from ..analysis_core.hand_over.rig import Rig
from ..analysis_core.wording import hand_over as words
from ..blender_types import there
from .hand_over import add_action

#: Scales along the axes of an object that differ by no more than this share are one scale.
_ONE_SCALE = 1e-3


def target_of(armature: Any) -> tuple[Target, float]:
    """An armature's rest as its object turns and scales it, from the object's own place, and that scale.

    Raises OptionError when the object is stretched, mirrored or of no size.
    """
    there(bpy.context.view_layer).update()
    _, turn, sizes = armature.matrix_world.decompose()
    scale = float(np.mean(sizes))
    if min(sizes) <= 0.0 or max(sizes) - min(sizes) > _ONE_SCALE * scale:
        raise OptionError(words.stretched(armature.name))
    bones, turned = list(armature.data.bones), np.array(turn.to_matrix())
    numbers = {bone.name: index for index, bone in enumerate(bones)}
    heads = np.array([bone.head_local[:] for bone in bones]) @ (scale * turned.T)
    tails = np.array([bone.tail_local[:] for bone in bones]) @ (scale * turned.T)
    axes = turned @ np.array([[row[:3] for row in bone.matrix_local[:3]] for bone in bones])
    parents = np.array([numbers[bone.parent.name] if bone.parent else -1 for bone in bones])
    return Target(tuple(numbers), parents, heads, tails, axes), scale


def bring_onto_armature(given: HandOver, armature: Any, name: str, names: Mapping[str, str] | None = None) -> Rig:
    """Give an armature the motion as an action of its own, a key on every frame from 0 on; returns the rig in motion.

    Limbs point in the world as they were danced, however the armature's object is turned, and the dance goes about the object's
    own place. names: our bone names -> the armature's, None where its names are of a known kind. Bones without a name in the map
    keep their rest; what is keyed turns by quaternions. Raises OptionError when the armature lacks bones that no body can do
    without, or when its object is stretched.
    """
    target, scale = target_of(armature)
    names = match(target.names, names)
    rig = bring_onto(given.skeleton, target, names)
    moved = [rig.names.index(bone) for bone in names.values()]
    for index in moved:
        armature.pose.bones[rig.names[index]].rotation_mode = "QUATERNION"
    # Turns are the same in every space; places are keyed in the object's own.
    keys = [replace(item, values=item.values / scale) if item.path == "location" else item for item in keys_of(rig, moved)]
    add_action(armature, name, keys)
    return rig
