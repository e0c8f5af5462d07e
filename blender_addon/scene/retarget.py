"""A hand-over brought onto an armature of another build."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..analysis_core.hand_over.bone_names import match
from ..analysis_core.hand_over.for_blender import keys_of
from ..analysis_core.hand_over.give import HandOver
from ..analysis_core.hand_over.retarget import Target, bring_onto
from ..analysis_core.hand_over.rig import Rig
from .hand_over import add_action


def target_of(armature: Any) -> Target:
    """An armature's rest in its own space, which is taken to be Z up and in metres as Blender's armatures are."""
    bones = list(armature.data.bones)
    numbers = {bone.name: index for index, bone in enumerate(bones)}
    return Target(
        tuple(numbers),
        np.array([numbers[bone.parent.name] if bone.parent else -1 for bone in bones]),
        np.array([bone.head_local[:] for bone in bones]),
        np.array([bone.tail_local[:] for bone in bones]),
        np.array([[row[:3] for row in bone.matrix_local[:3]] for bone in bones]),
    )


def bring_onto_armature(given: HandOver, armature: Any, name: str, names: Mapping[str, str] | None = None) -> Rig:
    """Give an armature the motion as an action of its own, a key on every frame from 0 on; returns the rig in motion.

    names: our bone names -> the armature's, None where its names are of a known kind. Raises OptionError when the armature lacks
    bones that no body can do without. Bones without a name in the map keep their rest; what is keyed turns by quaternions.
    """
    target = target_of(armature)
    names = match(target.names, names)
    rig = bring_onto(given.skeleton, target, names)
    moved = [rig.names.index(bone) for bone in names.values()]
    for index in moved:
        armature.pose.bones[rig.names[index]].rotation_mode = "QUATERNION"
    add_action(armature, name, keys_of(rig, moved))
    return rig
