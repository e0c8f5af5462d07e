"""The film for the student: one or two takes on turning stages that play, hold at a correction, turn all round it, go on."""

from __future__ import annotations

import math
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from .. import compat
from ..analysis_core.body.movement import Movement
from ..analysis_core.figure.levels import levels_of
from ..analysis_core.figure.looks import DEFAULT_LOOK
from ..analysis_core.figure.motion import chosen, motion_of
from ..analysis_core.figure.palette import CANNOT_TELL, FAULT, IN_BAND, WATCH
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from . import stage
from .armature import key
from .cameras import make_camera
from .captions import half_picture, in_picture, ink, text_object, title_of, without_shadow, words_of
from .figure import make_figure
from .film_plan import FilmPlan, plan_film, same_step

#: Radius of a stage and room around it, metres; a dancer with arms out and a leg lifted stays in the picture.
_STAGE_M, _APART_M, _HEIGHT_M = 0.95, 2.3, 2.15
#: Height of a line of words as a share of the picture's height; readable at 640 pixels.
_LINE = 0.047
_LEGEND = (("in the band", IN_BAND), ("watch", WATCH), ("correct first", FAULT), ("cannot be told", CANNOT_TELL))


def _middle_of(movement: Movement, frame: int) -> np.ndarray:
    """Where on the floor the dancer is at a moment (2,), metres."""
    hips = movement.joint("pelvis")[:, :2]
    known = np.flatnonzero(np.isfinite(hips).all(axis=1))
    return hips[known[np.argmin(np.abs(known - frame))]] if known.size else np.zeros(2)


def _view_azimuth(review: Review, finding: Finding | None, frame: int) -> float:
    """Direction in the laboratory from which a take is seen while it plays: the finding's own view, else the dancer's front."""
    if finding is not None and finding.view.name != "top":
        away = np.subtract(finding.view.position_m, finding.view.aim_m)
        if np.hypot(away[0], away[1]) > 1e-3:
            return math.atan2(away[1], away[0])
    forward = review.movement.segment("pelvis")[frame, :, 0]
    return math.atan2(forward[1], forward[0]) + math.radians(25.0) if np.isfinite(forward).all() else 0.0


def _turning(name: str, place: Vector, turned_rad: np.ndarray, collection: Any) -> Any:
    """An empty that turns; row i of turned_rad lies on frame 1 + i."""
    turning = bpy.data.objects.new(name, None)
    turning.location = place
    turning.hide_render = True
    collection.objects.link(turning)
    curves = compat.curves_of(turning, name)
    key(curves, "rotation_euler", 2, 1.0 + np.arange(turned_rad.size), turned_rad)
    return turning


def _places(count: int, tall: bool) -> list[Vector]:
    """Where the stages stand: beside each other, or one above the other in a tall picture."""
    if count == 1:
        return [Vector((0.0, 0.0, 0.0))]
    if tall:
        return [Vector((0.0, 0.0, _HEIGHT_M + 0.75)), Vector((0.0, 0.0, 0.0))]
    return [Vector((-_APART_M / 2, 0.0, 0.0)), Vector((_APART_M / 2, 0.0, 0.0))]


def _camera(places: list[Vector], aspect: float, collection: Any) -> Any:
    """One camera for all stages, from the front and a little above, so that both are seen from the same angle."""
    left, right = min(p.x for p in places) - _STAGE_M - 0.2, max(p.x for p in places) + _STAGE_M + 0.2
    bottom, top = min(p.z for p in places) - 0.25, max(p.z for p in places) + _HEIGHT_M
    # Words stand above and below the dancers.
    height, width = (top - bottom) * 1.2, right - left
    half = 18.0 / 50.0
    need = max(width / 2 / (half * min(aspect, 1.0)), height / 2 / (half / max(aspect, 1.0)))
    aim = Vector(((left + right) / 2, 0.0, (bottom + top) / 2 + 0.02 * height))
    return make_camera("Film camera", aim + Vector((0.0, -need, 0.10 * need)), aim, collection)


def _shown(item: Any, first: int, last: int, pictures: int) -> None:
    """Key an object to be seen on pictures first to last only."""
    curves = compat.curves_of(item, item.name)
    frames = np.array([0.0, 1.0 + first, 2.0 + last, pictures + 2.0])
    for path in ("hide_viewport", "hide_render"):
        key(curves, path, 0, frames, np.array([1.0, 0.0, 1.0, 1.0]), kind=0)


def _answer(finding: Finding | None, review: Review, other: Review) -> Finding | None:
    """The same fault in the answering step of another take."""
    if finding is None:
        return None
    phase = next((p for p in review.phrase.phases if p.id == finding.phase), None)
    twin = same_step(phase, other)
    return next((f for f in other.findings if f.fault == finding.fault and twin is not None and f.phase == twin.id), None)


def _film_words(finding: Finding | None, wanted: Finding | None, width: int, *, cue: bool) -> str:
    if finding is not None:
        return words_of(finding, width, cue=cue)
    return f"{title_of(wanted)}:\nnot found in this take" if wanted is not None else "Nothing to correct first"


def _words(reviews: list[Review], plan: FilmPlan, camera: Any, aspect: float, pictures: int, collection: Any) -> None:
    """Captions of the holds, names of the takes, and the legend."""
    half_width, half_height = half_picture(camera, aspect)
    size = _LINE * 2 * half_height * min(1.0, aspect / 1.2)
    beside = aspect >= 1.0
    columns = len(reviews) if beside else 1
    width = int((2.4 if columns > 1 else 1.1) * half_width * 2 / columns / size)
    for place, review in enumerate(reviews):
        x = -half_width * 0.94 + (place * half_width if beside else 0.0)
        top = half_height * (0.95 if beside or place == 0 else -0.02)
        name = Path(review.take.file).stem or "take"
        if len(reviews) > 1 or not plan.holds:
            text_object(f"Take {place + 1}", name, size * 0.85, collection)
            in_picture(collection.objects[-1], camera, x, -half_height * (0.80 if beside or place else -0.06))
        for index, hold in enumerate(plan.holds):
            finding = hold.finding if place == 0 else _answer(hold.finding, reviews[0], review)
            said = _film_words(finding, hold.finding, width, cue=columns == 1)
            caption = text_object(f"Caption {index + 1} {place + 1}", said, size, collection)
            in_picture(caption, camera, x, top)
            _shown(caption, max(hold.first - 4, 0), hold.last + 4, pictures)
    x = -half_width * 0.94
    step = 2 * half_width * 0.94 / len(_LEGEND)
    for words, colour in _LEGEND:
        swatch = stage.disc(
            f"Legend {words}", size * 0.32, 0.0005, stage.plain_material(f"Legend {words}", colour), collection, 24
        )
        without_shadow(swatch)
        in_picture(swatch, camera, x + size * 0.3, -half_height * 0.935)
        item = text_object(f"Legend {words} words", words, size * 0.9, collection, material=ink())
        in_picture(item, camera, x + size * 0.8, -half_height * 0.935 + size * 0.42)
        x += step


def build_film(
    reviews: list[Review], size: tuple[int, int], fps: int, seconds: float, look: str = DEFAULT_LOOK
) -> tuple[Any, int]:
    """A scene that holds the film: figures on turning stages, camera, words. Returns it and its number of pictures."""
    plan = plan_film(reviews, fps, seconds)
    pictures = len(plan.turned_rad)
    aspect = size[0] / size[1]
    scene = bpy.data.scenes.new("Turntable")
    if bpy.context.window is not None:
        bpy.context.window.scene = scene
    collection = bpy.data.collections.new("Turntable")
    scene.collection.children.link(collection)
    places = _places(len(reviews), aspect < 1.0)
    floor = stage.plain_material("Stage", (0.30, 0.31, 0.33))
    for index, (review, place) in enumerate(zip(reviews, places, strict=True)):
        held = plan.holds[0] if plan.holds else None
        frame = int(plan.frames[held.first if held else pictures // 2, index])
        finding = held.finding if held else None
        own = finding if index == 0 else _answer(finding, reviews[0], review)
        azimuth = _view_azimuth(review, own, frame)
        if index and own is None:
            azimuth = _same_side(review, reviews[0], finding, frame, plan)
        # The camera looks along +Y: what faces it in the picture has the direction -90° of the laboratory.
        turning = _turning(f"Stage {index + 1}", place, plan.turned_rad + (-math.pi / 2 - azimuth), collection)
        disc = stage.disc(f"Stage floor {index + 1}", _STAGE_M, 0.05, floor, collection)
        disc.parent = turning
        rest = rest_of(review.movement)
        motion = chosen(motion_of(review.movement, rest), plan.frames[:, index])
        levels = levels_of(review.findings, review.movement.time_s)[plan.frames[:, index]]
        figure = make_figure(f"Dancer {index + 1}", rest, motion, levels, 1, collection, look)
        figure.armature.parent = turning
        away = _middle_of(review.movement, frame)
        figure.armature.location = (-float(away[0]), -float(away[1]), 0.0)
    camera = _camera(places, aspect, collection)
    scene.camera = camera
    _words(reviews, plan, camera, aspect, pictures, collection)
    stage.light(collection)
    stage.world(scene)
    stage.draw_plainly(scene)
    scene.frame_start, scene.frame_end = 1, pictures
    scene.render.fps, scene.render.fps_base = fps, 1.0
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.resolution_percentage = 100
    return scene, pictures


def _same_side(review: Review, leader: Review, finding: Finding | None, frame: int, plan: FilmPlan) -> float:
    """The leader's view, counted from this dancer's own front, so that both are seen from the same side."""
    lead = int(plan.frames[plan.holds[0].first, 0]) if plan.holds else 0
    view = _view_azimuth(leader, finding, lead)
    fronts = [r.movement.segment("pelvis")[f, :2, 0] for r, f in ((leader, lead), (review, frame))]
    headings = [math.atan2(front[1], front[0]) if np.isfinite(front).all() else 0.0 for front in fronts]
    return view - headings[0] + headings[1]


def render(
    reviews: list[Review],
    path: Path,
    *,
    size: tuple[int, int] = (1280, 720),
    fps: int = 24,
    seconds: float = 10.0,
    look: str = DEFAULT_LOOK,
    progress: Callable[[float], None] | None = None,
) -> dict[str, Any]:
    """Render the film of one or two reviews to ``path`` (MP4 with H.264), whole or not at all.

    look: what the dancers wear, of LOOKS. progress: called with the share of pictures that are done. Returns seconds, pictures
    and the engine's name.
    """
    scene, pictures = build_film(reviews, size, fps, seconds, look)
    engine = compat.choose_engine(scene)
    scene.display.render_aa = "FXAA"
    compat.write_film(scene)
    done = 0

    def count(*_: Any) -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(done / pictures)

    with tempfile.TemporaryDirectory(prefix="dance_film_") as folder:
        film = Path(folder) / "film.mp4"
        scene.render.filepath = str(film)
        bpy.app.handlers.render_write.append(count)
        try:
            bpy.ops.render.render(animation=True, scene=scene.name)
        finally:
            bpy.app.handlers.render_write.remove(count)
        if not film.is_file() or not film.stat().st_size:
            raise RuntimeError("Blender wrote no film.")
        shutil.copyfile(film, path)
    return {"seconds": pictures / fps, "pictures": pictures, "engine": engine}
