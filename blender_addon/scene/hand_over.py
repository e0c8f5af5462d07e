"""The animator's Blender file: a bare armature with a plain skinned body, never the review's scene."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Scene
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.body.rotations import continuous, quaternions_of
from ..analysis_core.hand_over.body import Body
from ..analysis_core.hand_over.give import HandOver, extras_of, marks_of
from ..analysis_core.hand_over.keys import Curve, Reduced, of_quaternions
from ..analysis_core.hand_over.pieces import Piece
from ..analysis_core.hand_over.previews import previews
from ..analysis_core.hand_over.rig import Rig
from ..analysis_core.take import Floats
from ..analysis_core.wording import hand_over as words
from ..blender_types import of_kind, there
from .armature import Keys
from .quads import mesh_of_quads

#: What the objects, the slots of all actions and the asset catalogue are called.
_NAME = "dancer"
_CATALOGUE = "Dance"
_TAKE = "take"
_LICENCE = "the recording's own"
#: From this weight on a point hangs on one bone alone: Blender keeps weights in single precision.
_WHOLE = 1.0 - 1e-7
#: Blender's number for curves with handles.
_BEZIER = 2


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


def make_armature(rig: Rig, scene: Scene) -> Any:
    """The rig's bones at rest as an armature in a scene."""
    data = bpy.data.armatures.new(_NAME)
    armature = bpy.data.objects.new(_NAME, data)
    scene.collection.objects.link(armature)
    there(bpy.context.view_layer).objects.active = armature
    bpy.ops.object.mode_set(mode="EDIT")
    for index, name in enumerate(rig.names):
        bone = data.edit_bones.new(name)
        frame = Matrix(rig.axes[index].tolist()).to_4x4()
        frame.translation = Vector(rig.heads[index].tolist())
        bone.head, bone.tail = (0.0, 0.0, 0.0), (0.0, float(rig.lengths_m[index]), 0.0)
        bone.matrix = frame
        if rig.parents[index] >= 0:
            bone.parent = data.edit_bones[rig.names[rig.parents[index]]]
    bpy.ops.object.mode_set(mode="OBJECT")
    return armature


def make_body(rig: Rig, body: Body, armature: Any, scene: Scene) -> Any:
    """The plain body, skinned to an armature."""
    mesh = mesh_of_quads(f"{_NAME}.body", body.vertices_m, body.quads)
    skinned = bpy.data.objects.new(f"{_NAME}.body", mesh)
    scene.collection.objects.link(skinned)
    for index, name in enumerate(rig.names):
        group = skinned.vertex_groups.new(name=name)
        own = body.weights[:, index]
        # Most points hang on one bone alone: those go in together.
        group.add(np.flatnonzero(own >= _WHOLE).tolist(), 1.0, "REPLACE")
        for vertex in np.flatnonzero((own > 0) & (own < _WHOLE)).tolist():
            group.add([vertex], float(own[vertex]), "REPLACE")
    of_kind(skinned.modifiers.new("Armature", "ARMATURE"), bpy.types.ArmatureModifier).object = armature
    skinned.parent = armature
    material = bpy.data.materials.new(_NAME)
    material.diffuse_color = (0.6, 0.55, 0.5, 1.0)
    mesh.materials.append(material)
    return skinned


def bone_keys(rig: Rig) -> tuple[Floats, dict[int, Floats]]:
    """Quaternions (F, B, 4) w, x, y, z of every bone in its own rest axes, and places (F, 3) of the bones that move in theirs."""
    turns = continuous(quaternions_of(rig.local_in_bones()))
    return turns, {index: (rig.places(index) - rig.offsets[index]) @ rig.axes[index] for index in rig.moved}


def add_action(
    armature: Any, name: str, rig: Rig, keys: tuple[Floats, dict[int, Floats]], bones: Sequence[int] | None = None
) -> Any:
    """An action with a key on every frame from 0 on; it becomes the armature's own. bones: those with keys, all if None."""
    turns, places = keys
    writer = Keys(compat.curves_of(armature, name), np.arange(len(turns), dtype=np.float64))
    for index in range(len(rig.names)) if bones is None else bones:
        bone = rig.names[index]
        for axis in range(4):
            writer.add(f'pose.bones["{bone}"].rotation_quaternion', axis, turns[:, index, axis], bone)
    for index, own in places.items():
        for axis in range(3):
            writer.add(f'pose.bones["{rig.names[index]}"].location', axis, own[:, axis], rig.names[index])
    return _named_alike(armature.animation_data.action)


def _add_curve(curves: Any, path: str, bone: str, curve: Curve) -> None:
    """F-curves of all components of a curve: handles a third of the way to the next key make the same cubic."""
    frames = curve.frames.astype(np.float64)
    spans = np.diff(frames) / 3.0
    before, after = np.append(spans[:1], spans), np.append(spans, spans[-1:])
    free, bezier = np.zeros(len(frames), dtype=np.int32), np.full(len(frames), _BEZIER, dtype=np.int32)
    for axis in range(curve.values.shape[1]):
        values, slopes = curve.values[:, axis], curve.slopes[:, axis]
        own = compat.new_curve(curves, path, axis, bone)
        points = own.keyframe_points
        points.add(len(frames))
        points.foreach_set("co", np.stack([frames, values], axis=1).ravel())
        points.foreach_set("handle_left", np.stack([frames - before, values - before * slopes], axis=1).ravel())
        points.foreach_set("handle_right", np.stack([frames + after, values + after * slopes], axis=1).ravel())
        points.foreach_set("handle_left_type", free)
        points.foreach_set("handle_right_type", free)
        points.foreach_set("interpolation", bezier)


def add_reduced_action(armature: Any, name: str, rig: Rig, reduced: Reduced, start: int, stop: int) -> Any:
    """An action of few keys over frames start ≤ t < stop of the take, counted from 0; it becomes the armature's own."""
    curves = compat.curves_of(armature, name)
    for index, bone in enumerate(rig.names):
        turn = reduced.turns[index].through(of_quaternions(rig.axes[index].T)).cut(start, stop)
        _add_curve(curves, f'pose.bones["{bone}"].rotation_quaternion', bone, turn)
    for index, curve in reduced.places.items():
        bone, axes = rig.names[index], rig.axes[index]
        place = curve.through(axes.T, -rig.offsets[index] @ axes).cut(start, stop)
        _add_curve(curves, f'pose.bones["{bone}"].location', bone, place)
    return _named_alike(armature.animation_data.action)


def _named_alike(action: Any) -> Any:
    # The same name everywhere: an action put on an armature of another file finds its slot by it.
    action.slots[0].name_display = _NAME
    return action


def _catalogue(folder: str) -> str:
    """The identifier of a catalogue: the same every time."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"in-the-round/{folder}"))


def _folder_of(name: str) -> str:
    """Catalogue of an action, by the kind of its step: Dance/turn, Dance/jump, …"""
    kind = name.rpartition("-")[0]
    return f"{_CATALOGUE}/{kind}" if kind else _CATALOGUE


def _as_asset(action: Any, frames: int, words: str, *, loops: bool = False) -> None:
    action.use_fake_user = True
    action.use_frame_range = True
    action.frame_start, action.frame_end = 0, frames - 1
    action.use_cyclic = loops
    action.asset_mark()
    data = action.asset_data
    data.catalog_id = _catalogue(_folder_of(action.name))
    data.description, data.license = words, _LICENCE
    data.tags.new("dance")


def _strips(armature: Any, pieces: Sequence[tuple[Piece, Any]]) -> None:
    """Every step as a strip where it was danced, on muted tracks: the take itself plays.

    Strips that overlap lie on different tracks. None holds its last pose: a strip that does would lie over all others.
    """
    tracks: list[tuple[Any, int]] = []
    for piece, action in pieces:
        free = next((place for place, (_, end) in enumerate(tracks) if end <= piece.start), None)
        if free is None:
            track = armature.animation_data.nla_tracks.new()
            track.name, track.mute = f"steps {len(tracks) + 1}", True
            tracks.append((track, 0))
            free = len(tracks) - 1
        track = tracks[free][0]
        strip = track.strips.new(piece.name, piece.start, action)
        strip.action_slot = action.slots[0]
        strip.extrapolation, strip.blend_type = "NOTHING", "REPLACE"
        strip.use_auto_blend = False
        tracks[free] = (track, piece.stop)


def _previews(given: HandOver, actions: Sequence[tuple[Any, int]]) -> None:
    """A preview for every action (action, frame of the take that shows it)."""
    pictures = previews(given.rig, given.body, [frame for _, frame in actions])
    for (action, _), picture in zip(actions, pictures, strict=True):
        preview = action.preview_ensure()
        preview.image_size = picture.shape[:2]
        preview.image_pixels_float.foreach_set(picture.ravel())


def _write_catalogue(folder: Path, names: Sequence[str]) -> None:
    """The catalogues of the actions, beside the file; those that other takes put there stay."""
    path = folder / "blender_assets.cats.txt"
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else ["VERSION 1", ""]
    for place in dict.fromkeys([_CATALOGUE, *(_folder_of(name) for name in names)]):
        line = f"{_catalogue(place)}:{place}:{place.replace('/', '-')}"
        if line not in lines:
            lines.append(line)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _markers(scene: Scene, given: HandOver) -> None:
    words = {"filled": ("filled from here", "measured again"), "unusable": ("unusable from here", "usable again")}
    for what, stretches in marks_of(given).items():
        for times in stretches:
            for name, time in zip(words[what], times, strict=True):
                scene.timeline_markers.new(name, frame=min(round(time * given.rig.rate_hz), given.rig.frames - 1))


def build(given: HandOver) -> Any:
    """A fresh file with the dancer at rest; returns her armature."""
    rig = given.rig
    scene = fresh_scene(rig.rate_hz, rig.frames)
    armature = make_armature(rig, scene)
    make_body(rig, given.body, armature, scene)
    for name, value in extras_of(given).items():
        armature[name] = value
    _markers(scene, given)
    return armature


def _actions(given: HandOver, armature: Any) -> list[Any]:
    """The whole take as the armature's own action, then one for every piece."""
    rig, reduced = given.rig, given.reduced
    spans = [(_TAKE, slice(0, rig.frames)), *((piece.name, piece.rows) for piece in given.pieces)]
    if reduced is not None:
        return [add_reduced_action(armature, name, rig, reduced, rows.start, rows.stop) for name, rows in spans]
    turns, places = bone_keys(rig)
    return [
        add_action(armature, name, rig, (turns[rows], {index: values[rows] for index, values in places.items()}))
        for name, rows in spans
    ]


def write_blend(given: HandOver, path: Path) -> None:
    """Write the file with the whole take on the dancer, every step as an action of its own, as an asset and as a strip."""
    rig, armature = given.rig, build(given)
    whole, *actions = _actions(given, armature)
    loops = [add_action(armature, name, loop, bone_keys(loop)) for name, loop in given.loop_clips]
    shown = [(whole, rig.frames // 2)]
    _as_asset(whole, rig.frames, words.WHOLE_TAKE)
    steps = []
    for piece, action in zip(given.pieces, actions, strict=True):
        _as_asset(action, piece.stop - piece.start, words.STEP_OF_TAKE)
        steps.append((piece, action))
        shown.append((action, (piece.start + piece.stop) // 2))
    accepted = [loop for loop in given.loops if loop.accepted]
    for action, loop in zip(loops, accepted, strict=True):
        _as_asset(action, loop.stop - loop.start + 1, words.loops(loop.gap_m), loops=True)
        shown.append((action, (loop.start + loop.stop) // 2))
    armature.animation_data.action = whole
    armature.animation_data.action_slot = whole.slots[0]
    _strips(armature, steps)
    _previews(given, shown)
    _write_catalogue(path.parent, [action.name for action, _ in shown])
    # The place holder goes first, or Blender would keep it as a backup beside the file.
    path.unlink(missing_ok=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True, check_existing=False)
