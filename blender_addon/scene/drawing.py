"""The measure drawn on the body: curves and faces from the core's description, in its places, seen before everything else.

Keyed or fixed once; nothing runs on any frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import bpy
import numpy as np

from ..analysis_core.figure import palette
from ..analysis_core.take import Floats
from ..analysis_core.views.drawing import Drawing, Role
from ..analysis_core.views.strokes import DASH, GAP, RIM, THICK, Eye, dashed, lines_of, stripe_of
from .captions import without_shadow
from .stage import mesh_object, own_material

_COLOURS = {"measured": palette.MEASURED, "reference": palette.REFERENCE, "band": palette.BAND, "aid": palette.AID}


def _material(name: str, colour: palette.Colour) -> Any:
    return own_material(name, colour, glowing=True)


def _strokes(name: str, lines: list[Floats], thickness: float, colour: palette.Colour, eye: Eye, collection: Any) -> Any:
    """Polylines (K, 3) as one curve with a round section."""
    material = _material(name, colour)
    data = bpy.data.curves.new(name, "CURVE")
    data.dimensions = "3D"
    data.bevel_depth, data.bevel_resolution, data.use_fill_caps = thickness / 2, 2, True
    for line in lines:
        spline = data.splines.new("POLY")
        spline.points.add(len(line) - 1)
        spline.points.foreach_set("co", np.column_stack([line, np.ones(len(line))]).astype(np.float32).ravel())
    data.materials.append(material)
    made = bpy.data.objects.new(name, data)
    made.color = material.diffuse_color
    made.hide_select = True
    # In its own place nothing may hide it; brought nearer to the eye nothing does, and words lie before it.
    made.show_in_front = eye.nearer == 1.0
    without_shadow(made)
    collection.objects.link(made)
    return made


def _faces(name: str, quads: list[Floats], eye: Eye, depth: float, colour: palette.Colour, collection: Any) -> Any:
    corners = np.concatenate(quads)
    faces = [tuple(range(4 * i, 4 * i + 4)) for i in range(len(quads))]
    made = mesh_object(name, eye.brought(corners, depth).tolist(), faces, _material(name, colour), collection)
    made.show_in_front = eye.nearer == 1.0
    without_shadow(made)
    return made


def draw(
    drawing: Drawing, eye: Eye, thickness_m: float, collection: Any, carried: Callable[[Floats], Floats] | None = None
) -> list[Any]:
    """Draw a measure; return its objects.

    thickness_m: of a measured line in the drawing's own place. carried: moves places (K, 3) of the laboratory to where the dancer
    is shown. What was measured lies before what it is counted from, that before the band.
    """
    carried = carried or (lambda points: points)
    made = []
    order: dict[Role, float] = {"aid": 1.0, "band": 0.995, "reference": 0.99, "measured": 0.985}
    for role, depth in order.items():
        shapes = [shape for shape in drawing.shapes if shape.role == role]
        thickness = thickness_m * THICK[role]
        lines: list[Floats] = []
        for shape in shapes:
            stripe = stripe_of(shape, thickness_m, eye) if role == "band" else None
            if stripe is not None:
                quads = [carried(quad) for quad in stripe[0]]
                made.append(_faces(f"Drawing {role} stripe", quads, eye, depth, _COLOURS[role], collection))
                continue
            parts = [carried(line) for line in lines_of(shape, thickness, eye)]
            if role == "reference":
                parts = [piece for line in parts for piece in dashed(line, DASH * thickness, GAP * thickness)]
            lines += parts
        lines = [line for line in lines if len(line) > 1]
        if not lines:
            continue
        scale = eye.nearer * depth
        core = [eye.brought(line, depth) for line in lines]
        made.append(_strokes(f"Drawing {role}", core, thickness * scale, _COLOURS[role], eye, collection))
        if role != "aid" and eye.nearer < 1.0:
            rim = [eye.brought(line, depth + 0.003) for line in lines]
            width = (thickness + 2 * RIM * thickness_m) * eye.nearer * (depth + 0.003)
            made.append(_strokes("Drawing rim", rim, width, palette.RIM, eye, collection))
    return made


def eye_of(camera: Any, nearer: float = 1.0) -> Eye:
    """The eye of a camera object without a parent."""
    matrix = np.array(camera.matrix_basis)
    return Eye(matrix[:3, 3], matrix[:3, 0], matrix[:3, 1], nearer)


def remove(items: list[Any]) -> None:
    """Take drawn objects and their data away."""
    for item in items:
        data = item.data
        bpy.data.objects.remove(item)
        if data is not None and data.users == 0:
            bpy.data.batch_remove([data])


def thickness_for(height_m: float) -> float:
    """How thick a measured line is, metres, in a picture that is so high there: legible and fine in any size."""
    return 0.0062 * height_m if math.isfinite(height_m) else 0.01
