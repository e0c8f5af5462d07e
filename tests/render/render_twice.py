"""Renders a moment of a take with its findings and without them. Started by looked_at_in_blender.py."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np
from in_the_round.analysis_core.review import Review
from in_the_round.scene import build_scene


def shares(review: Review, fault: str, folder: Path, *, shown: bool) -> dict[str, float]:
    """Render the fault's peak from its own camera; share of pixels that are magenta, light, and of the room."""
    finding = max((f for f in review.findings if f.fault == fault), key=lambda f: f.severity)
    if not shown:
        review = replace(review, analysed=tuple(replace(f, decision="set aside") for f in review.findings))
    scene = build_scene(review)
    bpy.context.window.scene = scene
    scene.camera = next(item for item in scene.objects if item.type == "CAMERA" and item.get("finding") == finding.id)
    scene.frame_set(scene.frame_start + round(finding.peak_s * review.take.rate_hz))
    scene.render.resolution_x, scene.render.resolution_y = 320, 180
    scene.display.render_aa = "FXAA"
    # Soft shadows take a processor ten times as long as all else of a picture, and change no colour that is looked for.
    scene.display.shading.show_shadows = False
    scene.render.filepath = str(folder / f"{shown}.png")
    bpy.ops.render.render(write_still=True, scene=scene.name)
    image = bpy.data.images.load(scene.render.filepath)
    red, green, blue, _ = np.array(image.pixels[:]).reshape(180, 320, 4).transpose(2, 0, 1)
    magenta = (red > 1.6 * green) & (blue > 1.2 * green) & (red > 0.25)
    return {"magenta": float(magenta.mean()), "contrast": float(np.ptp(green))}


def told(review: Review, folder: Path) -> dict[str, dict[str, float]]:
    """Of both pictures the share of pixels of each kind of colour."""
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    return {str(shown): shares(review, "heel-lifts-early", folder, shown=shown) for shown in (True, False)}
