"""From a review to a scene of its own."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.types import Scene

from .. import compat
from ..analysis_core.figure.levels import levels_of
from ..analysis_core.figure.looks import DEFAULT_LOOK
from ..analysis_core.figure.motion import motion_of
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.review import Review
from . import cameras, captions, measure_drawn, stage, timeline
from .figure import make_figure

#: What marks a review's collections, and says what each holds: names are the user's to change, and may be the user's own.
MARK = "dance_review_built"
_MARKERS = "dance_review_markers"
CAPTIONS = "captions"


def _collection(name: str, parent: Any, holds: str) -> bpy.types.Collection:
    made = bpy.data.collections.new(name)
    made[MARK] = holds
    parent.children.link(made)
    return made


def build_scene(review: Review, look: str = DEFAULT_LOOK) -> bpy.types.Scene:
    """A new scene that shows a review: dancer, severity, markers, cameras, captions, floor and light. Sample i lies on
    frame frame_start + i of the scene, which has the take's own rate. look: what the dancer wears, of LOOKS."""
    movement = review.movement
    name = review.take.file.rpartition("/")[2].rpartition(".")[0] or review.take.file or "Dancer"
    scene = bpy.data.scenes.new(name)
    timeline.set_rate(scene, movement.rate_hz)
    root = _collection(f"Review of {name}", scene.collection, "review")
    dancer, studio, views, words = (
        _collection(holds.capitalize(), root, holds) for holds in ("dancer", "studio", "cameras", CAPTIONS)
    )
    rest = rest_of(movement)
    levels = levels_of(review.findings, movement.time_s)
    make_figure(name, rest, motion_of(movement, rest), levels, timeline.FRAME_START, dancer, look)
    stage.floor(*cameras.span_m(movement), studio)
    stage.light(studio)
    stage.world(scene)
    stage.draw_plainly(scene)
    compat.choose_engine(scene)
    made = cameras.correction_cameras(review.findings, movement, views)
    scene.camera = cameras.overview_camera(movement, views)
    scene.render.resolution_x, scene.render.resolution_y = 1280, 720
    last = timeline.FRAME_START + movement.frames - 1
    captions.correction_captions(review.findings, made, movement.rate_hz, (timeline.FRAME_START, last), words)
    drawn = _collection("Measures", root, "measures")
    measure_drawn.draw_all(
        review, made, (timeline.FRAME_START, last), look, lambda name: _collection(name, drawn, measure_drawn.HOLDS)
    )
    scene[_MARKERS] = timeline.add_markers(scene, review.findings, movement)
    timeline.set_range(scene, movement.frames)
    return scene


def drawings_in(scene: Scene) -> list[bpy.types.Collection]:
    """The collections of the measures that are drawn in a scene, one for each correction that has one."""
    return [item for item in scene.collection.children_recursive if item.get(MARK) == measure_drawn.HOLDS]


def is_marker_of(scene: Scene, marker: bpy.types.TimelineMarker, finding: str) -> bool:
    """Whether a timeline marker is the one of a finding: made by build_scene, or bound to the finding's camera."""
    if marker.camera is not None and marker.camera.get("finding") == finding:
        return True
    return marker.name in scene.get(_MARKERS, ()) and marker.name.partition(" ")[0] == finding


def remove_review(scene: Scene) -> None:
    """Take away all that build_scene made in a scene, and cameras made for corrections; what the user added stays."""
    ours = set(scene.get(_MARKERS, ()))
    for marker in list(scene.timeline_markers):
        bound = marker.camera is not None and marker.camera.get("finding") is not None
        if bound or marker.name in ours:
            # The first of a name is ours: what the user called the same came later.
            ours.discard(marker.name)
            scene.timeline_markers.remove(marker)
    collections = [item for item in scene.collection.children_recursive if item.get(MARK) is not None]
    made = {item for collection in collections for item in collection.objects}
    for item in [
        *made,
        *(item for item in scene.collection.objects if item.type == "CAMERA" and item.get("finding") is not None),
    ]:
        action = item.animation_data.action if item.animation_data else None
        data = item.data
        bpy.data.objects.remove(item)
        if data is not None and data.users == 0:
            bpy.data.batch_remove([data])
        if action is not None and action.users == 0:
            bpy.data.actions.remove(action)
    for collection in reversed(collections):
        bpy.data.collections.remove(collection)
    if scene.get(_MARKERS) is not None:
        del scene[_MARKERS]
