"""Run in a Blender of its own: the dancer of a review as the product's scenes draw her, at one sample and from one place.

Arguments: folder of the review, camera (JSON: sample, at and from in metres, fov_deg up and down, size in pixels), picture
to write. What is not dancer is transparent.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import bpy
import numpy as np
from in_the_round import compat
from in_the_round.analysis_core.figure.levels import levels_of
from in_the_round.analysis_core.figure.motion import chosen, motion_of
from in_the_round.analysis_core.figure.proportions import rest_of
from in_the_round.analysis_core.page.things import things_of
from in_the_round.analysis_core.review import read_review
from in_the_round.scene import stage
from in_the_round.scene.cameras import make_camera
from in_the_round.scene.figure import make_figure
from mathutils import Vector


def main(folder: str, told: str, picture: str) -> None:
    """One picture."""
    review, camera = read_review(Path(folder)), json.loads(told)
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    scene = bpy.context.window.scene
    movement, sample = review.movement, np.array([camera["sample"]])
    rest = rest_of(movement)
    findings = tuple(thing.finding for thing in things_of(review))
    levels = levels_of(findings, movement.time_s[sample])
    make_figure("Dancer", rest, chosen(motion_of(movement, rest), sample), levels, 1, scene.collection)
    stage.light(scene.collection)
    stage.world(scene)
    stage.draw_plainly(scene)
    compat.choose_engine(scene)
    scene.display.render_aa = "FXAA"
    scene.render.film_transparent = True
    eye = make_camera("Page", Vector(camera["from"]), Vector(camera["at"]), scene.collection)
    eye.data.sensor_fit, eye.data.angle = "VERTICAL", np.radians(camera["fov_deg"])
    scene.camera = eye
    scene.render.resolution_x, scene.render.resolution_y = camera["size"]
    scene.render.resolution_percentage = 100
    scene.frame_set(1)
    scene.render.filepath = picture
    bpy.ops.render.render(write_still=True, scene=scene.name)
    sys.stdout.flush()
    os._exit(0)  # Blender's module can hang at the end


if __name__ == "__main__":
    main(*sys.argv[1:4])
