"""The animator's Blender file: a bare armature with a plain skinned body, never the review's scene."""

from __future__ import annotations

import tempfile
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Scene
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from .. import compat
from ..analysis_core.body.rotations import continuous, quaternions_of
from ..analysis_core.hand_over.body import Body, body_of
from ..analysis_core.hand_over.give import HandOver, body_for, extras_of, marks_of
from ..analysis_core.hand_over.keys import Curve, Reduced, of_quaternions
from ..analysis_core.hand_over.pieces import Piece
from ..analysis_core.hand_over.rig import Rig
from ..analysis_core.take import Floats
from ..analysis_core.wording import numbers
from ..analysis_core.write.cut_short import require_whole
from ..blender_types import of_kind, there
from .armature import Keys
from .pixels import pixels_of
from .quads import mesh_of_quads
from .stage import plain_colours

#: What the objects, the slots of all actions and the asset catalogue are called.
_NAME = "dancer"
_CATALOGUE = "Dance"
_TAKE = "take"
_LICENCE = "the recording's own"
#: Blender's number for curves with handles.
_BEZIER = 2
#: Side of a preview, pixels.
_PREVIEW_PX = 128
#: Side of what one body has to itself in the picture that previews are cut from, pixels: no arm reaches into the next.
_CELL_PX = 144
#: Spacing of the points of the body in previews, against the review's figure: a preview is small.
_PREVIEW_COARSENESS = 3.0
#: So many heights of the dancer are in a preview.
_PREVIEW_HEIGHTS = 1.35
#: From where previews look at the dancer, metres: from before her and a little from the side and from above.
_LOOKS_FROM = Vector((1.5, -5.0, 0.6))


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
        for vertex in np.flatnonzero(body.weights[:, index] > 0).tolist():
            group.add([vertex], float(body.weights[vertex, index]), "REPLACE")
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


def _posed(rig: Rig, body: Body, frame: int) -> Floats:
    """The body's points (V, 3) in one frame of the take, the middle of its joints at the origin."""
    turned, heads = rig.turned[frame], rig.origins_m[frame]
    shift = heads - heads.mean(axis=0) - np.einsum("bij,bj->bi", turned, rig.heads)
    # Each point goes with the weighted mean of what the bones do: one matrix (3, 4) for each.
    mixed = body.weights @ np.concatenate([turned.reshape(-1, 9), shift], axis=1)
    points: Floats = np.einsum("vij,vj->vi", mixed[:, :9].reshape(-1, 3, 3), body.vertices_m) + mixed[:, 9:]
    return points


def _preview_camera(scene: Scene, width_m: float) -> Any:
    """A camera that looks at the origin from before the dancer, without perspective."""
    lens = bpy.data.cameras.new("preview")
    camera = bpy.data.objects.new("preview", lens)
    lens.type, lens.ortho_scale = "ORTHO", width_m
    camera.location = _LOOKS_FROM
    camera.rotation_euler = (-_LOOKS_FROM).to_track_quat("-Z", "Y").to_euler()
    scene.collection.objects.link(camera)
    scene.camera = camera
    return camera


def _sheet(rig: Rig, body: Body, frames: Sequence[int], camera: Any, cell_m: float, columns: int) -> Any:
    """A mesh of one still body for each frame, side by side before a camera, row by row from above."""
    across, up, _ = np.array(camera.rotation_euler.to_matrix()).T
    place = np.arange(len(frames))
    right, down = place % columns, place // columns
    middle = 0.5 * (columns - 1)
    moved = cell_m * ((right - middle)[:, None] * across - (down - middle)[:, None] * up)
    points = np.concatenate([_posed(rig, body, frame) + shift for frame, shift in zip(frames, moved, strict=True)])
    quads = (body.quads + len(body.vertices_m) * place[:, None, None]).reshape(-1, 4)
    return mesh_of_quads("previews", points, quads)


def _picture(scene: Scene, width_px: int) -> NDArray[np.float32]:
    """A square picture of a scene (height, width, 4), its first row the uppermost."""
    scene.render.resolution_x = scene.render.resolution_y = width_px
    with tempfile.TemporaryDirectory() as folder:
        to = Path(folder) / "previews.png"
        scene.render.filepath = str(to)
        bpy.ops.render.render(write_still=True)
        require_whole(to)
        picture = bpy.data.images.load(str(to), check_existing=False)
        rows = pixels_of(picture)[::-1]
        bpy.data.images.remove(picture)
    scene.render.filepath = ""
    return rows


def _previews(scene: Scene, dancer: Any, given: HandOver, actions: Sequence[tuple[Any, int]]) -> None:
    """A preview for every action (action, frame of the take that shows it): all in one picture, which is cut up.

    A picture for each would take most of the time of the whole file.
    """
    # Cycles would take a minute for these: without the graphics libraries there are no previews, and the file is whole.
    if not compat.can_draw():
        return
    compat.choose_engine(scene)
    scene.render.film_transparent = True
    display = there(scene.display)
    display.render_aa = "FXAA"
    there(display.shading).light = "STUDIO"
    plain_colours(scene)
    scene.render.image_settings.file_format = "PNG"
    rig = given.rig
    body = body_for(body_of(given.figure, given.skeleton.rest, coarseness=_PREVIEW_COARSENESS), rig)
    columns = int(np.ceil(np.sqrt(len(actions))))
    cell_m = _PREVIEW_HEIGHTS * float(rig.tails[:, 2].max()) * _CELL_PX / _PREVIEW_PX
    camera = _preview_camera(scene, columns * cell_m)
    mesh = _sheet(rig, body, [frame for _, frame in actions], camera, cell_m, columns)
    mesh.materials.append(dancer.data.materials[0])
    scene.collection.objects.link(bpy.data.objects.new("previews", mesh))
    dancer.hide_render = True
    rows, edge = _picture(scene, columns * _CELL_PX), (_CELL_PX - _PREVIEW_PX) // 2
    dancer.hide_render = False
    for number, (action, _) in enumerate(actions):
        top, left = (_CELL_PX * place + edge for place in divmod(number, columns))
        own = rows[top : top + _PREVIEW_PX, left : left + _PREVIEW_PX]
        preview = action.preview_ensure()
        preview.image_size = (_PREVIEW_PX, _PREVIEW_PX)
        preview.image_pixels_float.foreach_set(np.ascontiguousarray(own[::-1]).ravel())
    bpy.data.meshes.remove(mesh)
    bpy.data.cameras.remove(camera.data)


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


def build(given: HandOver) -> tuple[Any, Any, Any]:
    """A fresh file with the dancer at rest; returns scene, armature and the body on it."""
    rig = given.rig
    scene = fresh_scene(rig.rate_hz, rig.frames)
    armature = make_armature(rig, scene)
    dancer = make_body(rig, given.body, armature, scene)
    for name, value in extras_of(given).items():
        armature[name] = value
    _markers(scene, given)
    return scene, armature, dancer


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
    rig, (scene, armature, dancer) = given.rig, build(given)
    whole, *actions = _actions(given, armature)
    loops = [add_action(armature, name, loop, bone_keys(loop)) for name, loop in given.loop_clips]
    shown = [(whole, rig.frames // 2)]
    _as_asset(whole, rig.frames, "The whole take")
    steps = []
    for piece, action in zip(given.pieces, actions, strict=True):
        _as_asset(action, piece.stop - piece.start, "A step of the take")
        steps.append((piece, action))
        shown.append((action, (piece.start + piece.stop) // 2))
    accepted = [loop for loop in given.loops if loop.accepted]
    for action, loop in zip(loops, accepted, strict=True):
        _as_asset(action, loop.stop - loop.start + 1, f"Loops: its ends were {numbers.millimetres(loop.gap_m)} apart", loops=True)
        shown.append((action, (loop.start + loop.stop) // 2))
    armature.animation_data.action = whole
    armature.animation_data.action_slot = whole.slots[0]
    _strips(armature, steps)
    _previews(scene, dancer, given, shown)
    _write_catalogue(path.parent, [action.name for action, _ in shown])
    # The place holder goes first, or Blender would keep it as a backup beside the file.
    path.unlink(missing_ok=True)
    bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True, check_existing=False)
