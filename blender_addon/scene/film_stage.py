"""The room of a film: a light backdrop, a turntable for each dancer, and soft shadows that ground her.

Shadows are painted by nodes from how near the body is to the floor: soft as under a wide lamp overhead, the same in every engine,
and they cost a fraction of what the engine's own hard ones do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np
from bpy.types import Collection, Scene
from mathutils import Vector

from ..analysis_core.take import Floats
from ..blender_types import add_nodes, mesh_of, of_kind, there
from .captions import without_shadow
from .figure import coloured_material
from .nodes import Nodes, new_tree
from .severity import COLOUR
from .stage import draw_in_own_colours, mesh_object, own_material

#: Colours, linear and brighter than they come out: the studio light takes its share. Wall, floor round the stages, a stage's
#: upper side and its rim, the marks on it.
_WALL, _POOL = (1.36, 1.31, 1.25), (1.52, 1.48, 1.42)
_TOP, _RIM, _MARKS = (1.62, 1.58, 1.52), (0.78, 0.75, 0.72), (0.70, 0.67, 0.64)
#: How much darker the picture gets towards its corners.
_VIGNETTE = 0.22
#: Corners of the backdrop's grid; rings of a stage lie so far apart, metres, with so many corners.
_GRID, _RING_M, _AROUND = 96, 0.025, 96
#: Height of a stage, metres; it stands on the floor with a shadow that reaches so far beyond it, share of its radius.
HIGH_M, _BEYOND = 0.05, 0.45
#: Near the body the floor is darker by at most so much, within so many metres; and below it likewise.
_CONTACT, _CONTACT_M, _BELOW, _BELOW_M = 0.55, 0.11, 0.34, 0.26
#: Marks round the rim of a stage: so many, so long and broad; every sixth one is longer.
_TICKS, _LONG_M, _BROAD_M = 24, 0.05, 0.008


def _painted(
    name: str, vertices: Floats, faces: Sequence[tuple[int, ...]], colours: Floats, collection: Collection
) -> bpy.types.Object:
    """A mesh with a colour for every point."""
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(vertices.tolist(), [], faces)
    colour = of_kind(mesh.color_attributes.new(COLOUR, "FLOAT_COLOR", "POINT"), bpy.types.FloatColorAttribute)
    colour.data.foreach_set("color", np.column_stack([colours, np.ones(len(colours))]).astype(np.float32).ravel())
    mesh.color_attributes.active_color = colour
    mesh.color_attributes.render_color_index = there(mesh.color_attributes.active_color_index)
    mesh.materials.append(coloured_material(name))
    made = bpy.data.objects.new(name, mesh)
    made.hide_select = True
    without_shadow(made)
    collection.objects.link(made)
    return made


def backdrop(
    camera: bpy.types.Object,
    width: float,
    height: float,
    stages: list[tuple[Vector, float]],
    tilt_rad: float,
    collection: Collection,
) -> None:
    """A wall behind everything, lighter in the middle, with a soft shadow below each stage. stages: place and radius.

    It hangs from the camera and is painted as the floor would be seen.
    """
    across, up = np.meshgrid(np.linspace(-0.5, 0.5, _GRID) * width, np.linspace(-0.5, 0.5, _GRID) * height)
    light = 1.0 - _VIGNETTE * np.clip((across / (0.62 * width)) ** 2 + (up / (0.62 * height)) ** 2, 0.0, 1.0)
    colours = np.array(_WALL) * light[..., None]
    flat = math.sin(tilt_rad)
    for place, radius in stages:
        down = up - (place.z * math.cos(tilt_rad) - HIGH_M)
        away = np.hypot((across - place.x) / radius, down / (flat * radius))
        pool = np.exp(-0.5 * (away / 1.5) ** 2)[..., None]
        colours = colours * (1 - 0.8 * pool) + np.array(_POOL) * 0.8 * pool
        shadow = np.clip((1.0 + _BEYOND - away) / _BEYOND, 0.0, 1.0)
        colours = colours * (1.0 - 0.38 * (shadow * shadow * (3 - 2 * shadow)))[..., None]
    far = 2.0 * float(camera.location.length)
    vertices = np.stack([across.ravel(), up.ravel(), np.full(across.size, -far)], axis=1) * [1.02, 1.02, 1.0]
    at = np.arange(_GRID * _GRID).reshape(_GRID, _GRID)
    faces = np.stack([at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]], axis=-1).reshape(-1, 4)
    made = _painted("Backdrop", vertices, [tuple(face) for face in faces.tolist()], colours.reshape(-1, 3), collection)
    made.parent = camera


def _shaded(body: bpy.types.Object) -> bpy.types.NodeTree:
    """Nodes that darken a floor near and below a body."""
    nodes = Nodes(new_tree(f"Shadow of {body.name}"))
    start = nodes.add("NodeGroupInput").outputs[0]
    shape = nodes.add("GeometryNodeObjectInfo", {"Object": body}, transform_space="RELATIVE").outputs["Geometry"]
    place = nodes.add("GeometryNodeInputPosition").outputs[0]
    level = nodes.add("ShaderNodeVectorMath", {0: place, 1: (1.0, 1.0, 0.0)}, operation="MULTIPLY").outputs[0]
    pressed = nodes.add("GeometryNodeSetPosition", {"Geometry": shape, "Position": level}).outputs[0]
    light: Any = 1.0
    for geometry, strength, reach in ((shape, _CONTACT, _CONTACT_M), (pressed, _BELOW, _BELOW_M)):
        near = nodes.add("GeometryNodeProximity", {0: geometry, "Source Position": place}, target_element="POINTS")
        share = nodes.math("MAXIMUM", nodes.math("SUBTRACT", 1.0, nodes.math("DIVIDE", near.outputs["Distance"], reach)), 0.0)
        soft = nodes.math("MULTIPLY", share, share)
        light = nodes.math("MULTIPLY", light, nodes.math("SUBTRACT", 1.0, nodes.math("MULTIPLY", soft, strength)))
    own = nodes.named(COLOUR, "FLOAT_COLOR")
    grey = nodes.add("FunctionNodeCombineColor", {0: light, 1: light, 2: light}).outputs[0]
    stored = nodes.add("GeometryNodeStoreNamedAttribute", {0: start, "Name": COLOUR}, data_type="FLOAT_COLOR", domain="POINT")
    nodes.tree.links.new(nodes.mix(1.0, own, grey, "MULTIPLY"), stored.inputs["Value"])
    nodes.tree.links.new(stored.outputs[0], nodes.add("NodeGroupOutput").inputs[0])
    return of_kind(nodes.tree, bpy.types.NodeTree)


def turntable(name: str, radius: float, body: bpy.types.Object, collection: Collection) -> list[bpy.types.Object]:
    """A round stage with its upper side at 0, darker where the body is near, with marks that show that it turns."""
    count = max(8, round(radius / _RING_M))
    angles = np.arange(_AROUND) * 2.0 * math.pi / _AROUND
    ring = np.stack([np.cos(angles), np.sin(angles), np.zeros(_AROUND)], axis=1)
    vertices = np.concatenate([np.zeros((1, 3)), *(radius * (i + 1) / count * ring for i in range(count))])
    at = 1 + np.arange(count * _AROUND).reshape(count, _AROUND)
    turned = np.roll(at, -1, axis=1)
    faces: list[tuple[int, ...]] = [(0, int(a), int(b)) for a, b in zip(at[0], turned[0], strict=True)]
    faces += [tuple(f) for f in np.stack([at[:-1], at[1:], turned[1:], turned[:-1]], axis=-1).reshape(-1, 4).tolist()]
    away = np.hypot(vertices[:, 0], vertices[:, 1]) / radius
    colours = np.array(_TOP) * (1.0 - 0.10 * away**2)[:, None]
    top = _painted(f"{name} top", vertices, faces, colours, collection)
    add_nodes(top, "Shadow", _shaded(body))
    low = radius * ring - [0.0, 0.0, HIGH_M]
    walls = [(i, (i + 1) % _AROUND, _AROUND + (i + 1) % _AROUND, _AROUND + i) for i in range(_AROUND)]
    side = _painted(f"{name} side", np.concatenate([low, radius * ring]), walls, np.tile(_RIM, (2 * _AROUND, 1)), collection)
    mesh_of(side).shade_smooth()
    return [top, side, _marks(f"{name} marks", radius, collection)]


def _marks(name: str, radius: float, collection: Collection) -> bpy.types.Object:
    corners: list[tuple[float, float, float]] = []
    for number in range(_TICKS):
        angle = number * 2 * math.pi / _TICKS
        along, beside = np.array([math.cos(angle), math.sin(angle)]), np.array([-math.sin(angle), math.cos(angle)])
        inner = radius - 0.03 - _LONG_M * (2.0 if number % 6 == 0 else 1.0)
        for distance, side in ((inner, -1), (radius - 0.03, -1), (radius - 0.03, 1), (inner, 1)):
            x, y = along * distance + beside * side * _BROAD_M / 2
            corners.append((float(x), float(y), 0.002))
    faces = [tuple(range(i, i + 4)) for i in range(0, len(corners), 4)]
    made = mesh_object(name, corners, faces, own_material("Stage marks", _MARKS), collection)
    without_shadow(made)
    return made


def draw_softly(scene: Scene, *, draft: bool) -> None:
    """How Workbench renders the film: without its hard shadow."""
    draw_in_own_colours(scene, shadows=False, samples="FXAA" if draft else "5")
