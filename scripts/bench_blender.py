"""How fast Blender's side is, beside what Blender itself needs for the same motion."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from bench_common import SETTINGS, TAKE, Row


def _in_a_process(what: str, *arguments: str) -> dict[str, float]:
    """Run one function of this file in a process of its own; Blender's module is not taken apart cleanly."""
    words = [sys.executable, __file__, what, *arguments]
    outcome = subprocess.run(words, capture_output=True, text=True, check=False)
    lines = [line for line in outcome.stdout.splitlines() if line.startswith("{")]
    if not lines:
        raise RuntimeError((outcome.stderr.strip().splitlines() or [f"ended with code {outcome.returncode}"])[-1])
    answer: dict[str, float] = json.loads(lines[-1])
    return answer


def _a_minute_of_bvh(path: Path, bones: int = 24, frames: int = 14_400, rate_hz: float = 240.0) -> None:
    """A chain of bones that sways, as a BVH file."""
    import numpy as np

    channels = "Zrotation Xrotation Yrotation"
    lines = ["HIERARCHY", "ROOT bone0", "{", "OFFSET 0 0 0", f"CHANNELS 6 Xposition Yposition Zposition {channels}"]
    for bone in range(1, bones):
        lines += [f"JOINT bone{bone}", "{", "OFFSET 0 5 0", f"CHANNELS 3 {channels}"]
    lines += ["End Site", "{", "OFFSET 0 5 0", "}", *["}"] * bones]
    lines += ["MOTION", f"Frames: {frames}", f"Frame Time: {1.0 / rate_hz:.9f}"]
    time_s = np.arange(frames)[:, None] / rate_hz
    values = 5.0 * np.sin(time_s + 0.3 * np.arange(3 + 3 * bones))
    lines += [" ".join(f"{value:.5f}" for value in row) for row in values]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")


def _importer() -> dict[str, float]:
    import bpy

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "minute.bvh"
        _a_minute_of_bvh(path)
        started = time.perf_counter()
        bpy.ops.import_anim.bvh(filepath=str(path))
        return {"seconds": time.perf_counter() - started}


def _minute_scene() -> dict[str, float]:
    """The whole scene of the demo take said three times: a minute."""
    from dataclasses import replace

    import bpy
    import numpy as np
    from in_the_round.analysis_core.analyse import analyse_take
    from in_the_round.analysis_core.read import read_take
    from in_the_round.scene import build_scene

    take = read_take(TAKE, SETTINGS)
    minute = np.tile(take.positions_m, (round(60.0 / take.duration_s), 1, 1))
    review = analyse_take(replace(take, positions_m=minute, force_plates=(), events=()), SETTINGS)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    started = time.perf_counter()
    build_scene(review)
    return {"seconds": time.perf_counter() - started, "frames": review.take.frames}


def scene() -> list[Row]:
    """The scene of a minute, and Blender's own importer on a minute of as many bones."""
    ours, importer = _in_a_process("scene"), _in_a_process("importer")
    return [
        Row(f"whole scene of {ours['frames']:.0f} frames", ours["seconds"], "s", 2.0),
        Row("yardstick: Blender's BVH importer, 24 bones, 14,400 frames", importer["seconds"], "s"),
        Row("scene / importer", ours["seconds"] / importer["seconds"], "×"),
    ]


def turntable() -> list[Row]:
    """A short film by the command, for each picture."""
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.review import write_review
    from in_the_round.command_line.blender_process import run_job
    from in_the_round.command_line.output import Output

    with tempfile.TemporaryDirectory() as folder:
        write_review(analyse(TAKE, SETTINGS), Path(folder) / "review")
        job = {"do": "turntable", "reviews": [str(Path(folder) / "review")] * 2, "to": str(Path(folder) / "film.mp4")}
        job |= {"size": (640, 360), "fps": 24, "seconds": 4.0}
        started = time.perf_counter()
        film = run_job(job, Output(as_json=True), debug=False)
        took = time.perf_counter() - started
    return [Row("side by side, 640×360, for each picture, starting Blender included", took / film["pictures"], "s")]


if __name__ == "__main__":
    import os

    print(json.dumps({"scene": _minute_scene, "importer": _importer}[sys.argv[1]]()), flush=True)
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(0)
