"""The measure drawn on the body: curves and faces from the core's description, in its places, seen before everything else.

Keyed or fixed once; nothing runs on any frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from ..analysis_core.figure import palette
from ..analysis_core.take import Floats
from ..analysis_core.views.drawing import Area, Bracket, Drawing, Line, Role, Shape, Sweep, Way
from .captions import without_shadow
from .stage import mesh_object, own_material

_COLOURS = {"measured": palette.MEASURED, "reference": palette.REFERENCE, "band": palette.BAND, "aid": palette.AID}
#: Thickness of a line of each role, in units of the drawing's own; the rim goes round it on both sides.
_THICK = {"measured": 1.0, "reference": 0.7, "band": 0.7, "aid": 0.4}
_RIM = 0.55
#: Dashes and the gaps between them, in units of the line's thickness.
_DASH, _GAP = 4.0, 3.0
#: The band's stripe, as shares of its arc's radius; as a step, its width in thicknesses.
_STRIPE, _STEP = (0.80, 1.0), 3.0
_ARC_STEPS = 48


@dataclass(frozen=True)
class Eye:
    """From where a drawing is seen. place (3,), right (3,), up (3,): of the camera.

    nearer: share of the way from the eye at which the drawing lies, 1 = in its own place. Brought nearer it looks the same and
    hides behind nothing, in every engine.
    """

    place: Floats
    right: Floats
    up: Floats
    nearer: float = 1.0

    def brought(self, points: Floats, depth: float = 1.0) -> Floats:
        """Places (K, 3) brought nearer; ``depth`` below 1 still nearer."""
        return np.asarray(self.place + self.nearer * depth * (points - self.place))


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


def _dashed(line: Floats, dash: float, gap: float) -> list[Floats]:
    """A polyline cut into dashes."""
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    whole = float(along[-1])
    if whole <= dash:
        return [line]
    count = max(2, round((whole + gap) / (dash + gap)))
    scale = whole / (count * (dash + gap) - gap)
    cut = []
    for number in range(count):
        start = number * (dash + gap) * scale
        places = np.linspace(start, min(start + dash * scale, whole), 5)
        cut.append(np.stack([np.interp(places, along, line[:, axis]) for axis in range(3)], axis=1))
    return cut


def arc_of(sweep: Sweep, radius: float) -> Floats:
    """Points (K, 3) along a sweep at a radius."""
    angles = np.linspace(0.0, sweep.angle_rad, _ARC_STEPS)[:, None]
    axis, first = sweep.axis, sweep.first
    turned = np.cos(angles) * first + np.sin(angles) * np.cross(axis, first) + (1 - np.cos(angles)) * axis * (axis @ first)
    return np.asarray(sweep.centre + radius * turned)


def _lines_of(shape: Shape, thickness: float, eye: Eye) -> list[Floats]:
    """The polylines of a shape; the band's stripes are faces and none of these."""
    if isinstance(shape, Line):
        return [np.stack([shape.start, shape.end])]
    if isinstance(shape, Sweep):
        return [arc_of(shape, shape.radius_m), *_arrow(arc_of(shape, shape.radius_m), thickness, shape)]
    if isinstance(shape, Bracket):
        along = shape.tip - shape.base
        across = eye.right if abs(along @ eye.up) > abs(along @ eye.right) else eye.up
        bar = 4.0 * thickness * across
        return [np.stack([shape.base, shape.tip])] + [np.stack([end - bar, end + bar]) for end in (shape.base, shape.tip)]
    if isinstance(shape, Way):
        return [shape.points]
    if isinstance(shape, Area):
        return [np.concatenate([shape.corners, shape.corners[:1]])]
    size = 2.0 * thickness
    return [np.stack([p - size * way, p + size * way]) for p in shape.points for way in (eye.right, eye.up)]


def _arrow(arc: Floats, thickness: float, sweep: Sweep) -> list[Floats]:
    """The head of an arrow at the end of an arc that is long enough for one."""
    length = abs(sweep.angle_rad) * sweep.radius_m
    size = min(5.0 * thickness, 0.6 * length)
    if length < 3.0 * thickness:
        return []
    end = arc[-1]
    back = arc[-2] - end
    back = back / np.linalg.norm(back)
    outward = np.cross(back, sweep.axis)
    return [np.stack([end, end + size * (0.85 * back + side * 0.5 * outward)]) for side in (-1.0, 1.0)]


def _stripe(shape: Shape, thickness: float, eye: Eye) -> tuple[list[Floats], Floats] | None:
    """The faces of a band: quads (4, 3) of a ring or a step, and its outline (K, 3)."""
    if isinstance(shape, Sweep):
        inner, outer = (arc_of(shape, share * shape.radius_m) for share in _STRIPE)
        quads = [np.stack([inner[i], outer[i], outer[i + 1], inner[i + 1]]) for i in range(len(inner) - 1)]
        return quads, np.concatenate([inner, outer[::-1], inner[:1]])
    if isinstance(shape, Bracket):
        along = shape.tip - shape.base
        across = eye.right if abs(along @ eye.up) > abs(along @ eye.right) else eye.up
        near, far = (-across * thickness * (5.0 + offset) for offset in (0.0, _STEP))
        corners = np.stack([shape.base + near, shape.base + far, shape.tip + far, shape.tip + near])
        return [corners], np.concatenate([corners, corners[:1]])
    return None


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
        thickness = thickness_m * _THICK[role]
        lines: list[Floats] = []
        for shape in shapes:
            stripe = _stripe(shape, thickness_m, eye) if role == "band" else None
            if stripe is not None:
                quads = [carried(quad) for quad in stripe[0]]
                made.append(_faces(f"Drawing {role} stripe", quads, eye, depth, _COLOURS[role], collection))
                continue
            parts = [carried(line) for line in _lines_of(shape, thickness, eye)]
            if role == "reference":
                parts = [piece for line in parts for piece in _dashed(line, _DASH * thickness, _GAP * thickness)]
            lines += parts
        lines = [line for line in lines if len(line) > 1]
        if not lines:
            continue
        scale = eye.nearer * depth
        core = [eye.brought(line, depth) for line in lines]
        made.append(_strokes(f"Drawing {role}", core, thickness * scale, _COLOURS[role], eye, collection))
        if role != "aid" and eye.nearer < 1.0:
            rim = [eye.brought(line, depth + 0.003) for line in lines]
            width = (thickness + 2 * _RIM * thickness_m) * eye.nearer * (depth + 0.003)
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
