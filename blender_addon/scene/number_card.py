"""The number of a drawing on a light card at its place in the picture."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.types import Collection
from mathutils import Vector

from ..analysis_core.take import Floats
from ..analysis_core.views import Bracket, Drawing
from ..analysis_core.views.strokes import brackets_reach
from ..blender_types import optics
from . import stage
from .captions import DEPTH_M, extent, half_picture, in_picture, text_object, without_shadow
from .drawing import eye_of

#: Height of a line as a share of the shorter side of a picture.
LINE = 0.040
_PAPER = (1.45, 1.45, 1.42)


def paper_behind(name: str, width: float, height: float, collection: Collection) -> bpy.types.Object:
    """A light card; brighter than white, since the studio's light takes a third away."""
    material = stage.own_material(name, _PAPER, glowing=True)
    corners = [(0.0, 0.0, 0.0), (0.0, -height, 0.0), (width, -height, 0.0), (width, 0.0, 0.0)]
    made = stage.mesh_object(name, corners, [(0, 1, 2, 3)], material, collection)
    without_shadow(made)
    return made


def _seen(place: Floats, camera: bpy.types.Object) -> tuple[float, float]:
    """Where a place of the laboratory is seen, at the words' depth before the camera, metres from the lens' own axis."""
    inside = camera.matrix_basis.inverted() @ Vector(place.tolist())
    depth = max(-inside.z, 1e-3)
    return inside.x / depth * DEPTH_M, inside.y / depth * DEPTH_M


def _box(places: list[Floats], camera: bpy.types.Object) -> tuple[Floats, Floats]:
    """Lower left and upper right corner of places (3,) in the picture."""
    seen = np.array([_seen(place, camera) for place in places])
    return seen.min(axis=0), seen.max(axis=0)


def number_card(
    drawing: Drawing, camera: bpy.types.Object, aspect: float, thickness_m: float, collection: Collection, line_below: float = 0.0
) -> list[bpy.types.Object]:
    """The number at its place in the picture, on a card, the same size in every picture, beside what is drawn so thick.

    line_below: height of a second card that will hang below it, in lines, for which room is left above what lies across.
    """
    half_width, half_height = half_picture(camera, aspect)
    unit = 2 * min(half_width, half_height)
    x, y = _seen(drawing.number_at, camera)
    size = 1.05 * LINE * unit
    width = (extent(drawing.words) + 0.7) * size
    x0, y0 = (value * 2 * max(half_width, half_height) for value in (optics(camera).shift_x, optics(camera).shift_y))
    brackets = [end for shape in drawing.shapes if isinstance(shape, Bracket) for end in (shape.base, shape.tip)]
    low, high = _box(brackets or [drawing.number_at], camera)
    lies_across = high[0] - low[0] > high[1] - low[1]
    low, high = _box([*brackets_reach(drawing.shapes, thickness_m, eye_of(camera))] or [drawing.number_at], camera)
    if lies_across:
        x, y = (low[0] + high[0] - width) / 2 + 0.35 * size, high[1] + (1.8 + line_below) * size
    else:
        centre = np.mean([_seen(point, camera)[0] for point in drawing.points])
        x = high[0] + (0.5 if brackets else 0.9) * size if x >= centre - 1e-4 else low[0] - width + 0.2 * size
        y = y + 0.5 * size
    # Inside the picture, up to its edge rather than over what the card stands beside.
    x = min(max(x, x0 - half_width + 0.45 * size), x0 + half_width - width + 0.25 * size)
    y = min(max(y, y0 - half_height + 2 * size), y0 + half_height - size)
    text = text_object("Still number", drawing.words, size, collection)
    in_picture(text, camera, x, y)
    paper = paper_behind("Still card", width, 1.45 * size, collection)
    in_picture(paper, camera, x - 0.35 * size, y + 0.28 * size, behind=0.001)
    return [text, paper]
