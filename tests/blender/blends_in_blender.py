"""Writes and reads again the Blender files of hand-overs. By itself: OUT.json PREPARED…

Each prepared hand-over becomes PREPARED.blend; OUT says what is in it, as Blender tells it after opening it.
"""

from __future__ import annotations

import json
import os
import pickle
import sys
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from in_the_round.analysis_core.hand_over.catalogue import write_catalogue
from in_the_round.analysis_core.hand_over.for_blender import action_names, blender_file, pictures
from in_the_round.scene.hand_over import fresh_scene, write

RATES = (240.0, 119.88, 59.94, 30.0, 23.976, 330.0)


def _action(action: Any) -> dict[str, Any]:
    preview = action.preview
    pixels = np.zeros(0)
    if preview is not None:
        pixels = np.empty(preview.image_size[0] * preview.image_size[1] * 4, dtype=np.float32)
        preview.image_pixels_float.foreach_get(pixels)
    return {
        "asset": action.asset_data is not None,
        "catalogue": action.asset_data.catalog_id if action.asset_data else None,
        "range": list(action.frame_range),
        "cyclic": action.use_cyclic,
        "slots": [slot.name_display for slot in action.slots],
        "shown": float((pixels.reshape(-1, 4)[:, 3] > 0.5).mean()) if pixels.size else 0.0,
        "flips": _flips(action),
        "keys": sum(
            len(curve.keyframe_points)
            for layer in action.layers
            for strip in layer.strips
            for curve in strip.channelbag(action.slots[0]).fcurves
        ),
    }


def _flips(action: Any) -> int:
    """How often a bone's quaternion changes its sign from one key to the next."""
    curves: dict[str, list[Any]] = {}
    for curve in action.layers[0].strips[0].channelbag(action.slots[0]).fcurves:
        if curve.data_path.endswith("rotation_quaternion"):
            values = np.empty(2 * len(curve.keyframe_points), dtype=np.float32)
            curve.keyframe_points.foreach_get("co", values)
            curves.setdefault(curve.data_path, []).append(values[1::2])
    return sum(int(((one[:, 1:] * one[:, :-1]).sum(axis=0) <= 0.0).sum()) for one in map(np.array, curves.values()))


def _told(path: Path, frames: int) -> dict[str, Any]:
    bpy.ops.wm.open_mainfile(filepath=str(path))
    scene = bpy.context.scene
    armature = next(item for item in bpy.data.objects if item.type == "ARMATURE")
    heads = []
    for frame in range(0, frames, 40):
        scene.frame_set(frame)
        world = armature.evaluated_get(bpy.context.evaluated_depsgraph_get())
        heads.append([list(world.matrix_world @ bone.head) for bone in world.pose.bones])
    return {
        "actions": {action.name: _action(action) for action in bpy.data.actions},
        "own": armature.animation_data.action.name,
        "tracks": [
            [(strip.name, strip.frame_start, strip.extrapolation, track.mute) for strip in track.strips]
            for track in armature.animation_data.nla_tracks
        ],
        "markers": [(marker.name, marker.frame) for marker in scene.timeline_markers],
        "properties": {name: value for name, value in armature.items() if isinstance(value, str)},
        "names": [bone.name for bone in armature.pose.bones],
        "rate_hz": scene.render.fps / scene.render.fps_base,
        "heads": heads,
    }


def _clocks(path: Path) -> list[tuple[float, float]]:
    """Rates asked for, and what a file that was saved with them says when it is opened: 1 s is exactly so many frames."""
    clocks = []
    for rate_hz in RATES:
        fresh_scene(rate_hz, 10)
        bpy.ops.wm.save_as_mainfile(filepath=str(path))
        bpy.ops.wm.open_mainfile(filepath=str(path))
        render = bpy.context.scene.render
        clocks.append((rate_hz, render.fps / render.fps_base))
    return clocks


def main() -> None:
    """Write all, read all."""
    out, *prepared = sys.argv[1:]
    told = []
    for name in prepared:
        given, path = pickle.loads(Path(name).read_bytes()), Path(name).with_suffix(".blend")
        write(blender_file(given), lambda given=given: pictures(given), path)
        write_catalogue(path.parent, action_names(given))
        told.append(_told(path, given.rig.frames))
    told[0]["clocks"] = _clocks(Path(out).with_name("clock.blend"))
    Path(out).write_text(json.dumps(told), encoding="utf-8")


main()
sys.stdout.flush()
os._exit(0)
