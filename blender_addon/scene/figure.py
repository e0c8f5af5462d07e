"""The dancer in Blender: armature, skin and severity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from bpy.types import Collection, Scene

from ..analysis_core.body.movement import SEGMENTS
from ..analysis_core.figure.looks import DEFAULT_LOOK
from ..analysis_core.figure.motion import Motion
from ..analysis_core.figure.proportions import Rest
from ..analysis_core.figure.skin import Skin, skin_of
from ..analysis_core.take import Floats
from ..blender_types import of_kind, there
from .armature import animate, make_armature
from .nodes import preset
from .quads import mesh_of_quads
from .severity import COLOUR, PART, add_attributes, show_severity


@dataclass(frozen=True)
class Figure:
    """armature and body are Blender objects; the body is parented to the armature."""

    armature: Any
    body: Any


#: What tells on the body that it is one of ours, and which look it has.
LOOK = "dance_review_figure"
#: What tells on the body that it is the second take's.
SECOND = "dance_review_second"
#: A picture of so many pixels in height shows the skin as fine as it is; in a lower one its points lie as many pixels apart, up
#: to where the rings that tell a fault would be lost between them. At 640 x 360 a foot seen from near still has its rings clean.
_FINE_HEIGHT, _COARSEST = 340, 1.6
#: The last skins, by look, coarseness and rest pose that they were made for: the same dancer comes back take after take.
_SKINS: dict[tuple[str, float, bytes], Skin] = {}
_SKINS_KEPT = 4


def coarseness_for(height_px: int) -> float:
    """How much further apart the points of a skin may lie that is only seen in pictures of a height in pixels."""
    return min(max(_FINE_HEIGHT / height_px, 1.0), _COARSEST)


def figure_skin(rest: Rest, look: str, coarseness: float = 1.0) -> Skin:
    """The skin of a dancer in a look; the last few are kept."""
    name = (
        look,
        coarseness,
        np.round(np.concatenate([rest.heads.ravel(), rest.rotations.ravel(), rest.feet.ravel()]), 4).tobytes(),
    )
    if name not in _SKINS:
        while len(_SKINS) >= _SKINS_KEPT:
            _SKINS.pop(next(iter(_SKINS)))
        _SKINS[name] = skin_of(rest, look, coarseness=coarseness)
    return _SKINS[name]


def coloured_material(name: str) -> Any:
    """A matt material that takes its colour from the severity attribute; the same in EEVEE and Cycles."""
    material = bpy.data.materials.new(name)
    if not material.use_nodes:
        material.use_nodes = True
    tree = there(material.node_tree)
    shader = next(node for node in tree.nodes if node.type == "BSDF_PRINCIPLED")
    attribute = of_kind(tree.nodes.new("ShaderNodeAttribute"), bpy.types.ShaderNodeAttribute)
    attribute.attribute_name = COLOUR
    tree.links.new(there(attribute.outputs)["Color"], shader.inputs["Base Color"])
    preset(shader.inputs["Roughness"], 0.65)
    return material


def _mesh(name: str, skin: Skin) -> bpy.types.Mesh:
    mesh = mesh_of_quads(name, skin.vertices_m, skin.quads)
    add_attributes(mesh, skin)
    return mesh


def _add_weights(body: Any, skin: Skin) -> None:
    # Blender takes weights by vertex and group only: vertices with the same rounded weight go in together.
    steps = 64
    rounded = np.round(skin.weights * steps).astype(np.int32)
    for index, name in enumerate(SEGMENTS):
        group = body.vertex_groups.new(name=name)
        used = np.flatnonzero(rounded[:, index])
        values = rounded[used, index]
        order = np.argsort(values, kind="stable")
        used, values = used[order], values[order]
        cuts = np.flatnonzero(np.diff(values)) + 1
        for vertices in np.split(used, cuts):
            if len(vertices):
                group.add(vertices.tolist(), float(rounded[vertices[0], index]) / steps, "REPLACE")


def make_figure(
    name: str,
    rest: Rest,
    motion: Motion,
    levels: Floats,
    frame_start: int,
    collection: Collection,
    look: str = DEFAULT_LOOK,
    coarseness: float = 1.0,
) -> Figure:
    """An animated dancer in a collection; row i of motion and levels (F, S) lies on frame frame_start + i. look: of LOOKS.
    coarseness: of the skin, see ``coarseness_for``."""
    armature = make_armature(name, rest, collection)
    animate(armature, rest, motion, frame_start)
    skin = figure_skin(rest, look, coarseness)
    mesh = _mesh(f"{name} body", skin)
    body = bpy.data.objects.new(f"{name} body", mesh)
    collection.objects.link(body)
    body.parent = armature
    mesh.materials.append(coloured_material(f"{name} skin"))
    body[LOOK] = look
    _add_weights(body, skin)
    show_severity(body, levels, motion.known, frame_start, collection)
    bend = of_kind(body.modifiers.new("Armature", "ARMATURE"), bpy.types.ArmatureModifier)
    bend.object = armature
    bend.use_deform_preserve_volume = True
    armature.hide_render = True
    return Figure(armature, body)


def is_figure(item: Any) -> bool:
    """Whether an object is the body of a dancer that make_figure made, whatever it and its modifiers are called by now."""
    return item.type == "MESH" and LOOK in item and PART in item.data.attributes


def body_in(scene: Scene) -> Any | None:
    """The body of the dancer that a scene shows, not of a second take; None when it was taken out."""
    return next((item for item in scene.objects if is_figure(item) and item.get(SECOND) is None), None)


def look_in(scene: Scene) -> str:
    """The look of the dancer that a scene shows."""
    body = body_in(scene)
    return DEFAULT_LOOK if body is None else str(body[LOOK])


def change_look(body: Any, rest: Rest, look: str) -> None:
    """Give a body that make_figure made another look; what moves and colours it stays."""
    before = body.data
    skin = figure_skin(rest, look)
    body.data = mesh = _mesh(before.name, skin)
    for material in before.materials:
        mesh.materials.append(material)
    body.vertex_groups.clear()
    _add_weights(body, skin)
    body[LOOK] = look
    if before.users == 0:
        bpy.data.meshes.remove(before)
