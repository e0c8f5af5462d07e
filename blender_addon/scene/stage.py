"""Where the dancer is shown: floor, light, the world around, and how Workbench draws it."""

from __future__ import annotations

import math
from typing import Any, Literal

import bpy
import numpy as np
from bpy.types import Collection, Scene

from ..blender_types import of_kind, there
from .nodes import preset

#: The custom property by which our materials are found again, whatever they are called by now.
OWN = "dance_review_material"
#: Linear colours.
_FLOOR, _LINES, _WORLD = (0.30, 0.31, 0.33), (0.19, 0.20, 0.22), (0.55, 0.57, 0.60)


def plain_material(name: str, colour: tuple[float, float, float], *, glowing: bool = False) -> bpy.types.Material:
    """One colour, the same in every engine; ``glowing`` ones do not depend on the light."""
    material = bpy.data.materials.new(name)
    if not material.use_nodes:
        material.use_nodes = True
    material.diffuse_color = (*colour, 1.0)
    material.roughness = 0.9
    shader = next(node for node in there(material.node_tree).nodes if node.type == "BSDF_PRINCIPLED")
    # What glows reflects nothing: lit as well it would be twice as bright, and dark words before it would be eaten away.
    preset(shader.inputs["Base Color"], (0.0, 0.0, 0.0, 1.0) if glowing else (*colour, 1.0))
    preset(shader.inputs["Roughness"], 0.9)
    if glowing:
        preset(shader.inputs["Specular IOR Level"], 0.0)
        preset(shader.inputs["Emission Color"], (*colour, 1.0))
        preset(shader.inputs["Emission Strength"], 1.0)
    return material


def own_material(name: str, colour: tuple[float, float, float], *, glowing: bool = False) -> bpy.types.Material:
    """The material of ours with this name, made when there is none; one of the user's that is called alike is left alone."""
    for material in bpy.data.materials:
        if material.get(OWN) == name and material.library is None:
            return material
    material = plain_material(name, colour, glowing=glowing)
    material[OWN] = name
    return material


def translucent(material: bpy.types.Material, alpha: float) -> bpy.types.Material:
    """Let a material of ours hide only so much of what lies behind it."""
    material.diffuse_color[3] = alpha
    material.surface_render_method = "BLENDED"
    # Or its far side would be seen through its near one.
    material.use_transparency_overlap = False
    shader = next(node for node in there(material.node_tree).nodes if node.type == "BSDF_PRINCIPLED")
    preset(shader.inputs["Alpha"], alpha)
    return material


def mesh_object(name: str, vertices: Any, faces: Any, material: bpy.types.Material, collection: Collection) -> bpy.types.Object:
    """A mesh object of one colour."""
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(vertices, [], faces)
    mesh.materials.append(material)
    made = bpy.data.objects.new(name, mesh)
    made.color = material.diffuse_color
    made.hide_select = True
    collection.objects.link(made)
    return made


def disc(
    name: str, radius: float, height: float, material: bpy.types.Material, collection: Collection, corners: int = 96
) -> bpy.types.Object:
    """A round stage with its upper side at 0."""
    angles = np.arange(corners) * 2.0 * math.pi / corners
    ring = [(radius * math.cos(a), radius * math.sin(a)) for a in angles]
    vertices = [(x, y, 0.0) for x, y in ring] + [(x, y, -height) for x, y in ring]
    sides = [(i, corners + i, corners + (i + 1) % corners, (i + 1) % corners) for i in range(corners)]
    return mesh_object(name, vertices, [tuple(range(corners)), *sides], material, collection)


def floor(low: tuple[float, float], high: tuple[float, float], collection: Collection) -> None:
    """A studio floor with a line every metre, so that travelling shows. Corners in metres, in the laboratory."""
    x0, y0, x1, y1 = (math.floor(low[0]), math.floor(low[1]), math.ceil(high[0]), math.ceil(high[1]))
    mesh_object(
        "Floor", [(x0, y0, 0), (x1, y0, 0), (x1, y1, 0), (x0, y1, 0)], [(0, 1, 2, 3)], plain_material("Floor", _FLOOR), collection
    )
    half, above = 0.006, 0.0015
    vertices: list[tuple[float, float, float]] = []
    for x in range(x0, x1 + 1):
        vertices += [(x - half, y0, above), (x + half, y0, above), (x + half, y1, above), (x - half, y1, above)]
    for y in range(y0, y1 + 1):
        vertices += [(x0, y - half, above), (x1, y - half, above), (x1, y + half, above), (x0, y + half, above)]
    faces = [tuple(range(i, i + 4)) for i in range(0, len(vertices), 4)]
    mesh_object("Floor lines", vertices, faces, plain_material("Floor lines", _LINES), collection)


def light(collection: Collection) -> None:
    """A key light from the front left and above, and a softer one from behind on the right."""
    for name, energy, turn, angle in (("Key light", 2.6, (0.75, 0.25, 0.9), 0.12), ("Rim light", 1.2, (-0.9, 0.3, 2.4), 0.4)):
        data = of_kind(bpy.data.lights.new(name, "SUN"), bpy.types.SunLight)
        data.energy, data.angle = energy, angle
        made = bpy.data.objects.new(name, data)
        made.rotation_euler = turn
        made.location = (0.0, 0.0, 4.0)
        made.hide_select = True
        collection.objects.link(made)


def world(scene: Scene) -> None:
    """A calm light background, in every engine."""
    made = bpy.data.worlds.new("Studio")
    if not made.use_nodes:
        made.use_nodes = True
    made.color = _WORLD
    background = next(node for node in there(made.node_tree).nodes if node.type == "BACKGROUND")
    preset(background.inputs[0], (*_WORLD, 1.0))
    preset(background.inputs[1], 0.7)
    scene.world = made


def plain_colours(scene: Scene) -> None:
    """Colours are rendered as they are."""
    colours: Any = scene.view_settings  # Blender's types know none of its transforms
    colours.view_transform = "Standard"


def draw_in_own_colours(scene: Scene, *, shadows: bool, samples: Literal["FXAA", "5", "8"]) -> None:
    """How Workbench renders: studio light that models the body; severity in its own colours. samples: against jagged edges."""
    display = there(scene.display)
    shading = there(display.shading)
    shading.light = "STUDIO"
    shading.color_type = "VERTEX"
    shading.background_type = "WORLD"
    shading.show_shadows = shadows
    shading.show_cavity = True
    shading.cavity_type = "WORLD"
    shading.show_object_outline = False
    # Highlights would grey the words and wash the colours of severity out.
    shading.show_specular_highlight = False
    display.render_aa = samples
    plain_colours(scene)


def draw_plainly(scene: Scene) -> None:
    """How Workbench renders the scene, with a soft shadow."""
    draw_in_own_colours(scene, shadows=True, samples="8")
    display = there(scene.display)
    there(display.shading).shadow_intensity = 0.35
    display.shadow_focus = 0.4
    display.light_direction = (0.4, 0.55, 0.73)
