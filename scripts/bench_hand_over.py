"""The hand-over against Blender's own bare exporters for the same action, side by side; and one format from the command line.

    .venv/bin/python scripts/bench_hand_over.py [SECONDS]

The demo dance repeated to SECONDS (default 60) at 240 Hz: all our files from a finished skeleton (keys of the .blend included,
its previews not), then Blender's exporters of BVH, FBX, glTF and USD and its saving, from the bare armature with the same
action. Seconds of the processor, not of the clock. Target: at most 0.6 (proposed by the project).
"""

from __future__ import annotations

import json
import os
import pickle
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]


def long_hand_over(seconds: float) -> Any:
    """The demo dance, over and over: what is written matters here, not what is danced."""
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.hand_over.give import hand_over
    from in_the_round.analysis_core.hand_over.rig import rig_of
    from in_the_round.analysis_core.hand_over.wishes import Wishes
    from in_the_round.analysis_core.settings import Settings

    demo = ROOT / "demo_data"
    given = hand_over(analyse(demo / "careful.c3d", Settings(static=demo / "static.c3d")), Wishes())
    own = given.skeleton
    rows = np.arange(round(seconds * own.rate_hz)) % own.frames
    parts = {name: getattr(own, name)[rows] for name in ("turned", "pelvis_m", "known", "on_floor")}
    whole = replace(own, **parts)
    return replace(given, skeleton=whole, rig=rig_of(whole, "pelvis"), pieces=(), loops=(), loop_clips=())


def _timed(work: Any) -> float:
    begin = time.process_time()
    work()
    return time.process_time() - begin


def in_blender(prepared: str, folder: str) -> None:
    """Time the .blend of ours, then Blender's own exporters; runs in a process of its own and prints JSON."""
    import bpy
    from in_the_round.analysis_core.hand_over.for_blender import blender_file
    from in_the_round.scene.hand_over import add_action, build

    given, out = pickle.loads(Path(prepared).read_bytes()), Path(folder)
    found: dict[str, float] = {}

    def ours() -> None:
        file = blender_file(given)
        add_action(build(file), "take", file.actions[0].keys)
        bpy.ops.wm.save_as_mainfile(filepath=str(out / "ours.blend"), compress=True)

    found["ours blend"] = _timed(ours)
    armature = next(item for item in bpy.data.objects if item.type == "ARMATURE")
    for item in bpy.data.objects:
        item.select_set(True)
    bpy.context.view_layer.objects.active = armature
    end = given.rig.frames - 1
    simple = {"add_leaf_bones": False, "bake_anim_simplify_factor": 0.0, "bake_anim_use_nla_strips": False,
              "bake_anim_use_all_actions": False}  # fmt: skip
    exporters = {
        "bvh": lambda: bpy.ops.export_anim.bvh(filepath=str(out / "b.bvh"), frame_start=0, frame_end=end),
        "fbx": lambda: bpy.ops.export_scene.fbx(filepath=str(out / "b.fbx"), **simple),
        "glb": lambda: bpy.ops.export_scene.gltf(filepath=str(out / "b.glb"), export_optimize_animation_size=False),
        "usd": lambda: bpy.ops.wm.usd_export(filepath=str(out / "b.usdc"), export_animation=True),
        "usdz": lambda: bpy.ops.wm.usd_export(filepath=str(out / "b.usdz"), export_animation=True),
        "blend": lambda: bpy.ops.wm.save_as_mainfile(filepath=str(out / "b.blend"), compress=True),
    }
    for name, export in exporters.items():
        found[f"Blender {name}"] = _timed(export)
    Path(out, "found.json").write_text(json.dumps(found), encoding="utf-8")
    os._exit(0)


def main() -> None:
    """Print both columns and their ratio."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    from in_the_round.analysis_core.hand_over.files import paths_of, write_own_files

    given = long_hand_over(seconds)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "prepared").write_bytes(pickle.dumps(given))
        ours = {}
        for name in ("bvh", "fbx", "glb", "usd", "usdz"):
            paths = paths_of(folder / name, "ours", (name,))
            ours[name] = _timed(lambda paths=paths: write_own_files(given, paths, lambda words, share: None, overwrite=True))
        command = [sys.executable, __file__, "--in-blender", str(folder / "prepared"), place]
        subprocess.run(command, check=True, capture_output=True)
        found = json.loads((folder / "found.json").read_text(encoding="utf-8"))
    # A folder with all formats packs its USDZ from the USD that is written anyway.
    ours["usdz"] = max(0.0, ours["usdz"] - ours["usd"])
    ours["blend"] = found["ours blend"]
    sys.stdout.write(f"{given.rig.frames} frames at 240 Hz, {len(given.rig.names)} bones; seconds of the processor\n")
    sys.stdout.write("format   ours   Blender   ratio\n")
    theirs = {name: found[f"Blender {name}"] for name in ours}
    for name in ours:
        sys.stdout.write(f"{name:6} {ours[name]:6.2f} {theirs[name]:9.2f} {ours[name] / theirs[name]:7.2f}\n")
    total, other = sum(ours.values()), sum(theirs.values())
    sys.stdout.write(f"all    {total:6.2f} {other:9.2f} {total / other:7.2f}\n")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--in-blender"]:
        in_blender(*sys.argv[2:4])
    main()
