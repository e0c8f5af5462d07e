"""The measure drawn on the body: curves and faces from the core's description, in its places, seen before everything else.

Keyed or fixed once; nothing runs on any frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import bpy
import numpy as np
from bpy.types import Collection

from ..analysis_core.figure import palette
from ..analysis_core.take import Floats
from ..analysis_core.views.drawing import Bracket, Drawing, Role
from ..analysis_core.views.strokes import DASH, GAP, RIM, THICK, Eye, dashed, lines_of, stripe_of
from .captions import without_shadow
from .stage import mesh_object, own_material

#: Nearest to the eye first, with the share of the way to it: what was measured lies before what it is counted from, that before
#: the band.
_ORDER: dict[Role, float] = {"measured": 0.985, "reference": 0.99, "band": 0.995, "aid": 1.0}
#: A measured length is drawn with lines of at most this share of it, but no thinner than this share of the usual thickness.
_OF_LENGTH, _THINNEST = 0.35, 0.5
_COLOURS = {"measured": palette.MEASURED, "reference": palette.REFERENCE, "band": palette.BAND, "aid": palette.AID}


def _material(name: str, colour: palette.Colour) -> bpy.types.Material:
    return own_material(name, colour, glowing=True)


def _strokes(
    name: str, lines: list[Floats], thickness: float, colour: palette.Colour, eye: Eye, collection: Collection
) -> bpy.types.Object:
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
    made.show_in_front = _in_place(eye)
    without_shadow(made)
    collection.objects.link(made)
    return made


def _faces(name: str, quads: list[Floats], eye: Eye, colour: palette.Colour, collection: Collection) -> bpy.types.Object:
    corners = np.concatenate(quads)
    faces = [tuple(range(4 * i, 4 * i + 4)) for i in range(len(quads))]
    made = mesh_object(name, corners.tolist(), faces, _material(name, colour), collection)
    made.show_in_front = _in_place(eye)
    without_shadow(made)
    return made


def draw(
    drawing: Drawing, eye: Eye, thickness_m: float, collection: Collection, carried: Callable[[Floats], Floats] | None = None
) -> list[bpy.types.Object]:
    """Draw a measure; return its objects.

    thickness_m: of a measured line in the drawing's own place. carried: moves places (K, 3) of the laboratory to where the dancer
    is shown. With an eye that brings nothing nearer all but the rims lies in its own place, in front of everything in the Solid
    view.
    """
    carried = carried or (lambda points: points)
    made = []
    for place, (role, depth) in enumerate(_ORDER.items()):
        shapes = [shape for shape in drawing.shapes if shape.role == role]
        thickness = thickness_m * THICK[role]
        lines: list[Floats] = []
        for shape in shapes:
            stripe = stripe_of(shape, thickness_m, eye) if role == "band" else None
            if stripe is not None:
                quads = [_put(carried(quad), eye, depth, place * thickness_m) for quad in stripe[0]]
                made.append(_faces(f"Drawing {role} stripe", quads, eye, _COLOURS[role], collection))
                continue
            parts = [carried(line) for line in lines_of(shape, thickness, eye)]
            if role == "reference":
                parts = [piece for line in parts for piece in dashed(line, DASH * thickness, GAP * thickness)]
            lines += parts
        lines = [line for line in lines if len(line) > 1]
        if not lines:
            continue
        core = [_put(line, eye, depth, place * thickness_m) for line in lines]
        made.append(_strokes(f"Drawing {role}", core, thickness * _scale(eye, depth), _COLOURS[role], eye, collection))
        if role != "aid":
            wide = thickness + 2 * RIM * thickness_m
            rim = [_put(line, eye, depth + 0.003, place * thickness_m) for line in lines]
            made.append(_strokes("Drawing rim", rim, wide * _scale(eye, depth + 0.003), palette.RIM, eye, collection))
            # Round its line, and behind it from wherever one looks.
            made[-1].show_in_front = False
    return made


def _in_place(eye: Eye) -> bool:
    return eye.nearer == 1.0


def _scale(eye: Eye, depth: float) -> float:
    return 1.0 if _in_place(eye) else eye.nearer * depth


def _put(points: Floats, eye: Eye, depth: float, behind_m: float) -> Floats:
    """Places (K, 3) where they are drawn: brought nearer, or in their own place, what lies behind other lines a little behind."""
    return eye.behind(points, behind_m) if _in_place(eye) else eye.brought(points, depth)


def eye_of(camera: bpy.types.Object, nearer: float = 1.0) -> Eye:
    """The eye of a camera object without a parent."""
    matrix = np.array(camera.matrix_basis)
    return Eye(matrix[:3, 3], matrix[:3, 0], matrix[:3, 1], nearer)


def remove(items: list[bpy.types.Object]) -> None:
    """Take drawn objects and their data away."""
    for item in items:
        data = item.data
        bpy.data.objects.remove(item)
        if data is not None and data.users == 0:
            bpy.data.batch_remove([data])


def thickness_for(height_m: float) -> float:
    """How thick a measured line is, metres, in a picture that is so high there: legible and fine in any size."""
    return 0.0062 * height_m if math.isfinite(height_m) else 0.01


def fine_for(drawing: Drawing, usual_m: float) -> float:
    """The same for one drawing: no blob beside a short length."""
    lengths = [float(np.linalg.norm(s.tip - s.base)) for s in drawing.shapes if isinstance(s, Bracket) and s.role == "measured"]
    return usual_m if not lengths else max(min(usual_m, _OF_LENGTH * min(lengths)), _THINNEST * usual_m)
