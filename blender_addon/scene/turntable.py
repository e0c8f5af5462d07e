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
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from ..analysis_core.write.cut_short import require_whole
from ..analysis_core.write.files import whole_file
from . import stage
from .armature import key
from .cameras import distance_for, make_camera
from .figure import make_figure
from .film_layout import Layout, layout_of
from .film_plan import FilmPlan, plan_film, same_step
from .film_words import LEGEND, put_words

#: Radius of a stage; what a dancer with arms out and a leg lifted needs of the picture, and how much of it lies below the stage.
_STAGE_M, _WIDE_M, _HIGH_M, _BELOW_M = 0.95, 2.3, 2.4, 0.2
#: How far above the middle of the picture the camera stands, part of its distance.
_CAMERA_UP = 0.12


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


def stages_for(layout: Layout, aspect: float) -> tuple[list[Vector], float]:
    """Where the stages stand, so that each dancer is in the place that is laid out, and the height of the picture, metres."""
    height = max(max(_HIGH_M / place.height, _WIDE_M / (place.width * aspect)) for place in layout.dancers)
    stages = []
    for place in layout.dancers:
        across = (0.5 * (place.left + place.right) - 0.5) * height * aspect
        # In the middle of its place, but for what is left over above its head.
        up = (place.bottom - 0.5) * height + 0.5 * min(place.height * height - _HIGH_M, 0.3) + _BELOW_M
        stages.append(Vector((across, 0.0, up)))
    return stages, height


def camera_for(height: float, aspect: float, collection: Any) -> Any:
    """One camera for all stages, from the front and a little above, without perspective: all are seen from the same angle."""
    distance = distance_for(height * aspect, height, aspect)
    place = Vector((0.0, -distance, _CAMERA_UP * distance))
    camera = make_camera("Film camera", place, Vector((0.0, 0.0, 0.0)), collection)
    camera.data.type = "ORTHO"
    camera.data.ortho_scale = height * max(aspect, 1.0)
    return camera


def _answer(finding: Finding | None, review: Review, other: Review) -> Finding | None:
    """The same fault in the answering step of another take."""
    if finding is None:
        return None
    phase = next((p for p in review.phrase.phases if p.id == finding.phase), None)
    twin = same_step(phase, other)
    return next((f for f in other.findings if f.fault == finding.fault and twin is not None and f.phase == twin.id), None)


def build_film(
    reviews: list[Review], size: tuple[int, int], fps: int, seconds: float, look: str = DEFAULT_LOOK, *, names: bool = False
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
    layout = layout_of(aspect, len(reviews), len(LEGEND))
    places, height = stages_for(layout, aspect)
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
    camera = camera_for(height, aspect, collection)
    scene.camera = camera
    told = [[hold.finding for hold in plan.holds]]
    told += [[_answer(hold.finding, reviews[0], other) for hold in plan.holds] for other in reviews[1:]]
    put_words(reviews, plan, told, layout, camera, aspect, collection, names=names)
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
    names: bool = False,
    progress: Callable[[float], None] | None = None,
) -> dict[str, Any]:
    """Render the film of one or two reviews to ``path`` (MP4 with H.264), whole or not at all.

    look: what the dancers wear, of LOOKS. names: whether the takes' files are named in it.
    progress: called with the share of pictures that are done. Returns seconds, pictures
    and the engine's name.
    """
    scene, pictures = build_film(reviews, size, fps, seconds, look, names=names)
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
        require_whole(film)
        with whole_file(path, overwrite=True) as temporary:
            shutil.copyfile(film, temporary)
    return {"seconds": pictures / fps, "pictures": pictures, "engine": engine}
