"""How fast Blender's side is, beside what Blender itself needs for the same motion."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from bench_common import DATA, SETTINGS, TAKE, Row


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


def _minute() -> Any:
    """The review of the demo take said three times: a minute."""
    import numpy as np
    from in_the_round.analysis_core.analyse import analyse_take
    from in_the_round.analysis_core.read import read_take

    take = read_take(TAKE, SETTINGS)
    minute = np.tile(take.positions_m, (round(60.0 / take.duration_s), 1, 1))
    return analyse_take(replace(take, positions_m=minute, force_plates=(), events=()), SETTINGS)


def _minute_scene() -> dict[str, float]:
    """The whole scene of a minute, and before it the armature with its animation alone."""
    import bpy
    from in_the_round.analysis_core.figure.motion import motion_of
    from in_the_round.analysis_core.figure.proportions import rest_of
    from in_the_round.scene import build_scene
    from in_the_round.scene.armature import animate, make_armature

    review = _minute()
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    rest = rest_of(review.movement)
    motion = motion_of(review.movement, rest)
    started = time.perf_counter()
    animate(make_armature("Dancer", rest, bpy.context.scene.collection), rest, motion, 1)
    armature = time.perf_counter() - started
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    started = time.perf_counter()
    build_scene(review)
    return {"seconds": time.perf_counter() - started, "armature": armature, "frames": review.take.frames}


def _film() -> dict[str, float]:
    """A film as it is made, against the bare renders of its pictures, one by one, in the same scene, in seconds of processor."""
    import bpy
    from in_the_round import compat
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.film.wish import Wish
    from in_the_round.scene.film_output import render
    from in_the_round.scene.turntable import build_film

    reviews = [analyse(TAKE, SETTINGS)] * 2
    wish = Wish(size=(640, 360), fps=8, seconds=4.0)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    with tempfile.TemporaryDirectory() as folder:
        # The first render of a process prepares the engine: both get it warm.
        scene = build_film(reviews, wish).scene
        compat.choose_engine(scene)
        bpy.ops.render.render(scene=scene.name)
        scene.name = "Warm"
        started = time.process_time()
        render(reviews, Path(folder) / "film.mp4", wish)
        took = time.process_time() - started
        film = build_film(reviews, wish)
        compat.choose_engine(film.scene)
        bpy.context.window.scene = film.scene
        bare = 0.0
        for picture in range(1, film.pictures + 1):
            film.scene.frame_set(picture)
            started = time.process_time()
            bpy.ops.render.render(scene=film.scene.name)
            bare += time.process_time() - started
    return {"film": took, "bare": bare, "pictures": film.pictures}


def _upright() -> dict[str, float]:
    """Bytes of a film of 10 s for a phone as it is made, and of the same pictures at what Blender calls high quality."""
    import bpy
    from in_the_round import compat
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.film.wish import Wish
    from in_the_round.scene import film_output

    reviews = [analyse(DATA / f"{name}.c3d", SETTINGS) for name in ("careless", "careful")]
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    sizes = {}
    with tempfile.TemporaryDirectory() as folder:
        # A draft: its rough edges take more bytes than smooth ones, and a fifth of the time.
        wish = Wish(size=(720, 1280), fps=24, seconds=10.0, draft=True, pictures=f"{folder}/pictures")
        film_output.render(reviews, Path(folder) / "default.mp4", wish)
        sizes["default"] = float((Path(folder) / "default.mp4").stat().st_size)
        as_made = compat.write_film

        def generously(scene: Any, *, sound: bool = False) -> None:
            as_made(scene, sound=sound)
            scene.render.ffmpeg.constant_rate_factor = "HIGH"
            scene.render.ffmpeg.ffmpeg_preset = "REALTIME"

        compat.write_film = generously
        film_output.render(reviews, Path(folder) / "HIGH.mp4", wish)
        sizes["HIGH"] = float((Path(folder) / "HIGH.mp4").stat().st_size)
    return sizes


def upright() -> list[Row]:
    """The size of a film that is sent to a phone."""
    sizes = _in_a_process("upright")
    return [
        Row("film of 10 s, two takes, 720×1280", sizes["default"] / 1e6, "MB", 1.0),
        Row("yardstick: the same pictures at Blender's high quality", sizes["HIGH"] / 1e6, "MB"),
        Row("film / yardstick", sizes["default"] / sizes["HIGH"], "×"),
    ]


def scene() -> list[Row]:
    """The scene of a minute, and Blender's own importer on a minute of as many bones."""
    ours, importer = _in_a_process("scene"), _in_a_process("importer")
    return [
        Row(f"whole scene of {ours['frames']:.0f} frames", ours["seconds"], "s", 2.0),
        Row("armature with its animation alone", ours["armature"], "s"),
        Row("yardstick: Blender's BVH importer, 24 bones, 14,400 frames", importer["seconds"], "s"),
        Row("armature / importer", ours["armature"] / importer["seconds"], "×", 0.1),
        Row("scene / importer", ours["seconds"] / importer["seconds"], "×"),
    ]


def turntable() -> list[Row]:
    """A short film against the bare renders of its pictures."""
    times = _in_a_process("film")
    return [
        Row("side by side, 640×360, four seconds, for each picture, of processor", times["film"] / times["pictures"], "s"),
        Row("yardstick: the bare render of a picture, of processor", times["bare"] / times["pictures"], "s"),
        Row("film / bare renders", times["film"] / times["bare"], "×", 1.15),
    ]


if __name__ == "__main__":
    import os

    print(
        json.dumps({"scene": _minute_scene, "importer": _importer, "film": _film, "upright": _upright}[sys.argv[1]]()), flush=True
    )
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(0)
