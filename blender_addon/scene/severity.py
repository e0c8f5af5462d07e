"""How bad it is on which body part at which moment, and how the skin shows it without Python on every frame.

A hidden mesh holds one point for each frame and body part; geometry nodes on the body look the present frame up in it and
write colour and girth.
"""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from bpy.types import Collection
from numpy.typing import NDArray

from ..analysis_core.body.movement import SEGMENTS
from ..analysis_core.figure import palette
from ..analysis_core.figure.levels import segments_named
from ..analysis_core.figure.skin import Skin
from ..analysis_core.take import Floats
from ..blender_types import of_kind
from .nodes import Nodes, new_tree

COLOUR = "severity_colour"
#: Attribute of the body's points: how bad it is there at this moment, 0 to 1.
LEVEL = "level"
_UNKNOWN = "unknown"
#: Attribute of the body's points: the body part that moves a point most.
PART = "part"
#: Attribute of the body's points: 1 where the body part is not looked at.
DIMMED = "dimmed"


def _table(name: str, levels: Floats, known: NDArray[np.bool_], collection: Collection) -> Any:
    mesh = bpy.data.meshes.new(name)
    mesh.vertices.add(levels.size)
    for attribute, values in ((LEVEL, levels), (_UNKNOWN, ~known)):
        made = of_kind(mesh.attributes.new(attribute, "FLOAT", "POINT"), bpy.types.FloatAttribute)
        made.data.foreach_set("value", values.astype(np.float32).ravel())
    table = bpy.data.objects.new(name, mesh)
    table.hide_render = table.hide_viewport = table.hide_select = True
    collection.objects.link(table)
    return table


def add_attributes(mesh: Any, skin: Skin) -> None:
    """Give the body's mesh what the nodes read: its own colour, stripes, and the two body parts that move each point most."""
    order = np.argsort(skin.weights, axis=1)[:, ::-1]
    first = np.take_along_axis(skin.weights, order[:, :1], axis=1)[:, 0]
    second = np.take_along_axis(skin.weights, order[:, 1:2], axis=1)[:, 0]
    # In between two parts both colours mix over a narrow band, so that parts stay told apart.
    share = np.clip(0.5 + (second / (first + second) - 0.5) * 2.5, 0.0, 0.5)
    for name, kind, values in (
        (PART, "INT", order[:, 0]),
        ("other_part", "INT", order[:, 1]),
        ("other_share", "FLOAT", share),
        ("stripes", "FLOAT", skin.stripes),
    ):
        data = mesh.attributes.new(name, kind, "POINT").data
        data.foreach_set("value", values.astype(np.int32 if kind == "INT" else np.float32))
    colour = mesh.color_attributes.new(COLOUR, "FLOAT_COLOR", "POINT")
    full = np.concatenate([skin.colours, np.ones((len(skin.colours), 1))], axis=1)
    colour.data.foreach_set("color", full.astype(np.float32).ravel())
    mesh.color_attributes.active_color = colour
    mesh.color_attributes.render_color_index = mesh.color_attributes.active_color_index


def _looked_up(nodes: Nodes, geometry: Any, attribute: str, row: Any) -> Any:
    """The value of a table for both parts of a point, mixed."""
    found = []
    for name in (PART, "other_part"):
        index = nodes.math("ADD", nodes.math("MULTIPLY", row, float(len(SEGMENTS))), nodes.named(name, "INT"))
        value = nodes.named(attribute, "FLOAT")
        sample = nodes.add("GeometryNodeSampleIndex", {0: geometry}, data_type="FLOAT", domain="POINT")
        nodes.tree.links.new(value, sample.inputs["Value"])
        nodes.tree.links.new(index, sample.inputs["Index"])
        found.append(sample.outputs[0])
    share = nodes.named("other_share", "FLOAT")
    return nodes.math(
        "ADD", nodes.math("MULTIPLY", found[0], nodes.math("SUBTRACT", 1.0, share)), nodes.math("MULTIPLY", found[1], share)
    )


def _tree(name: str, table: Any, frames: int, frame_start: int) -> Any:
    tree = new_tree(name)
    nodes = Nodes(tree)
    start = nodes.add("NodeGroupInput").outputs[0]
    row = nodes.row_of_frame(frame_start, frames)
    geometry = nodes.add("GeometryNodeObjectInfo", {"Object": table}).outputs["Geometry"]
    level, unknown = (_looked_up(nodes, geometry, attribute, row) for attribute in (LEVEL, _UNKNOWN))
    stripes, own = nodes.named("stripes", "FLOAT"), nodes.named(COLOUR, "FLOAT_COLOR")
    dimming = nodes.math("ADD", palette.UNKNOWN_STRENGTH, nodes.math("MULTIPLY", stripes, palette.UNKNOWN_RING_STRENGTH))
    grey = nodes.mix(nodes.math("MULTIPLY", unknown, dimming), own, (*palette.CANNOT_TELL, 1.0))
    above = nodes.math("MULTIPLY", nodes.math("SUBTRACT", level, palette.TURNS_AT), palette.TURNS_GAIN)
    towards_fault = nodes.math("MINIMUM", nodes.math("MAXIMUM", above, 0.0), 1.0)
    severity = nodes.mix(towards_fault, (*palette.WATCH, 1.0), (*palette.FAULT, 1.0))
    shown = nodes.math("MINIMUM", nodes.math("MULTIPLY", level, palette.SHOWN_GAIN), 1.0)
    coloured = nodes.mix(shown, grey, severity)
    # Light rings on a fault tell it from what needs watching without any colour.
    rings = nodes.math("MULTIPLY", nodes.math("MULTIPLY", stripes, towards_fault), palette.RING_STRENGTH)
    ringed = nodes.mix(rings, coloured, (*palette.RING, 1.0))
    # Body parts that are not looked at fade towards the wall.
    faded = nodes.math("MULTIPLY", nodes.named(DIMMED, "FLOAT"), palette.FADED_STRENGTH)
    ringed = nodes.mix(faded, ringed, (*palette.FADED, 1.0))
    normal = nodes.add("GeometryNodeInputNormal").outputs[0]
    swollen = nodes.add("ShaderNodeVectorMath", {0: normal}, operation="SCALE")
    tree.links.new(nodes.math("MULTIPLY", level, palette.SWELLING_M), swollen.inputs["Scale"])
    moved = nodes.add("GeometryNodeSetPosition", {"Geometry": start, "Offset": swollen.outputs[0]})
    stored = nodes.add(
        "GeometryNodeStoreNamedAttribute", {"Geometry": moved.outputs[0], "Name": COLOUR}, data_type="FLOAT_COLOR", domain="POINT"
    )
    tree.links.new(ringed, stored.inputs["Value"])
    told = nodes.add(
        "GeometryNodeStoreNamedAttribute",
        {"Geometry": stored.outputs[0], "Name": LEVEL, "Value": level},
        data_type="FLOAT",
        domain="POINT",
    )
    end = nodes.add("NodeGroupOutput")
    tree.links.new(told.outputs[0], end.inputs[0])
    return tree


def isolate(body: Any, parts: tuple[str, ...] | None) -> None:
    """Let all but some body parts of a figure fade; None shows the whole figure again."""
    mesh = body.data
    part = np.empty(len(mesh.vertices), dtype=np.int32)
    mesh.attributes[PART].data.foreach_get("value", part)
    kept = np.isin(part, segments_named(parts)) if parts is not None else np.ones(part.size, dtype=bool)
    wanted = np.where(kept, 0.0, 1.0).astype(np.float32)
    dimmed = mesh.attributes.get(DIMMED)
    if dimmed is None:
        dimmed = mesh.attributes.new(DIMMED, "FLOAT", "POINT")
    else:
        now = np.empty(part.size, dtype=np.float32)
        dimmed.data.foreach_get("value", now)
        if np.array_equal(now, wanted):
            return  # told again, Blender would work out the whole figure anew
    dimmed.data.foreach_set("value", wanted)
    mesh.update()


def show_severity(body: Any, levels: Floats, known: NDArray[np.bool_], frame_start: int, collection: Collection) -> None:
    """Colour a body by levels (F, S) and dim what is not known (F, S); row i lies on frame frame_start + i."""
    table = _table(f"{body.name} severity", levels, known, collection)
    modifier = body.modifiers.new("Severity", "NODES")
    modifier.node_group = _tree(f"{body.name} severity", table, len(levels), frame_start)
