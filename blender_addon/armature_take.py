"""An armature that is already in the Blender file as a take: the pose of every frame, in the laboratory."""

from __future__ import annotations

import hashlib
from collections.abc import Generator
from pathlib import Path
from typing import Any

import numpy as np
from bpy.types import Scene

from .analysis_core.errors import TakeError
from .analysis_core.take import Floats, Inference, Skeleton, Take
from .analysis_core.wording import numbers, reading

#: Leaf bones count as equally long within this share, and as made up when so many are; a left and a right one may well be equal.
_SAME_LENGTH = 1e-4
_TOO_MANY_ALIKE = 3


def _matrices(bones: Any, count: int) -> Floats:
    """Matrices (N, 4, 4) of pose bones in the armature's own space."""
    flat = np.empty(count * 16, dtype=np.float32)
    bones.foreach_get("matrix", flat)
    # Blender stores matrices by columns.
    return flat.reshape(count, 4, 4).transpose(0, 2, 1).astype(np.float64)


def _turns(matrices: Floats) -> Floats:
    """Rotations (..., 3, 3) of matrices (..., 4, 4), without scale and shear (nearest rotation by SVD)."""
    left, _, right = np.linalg.svd(matrices[..., :3, :3])
    turn = left @ right
    mirrored = np.linalg.det(turn) < 0
    left[mirrored, :, -1] *= -1
    return np.asarray(left @ right, dtype=np.float64)


def _rest(bones: Any) -> tuple[Floats, Floats]:
    """Rest matrices (N, 4, 4) and lengths (N,) of bones, in the armature's own space."""
    return np.array([bone.matrix_local for bone in bones], dtype=np.float64), np.array([bone.length for bone in bones])


def _true_ends(bones: list[Any], lengths: Floats) -> list[int]:
    """Bones whose tails are real ends of the body: importers give bones without an end one and the same length."""
    leaves = [place for place, bone in enumerate(bones) if not bone.children]
    own = lengths[leaves]
    each, other = own[:, None], own[None]
    alike = np.abs(each - other) < _SAME_LENGTH * own
    return [place for place, row in zip(leaves, alike, strict=True) if row.sum() < _TOO_MANY_ALIKE]


def frames_of(armature: Any, scene: Scene) -> range:
    """The frames that the armature's action covers; those of the scene when it has none."""
    action = armature.animation_data.action if armature.animation_data else None
    first, last = action.frame_range if action else (scene.frame_start, scene.frame_end)
    return range(round(first), round(last) + 1)


def take_of(armature: Any, scene: Scene, depsgraph: Any) -> Take:
    """The armature's motion as a skeleton take, at once; see ``sampling``."""
    steps = sampling(armature, scene, depsgraph)
    while True:
        try:
            next(steps)
        except StopIteration as ended:
            take: Take = ended.value
            return take


def sampling(armature: Any, scene: Scene, depsgraph: Any) -> Generator[float, None, Take]:
    """Step through the armature's motion; yield how far it is (0 to 1) after every frame, return it as a skeleton take, in
    metres, Z up. The scene's frame is as before afterwards, also when it is closed on the way.

    Joints are the heads of the bones, and, where it is a real end, the tail of a bone without children as ``<bone>_End``.
    Object scale, parents
    and the scene's unit scale are respected. Raises TakeError when there is no motion.
    """
    bones = list(armature.data.bones)
    frames = frames_of(armature, scene)
    if not bones or len(frames) < 2:
        raise TakeError(f"{armature.name} does not move: choose an armature that carries an action.")
    order = {bone.name: place for place, bone in enumerate(bones)}
    count = len(bones)
    posed = np.empty((len(frames), count, 4, 4))
    world = np.empty((len(frames), 4, 4))
    # Pose bones may be stored in another order than bones.
    places = np.array([order[bone.name] for bone in armature.pose.bones])
    before = scene.frame_current
    try:
        for number, frame in enumerate(frames):
            scene.frame_set(frame)
            evaluated = armature.evaluated_get(depsgraph)
            posed[number, places] = _matrices(evaluated.pose.bones, count)
            world[number] = np.array(evaluated.matrix_world)
            yield (number + 1) / len(frames)
    finally:
        scene.frame_set(before)
    return _as_take(armature, scene, posed, world, frames[0])


def _as_take(armature: Any, scene: Scene, posed: Floats, world: Floats, first_frame: int) -> Take:
    """The skeleton take of bones posed (F, B, 4, 4) in their object, whose own places are world (F, 4, 4)."""
    bones = list(armature.data.bones)
    order = {bone.name: place for place, bone in enumerate(bones)}
    rest, lengths = _rest(bones)
    ends = _true_ends(bones, lengths)
    metres = float(scene.unit_settings.scale_length)
    posed = world[:, None] @ posed
    rest = world[0] @ rest
    tails = np.zeros((len(bones), 4, 1))
    tails[:, 1, 0], tails[:, 3, 0] = lengths, 1.0
    heads, tips = posed[..., :3, 3], (posed[:, ends] @ tails[ends])[..., :3, 0]
    rest_tips = (rest[ends] @ tails[ends])[..., :3, 0]
    positions = np.concatenate([heads, tips], axis=1) * metres
    turns = _turns(posed) @ np.swapaxes(_turns(rest), -1, -2)
    parents = [order[bone.parent.name] if bone.parent else -1 for bone in bones] + ends
    return Take(
        file=Path(armature.name),
        sha256=hashlib.sha256(np.ascontiguousarray(positions).tobytes()).hexdigest(),
        kind="skeleton",
        rate_hz=scene.render.fps / scene.render.fps_base,
        first_frame=first_frame,
        labels=tuple([bone.name for bone in bones] + [f"{bones[place].name}_End" for place in ends]),
        positions_m=positions,
        skeleton=Skeleton(
            np.array(parents, dtype=np.int64),
            np.concatenate([rest[:, :3, 3], rest_tips]) * metres,
            np.concatenate([turns, turns[:, ends]], axis=1),
        ),
        inferred=(
            Inference("up axis", "z", reading.BLENDERS_OWN),
            Inference("unit", numbers.number(metres, "m"), reading.UNIT_OF_SCENE),
            Inference("frame rate", numbers.hertz(scene.render.fps / scene.render.fps_base), reading.RATE_OF_SCENE),
        ),
    )
