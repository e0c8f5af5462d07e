"""How bad it is on which body part at which moment, and how the skin shows it without Python on every frame.

A hidden mesh holds one point for each frame and body part; geometry nodes on the body look the present frame up in it and
write colour and girth.
"""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..analysis_core.body.movement import SEGMENTS
from ..analysis_core.findings.finding import Finding
from ..analysis_core.take import Floats
from .nodes import Nodes, new_tree
from .skin import Skin

COLOUR = "severity_colour"
_LEVEL, _UNKNOWN = "level", "unknown"
#: Attribute of the body's points: 1 where the body part is not looked at; and the colour it fades to.
DIMMED = "dimmed"
_FADED = (0.50, 0.52, 0.55)
#: Linear colours of the palette: amber to watch, violet-magenta for a fault, blue-grey where it cannot be told.
WATCH, FAULT, CANNOT_TELL = (0.888, 0.451, 0.033), (0.366, 0.010, 0.105), (0.20, 0.27, 0.36)
#: Levels: watch lies around the middle, faults above it.
_LEVEL_OF_GRADE = {"watch": (0.35, 0.2), "fault": (0.75, 0.25)}
#: A finding comes and goes over this time. Proposed default, no published norm.
_FADE_S = 0.15
#: How much a body part swells at the highest level, metres.
_SWELLING_M = 0.009
#: Named by findings for more than one segment.
_ALSO = {"trunk": ("lumbar", "thorax"), "leg": ("thigh", "shank"), "arm": ("upper_arm", "forearm")}


def segments_named(parts: tuple[str, ...]) -> list[int]:
    """Indices in SEGMENTS of the body parts that a finding names."""
    names = []
    for part in parts:
        base, dot, side = part.partition(".")
        names += [f"{name}{dot}{side}" if name not in SEGMENTS else name for name in _ALSO.get(base, (base,))]
    return [SEGMENTS.index(name) for name in names if name in SEGMENTS]


def level_of(finding: Finding) -> float:
    """Where a finding lies between calm (0) and the worst (1)."""
    low, more = _LEVEL_OF_GRADE[finding.grade]
    return float(low + more * np.clip(finding.severity, 0.0, 1.0))


def levels_of(findings: tuple[Finding, ...], time_s: Floats) -> Floats:
    """Levels (F, S) of SEGMENTS, continuous in time; what a teacher set aside is calm."""
    levels = np.zeros((len(time_s), len(SEGMENTS)))
    for finding in findings:
        if finding.decision == "set aside":
            continue
        edges = (finding.start_s - _FADE_S, finding.start_s, finding.end_s, finding.end_s + _FADE_S)
        course = level_of(finding) * np.interp(time_s, edges, (0.0, 1.0, 1.0, 0.0))
        for index in segments_named(finding.parts):
            levels[:, index] = np.maximum(levels[:, index], course)
    return levels


def _table(name: str, levels: Floats, known: NDArray[np.bool_], collection: Any) -> Any:
    mesh = bpy.data.meshes.new(name)
    mesh.vertices.add(levels.size)
    for attribute, values in ((_LEVEL, levels), (_UNKNOWN, ~known)):
        mesh.attributes.new(attribute, "FLOAT", "POINT").data.foreach_set("value", values.astype(np.float32).ravel())
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
        ("part", "INT", order[:, 0]),
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
    for name in ("part", "other_part"):
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
    level, unknown = (_looked_up(nodes, geometry, attribute, row) for attribute in (_LEVEL, _UNKNOWN))
    stripes, own = nodes.named("stripes", "FLOAT"), nodes.named(COLOUR, "FLOAT_COLOR")
    grey = nodes.mix(
        nodes.math("MULTIPLY", unknown, nodes.math("ADD", 0.55, nodes.math("MULTIPLY", stripes, 0.4))), own, (*CANNOT_TELL, 1.0)
    )
    towards_fault = nodes.math(
        "MINIMUM", nodes.math("MAXIMUM", nodes.math("MULTIPLY", nodes.math("SUBTRACT", level, 0.5), 4.0), 0.0), 1.0
    )
    severity = nodes.mix(towards_fault, (*WATCH, 1.0), (*FAULT, 1.0))
    shown = nodes.math("MINIMUM", nodes.math("MULTIPLY", level, 3.0), 1.0)
    coloured = nodes.mix(shown, grey, severity)
    # Light rings on a fault tell it from what needs watching without any colour.
    ringed = nodes.mix(
        nodes.math("MULTIPLY", nodes.math("MULTIPLY", stripes, towards_fault), 0.42), coloured, (0.95, 0.80, 0.86, 1.0)
    )
    # Body parts that are not looked at fade towards the wall.
    ringed = nodes.mix(nodes.math("MULTIPLY", nodes.named(DIMMED, "FLOAT"), 0.85), ringed, (*_FADED, 1.0))
    normal = nodes.add("GeometryNodeInputNormal").outputs[0]
    swollen = nodes.add("ShaderNodeVectorMath", {0: normal}, operation="SCALE")
    tree.links.new(nodes.math("MULTIPLY", level, _SWELLING_M), swollen.inputs["Scale"])
    moved = nodes.add("GeometryNodeSetPosition", {"Geometry": start, "Offset": swollen.outputs[0]})
    stored = nodes.add(
        "GeometryNodeStoreNamedAttribute", {"Geometry": moved.outputs[0], "Name": COLOUR}, data_type="FLOAT_COLOR", domain="POINT"
    )
    tree.links.new(ringed, stored.inputs["Value"])
    end = nodes.add("NodeGroupOutput")
    tree.links.new(stored.outputs[0], end.inputs[0])
    return tree


def isolate(body: Any, parts: tuple[str, ...] | None) -> None:
    """Let all but some body parts of a figure fade; None shows the whole figure again."""
    mesh = body.data
    part = np.empty(len(mesh.vertices), dtype=np.int32)
    mesh.attributes["part"].data.foreach_get("value", part)
    kept = np.isin(part, segments_named(parts)) if parts is not None else np.ones(part.size, dtype=bool)
    dimmed = mesh.attributes.get(DIMMED) or mesh.attributes.new(DIMMED, "FLOAT", "POINT")
    dimmed.data.foreach_set("value", np.where(kept, 0.0, 1.0).astype(np.float32))
    mesh.update()


def is_figure(item: Any) -> bool:
    """Whether an object is the body of a figure that shows severity."""
    return item.type == "MESH" and item.modifiers.get("Severity") is not None


def show_severity(body: Any, levels: Floats, known: NDArray[np.bool_], frame_start: int, collection: Any) -> None:
    """Colour a body by levels (F, S) and dim what is not known (F, S); row i lies on frame frame_start + i."""
    table = _table(f"{body.name} severity", levels, known, collection)
    modifier = body.modifiers.new("Severity", "NODES")
    modifier.node_group = _tree(f"{body.name} severity", table, len(levels), frame_start)
