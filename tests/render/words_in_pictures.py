"""Puts long words into pictures of many sizes and tells where they lie. Started by looked_at_in_blender.py."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any

import bpy
import numpy as np
from bpy_extras.object_utils import world_to_camera_view
from in_the_round.analysis_core.film.plan import FilmPlan, Stop
from in_the_round.analysis_core.film.shown import Shown
from in_the_round.analysis_core.review import Review
from in_the_round.scene.film_layout import layout_of
from in_the_round.scene.film_words import LEGEND, put_words
from in_the_round.scene.turntable import camera_for, stages_for
from mathutils import Vector

#: Words are laid out by the shape of the picture alone, in shares of its height: one size of each shape stands for all.
SIZES = [(1280, 720), (720, 1280)]
WORDS = "shoulder blade that lifts before the arm does on the way through the first position"


def box(item: Any, scene: Any) -> list[float]:
    """Left, bottom, right, top of an object in the picture, 0 to 1."""
    evaluated = item.evaluated_get(bpy.context.evaluated_depsgraph_get())
    vertices = evaluated.to_mesh().vertices
    outline = np.empty((len(vertices), 3), dtype=np.float32)
    vertices.foreach_get("co", outline.ravel())
    evaluated.to_mesh_clear()
    # What is seen of words lies within the corners of their box, and reaches them where they face the camera, as these do.
    corners = product(*zip(outline.min(axis=0).tolist(), outline.max(axis=0).tolist(), strict=True))
    places = [world_to_camera_view(scene, scene.camera, evaluated.matrix_world @ Vector(corner)) for corner in corners]
    xs, ys = [p.x for p in places], [p.y for p in places]
    return [min(xs), min(ys), max(xs), max(ys)]


def boxes(size: tuple[int, int], reviews: list[Review], plan: FilmPlan, told: list[dict[str, Shown]]) -> dict[str, object]:
    """Where each word object lies in the picture, and on which pictures it is seen."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.scene
    aspect = size[0] / size[1]
    layout = layout_of(aspect, len(reviews), len(LEGEND))
    _, height = stages_for(layout, aspect, 0.9, 2.0, 0.8)
    scene.camera = camera_for(height, aspect, scene.collection)
    scene.render.resolution_x, scene.render.resolution_y = size
    put_words(reviews, plan, told, layout, scene.camera, aspect, scene.collection)
    words = [item for item in scene.objects if item.type == "FONT"]
    found: dict[str, Any] = {item.name: {"box": None, "seen": []} for item in words}
    for picture in range(1, len(plan.turned_rad) + 1):
        scene.frame_set(picture)
        for item in words:
            if not item.hide_render:
                found[item.name]["seen"].append(picture)
                found[item.name]["box"] = found[item.name]["box"] or box(item, scene)
    return found


def told(review: Review) -> dict[str, dict[str, object]]:
    """For each size and number of takes every word object's box in the picture, 0 to 1, and its pictures; two holds follow each
    other at once. review: of one that found an axis that tilts."""
    review = replace(review, take=replace(review.take, file="a_take_with_a_name_that_somebody_made_far_too_long_2.c3d"))
    tilts = next(finding for finding in review.findings if finding.fault == "axis-tilts")
    finding = replace(tilts, says=WORDS, cue=f"Let the {WORDS} and breathe; " * 3, side="left")
    pictures = 12
    stops = (Stop(finding, 2, 5, True), Stop(finding, 6, 9, True))
    frames, shown = np.zeros((pictures, 2), dtype=np.int64), np.ones((pictures, 2), dtype=bool)
    plan = FilmPlan(frames, np.zeros(pictures), stops, shown, np.linspace(0.0, review.take.duration_s, pictures))
    told_of = Shown(finding.peak_s, finding, None, True)
    return {
        f"{size[0]}x{size[1]} {takes}": boxes(size, [review] * takes, plan, [{finding.id: told_of}] * takes)
        for size in SIZES
        for takes in (1, 2)
    }
