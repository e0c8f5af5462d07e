"""A shorter way to write a node tree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy

from ..blender_types import there

#: Where a socket holds what it is when nothing is linked to it.
_VALUE = "default_value"


class Nodes:
    """Adds nodes to a tree and links what they are given."""

    def __init__(self, tree: Any) -> None:
        self.tree = tree

    def add(self, kind: str, inputs: dict[int | str, Any] | None = None, **settings: Any) -> Any:
        node = self.tree.nodes.new(kind)
        for name, value in settings.items():
            setattr(node, name, value)
        for place, value in (inputs or {}).items():
            socket = node.inputs[place]
            if isinstance(value, bpy.types.NodeSocket):
                self.tree.links.new(value, socket)
            else:
                socket.default_value = value
        return node

    def math(self, operation: str, *values: Any) -> Any:
        node = self.add("ShaderNodeMath", dict(enumerate(values)), operation=operation)
        return node.outputs[0]

    def named(self, name: str, kind: str) -> Any:
        return self.add("GeometryNodeInputNamedAttribute", {"Name": name}, data_type=kind).outputs[0]

    def mix(self, factor: Any, first: Any, second: Any, blend: str = "MIX") -> Any:
        node = self.add("ShaderNodeMix", data_type="RGBA", blend_type=blend)
        for place, value in ((0, factor), (6, first), (7, second)):
            if isinstance(value, bpy.types.NodeSocket):
                self.tree.links.new(value, node.inputs[place])
            else:
                node.inputs[place].default_value = value
        return node.outputs[2]

    def row_of_frame(self, frame_start: int, frames: int) -> Any:
        """The row of a table with one row for each frame: the present frame, within the take."""
        frame = self.add("GeometryNodeInputSceneTime").outputs["Frame"]
        since = self.math("SUBTRACT", frame, float(frame_start))
        return self.math("ROUND", self.math("MINIMUM", self.math("MAXIMUM", since, 0.0), float(frames - 1)))


def preset(socket: bpy.types.NodeSocket, value: float | Sequence[float]) -> None:
    """Give what goes into a node its value; Blender's types know it of no socket in general."""
    setattr(socket, _VALUE, value)


def new_tree(name: str) -> Any:
    """A geometry node tree that takes a geometry and gives one."""
    tree = bpy.data.node_groups.new(name, "GeometryNodeTree")
    interface = there(tree.interface)
    interface.new_socket("Geometry", in_out="INPUT", socket_type="NodeSocketGeometry")
    interface.new_socket("Geometry", in_out="OUTPUT", socket_type="NodeSocketGeometry")
    return tree
