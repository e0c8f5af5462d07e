"""Nodes that bring what is drawn on the body nearer to the active camera."""

from __future__ import annotations

from typing import Any

from .nodes import Nodes, new_tree

#: 1 where a point stands in its own place (a view), 0 where it was brought nearer already (a render).
IN_PLACE = "in_place"
#: Nodes of our own trees that hold what differs from one tree to another: the share of the way from the eye at which a drawing
#: lies, how far it is lifted, how it is turned.
_NEARER, _LIFT, _TURN = "Nearer", "Lift", "Turn"

#: How a geometry that faces the camera stands: lifted by so much along its own Z axis, metres, and turned by this angle about
#: its own Y axis, radians.
Facing = tuple[float, float]


def _value(nodes: Nodes, name: str) -> Any:
    """A number that a tree holds by a name."""
    node = nodes.add("ShaderNodeValue")
    node.name = node.label = name
    return node.outputs[0]


def _build(*, faces: bool) -> Any:
    """A tree with none of its numbers told. faces: the geometry turns about its origin, so that it faces whatever camera is
    active."""
    nodes = Nodes(new_tree("drawing"))
    start = nodes.add("NodeGroupInput").outputs[0]
    camera = nodes.add("GeometryNodeObjectInfo", transform_space="RELATIVE")
    nodes.tree.links.new(nodes.add("GeometryNodeInputActiveCamera").outputs[0], camera.inputs["Object"])
    eye = camera.outputs["Location"]
    in_view = nodes.add("GeometryNodeIsViewport").outputs[0]
    nearer = _value(nodes, _NEARER)
    share = nodes.math("ADD", nearer, nodes.math("MULTIPLY", in_view, nodes.math("SUBTRACT", 1.0, nearer)))
    place = nodes.add("GeometryNodeInputPosition").outputs[0]
    if faces:
        lifted = nodes.add("ShaderNodeVectorMath", {0: place}, operation="ADD")
        turned = nodes.add("FunctionNodeRotateVector", {"Vector": lifted.outputs[0]})
        lifted.name, turned.name = _LIFT, _TURN
        place = nodes.add(
            "FunctionNodeRotateVector", {"Vector": turned.outputs[0], "Rotation": camera.outputs["Rotation"]}
        ).outputs[0]
    away = nodes.add("ShaderNodeVectorMath", {0: place, 1: eye}, operation="SUBTRACT").outputs[0]
    shrunk = nodes.add("ShaderNodeVectorMath", {0: away, "Scale": share}, operation="SCALE").outputs[0]
    brought = nodes.add("ShaderNodeVectorMath", {0: shrunk, 1: eye}, operation="ADD").outputs[0]
    moved = nodes.add("GeometryNodeSetPosition", {"Geometry": start, "Position": brought}).outputs[0]
    told = nodes.add("GeometryNodeStoreNamedAttribute", {"Geometry": moved, "Name": IN_PLACE, "Value": in_view}).outputs[0]
    end = nodes.add("NodeGroupOutput")
    nodes.tree.links.new(told, end.inputs[0])
    return nodes.tree


class Trees:
    """Makes the trees of a scene's drawings: the first of either kind is built, the others are its copies with numbers of their
    own, which Blender makes in a tenth of the time."""

    def __init__(self) -> None:
        self._built: dict[bool, Any] = {}

    def make(self, name: str, nearer: float, facing: Facing | None = None) -> Any:
        """A tree that brings a geometry to a share of its way from the eye; facing None: it stays as it is."""
        faces = facing is not None
        if faces in self._built:
            tree = self._built[faces].copy()
        else:
            tree = self._built[faces] = _build(faces=faces)
        tree.name = name
        tree.nodes[_NEARER].outputs[0].default_value = nearer
        if facing is not None:
            lift, half_turn = facing
            tree.nodes[_LIFT].inputs[1].default_value = (0.0, 0.0, lift)
            tree.nodes[_TURN].inputs["Rotation"].default_value = (0.0, half_turn, 0.0)
        return tree
