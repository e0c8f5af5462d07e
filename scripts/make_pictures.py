"""Make the pictures of the README with the program itself, from the demo takes. Run by hand:

.venv/bin/python scripts/make_pictures.py [FOLDER]     (default: docs/pictures)
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import bpy
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.compare import compare
from in_the_round.analysis_core.figure.looks import DEFAULT_LOOK
from in_the_round.analysis_core.film.wish import Wish
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.views.second_take import in_step, levels_of_differences
from in_the_round.scene import aids, build_scene, second_dancer
from in_the_round.scene.build import CAPTIONS, MARK
from in_the_round.scene.turntable import build_film

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo_data"
#: The findings that are shown from their own cameras: file name -> fault.
STILLS = {"heel_lifts_early": "heel-lifts-early", "knee_inside_the_toes": "knee-inside-toes", "off_the_axis": "axis-tilts"}


def _review(name: str) -> Review:
    return analyse(DEMO / name, Settings(static=DEMO / "static.c3d", tempo_bpm=120.0))


def _save(scene: object, frame: int, path: Path) -> None:
    """Render one frame of a scene as JPEG, small enough for a page."""
    scene.frame_set(frame)
    render = scene.render
    render.image_settings.file_format = "JPEG"
    render.image_settings.quality = 88
    with tempfile.TemporaryDirectory() as folder:
        render.filepath = str(Path(folder) / "picture.jpg")
        bpy.ops.render.render(write_still=True, scene=scene.name)
        path.write_bytes((Path(folder) / "picture.jpg").read_bytes())
    print(f"{path}: {path.stat().st_size // 1000} kB", flush=True)


def _hide(scene: Any, kind: str) -> None:
    """Leave out what a collection of the review holds, by what it says it is."""
    for item in scene.collection.children_recursive:
        if item.get(MARK) == kind:
            item.hide_render = True


def _ghost(scene: Any, careless: Review, careful: Review, path: Path) -> None:
    """The careful take over the careless one, in step, at the moment of the tilt: solid where it differs."""
    comparison = compare(careless, careful)
    step = in_step(comparison.alignment, careless.movement, careful.movement)
    levels = levels_of_differences(careless, careful, comparison)
    second_dancer.add(scene, careless, careful, step, levels, place="ghost", look=DEFAULT_LOOK, frame_start=scene.frame_start)
    tilt = max((f for f in careless.findings if f.fault == "axis-tilts"), key=lambda f: f.severity)
    scene.camera = next(item for item in scene.objects if item.type == "CAMERA" and item.get("finding") == tilt.id)
    _save(scene, scene.frame_start + round(tilt.peak_s * careless.take.rate_hz), path)
    second_dancer.remove(scene)


def main() -> None:
    """Render all pictures."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    careless, careful = _review("careless.c3d"), _review("careful.c3d")
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = build_scene(careless)
    bpy.context.window.scene = scene
    for name, fault in STILLS.items():
        finding = max((f for f in careless.findings if f.fault == fault), key=lambda f: f.severity)
        scene.camera = next(item for item in scene.objects if item.type == "CAMERA" and item.get("finding") == finding.id)
        _save(scene, scene.frame_start + round(finding.peak_s * careless.take.rate_hz), out / f"{name}.jpg")
    _hide(scene, "measures")
    _ghost(scene, careless, careful, out / "ghost.jpg")
    _hide(scene, CAPTIONS)
    for kind in ("plumb line", "support", "turnout", "turn axis"):
        aids.DRAW[kind](scene, careless, scene.frame_start)
    tilt = max((f for f in careless.findings if f.fault == "axis-tilts"), key=lambda f: f.severity)
    scene.camera = next(item for item in scene.objects if item.type == "CAMERA" and item.get("finding") == tilt.id)
    _save(scene, scene.frame_start + round(tilt.peak_s * careless.take.rate_hz) - 40, out / "lines.jpg")
    film = build_film([careless, careful], Wish())
    bpy.context.window.scene = film.scene
    # Half-way round: the side on which the measure is seen best in one picture.
    held = film.plan.stops[0]
    _save(film.scene, (held.first + held.last) // 2 + 3, out / "side_by_side.jpg")


if __name__ == "__main__":
    main()
    sys.stdout.flush()
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(0)
