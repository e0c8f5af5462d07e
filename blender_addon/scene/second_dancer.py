"""A second take in the scene of the first: beside it, or as a ghost in the same place, coloured where it differs.

A ghost is a pale veil; only the body parts that differ beyond what the measurement can show are solid. All is keyed and looked up
by nodes; nothing runs on any frame.
"""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from bpy.types import Collection, Scene
from numpy.typing import NDArray

from ..analysis_core.figure import palette
from ..analysis_core.figure.motion import at_samples, motion_of
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.review import Review
from ..analysis_core.take import Floats
from ..analysis_core.views.second_take import InStep, Place, standing, standing_by_step
from ..blender_types import add_nodes, of_kind
from .build import MARK
from .captions import show_during
from .curves import Keys
from .figure import LOOK, SECOND, Figure, make_figure
from .nodes import Nodes, new_tree
from .severity import COLOUR, LEVEL
from .stage import own_material, translucent

#: What the collection of the second take says it is: the value of the mark that every collection of the review has.
HOLDS = "second take"
#: How much of what lies behind the veil it hides.
_VEIL_ALPHA = 0.35
#: Lower levels are calm.
_CALM = 0.02


def collection_in(scene: Scene) -> Any | None:
    """The collection of the second take; None without one."""
    return next((item for item in scene.collection.children_recursive if item.get(MARK) == HOLDS), None)


def _spans(shown: NDArray[np.bool_], first: int) -> list[tuple[int, int]]:
    """Frames [start, end) in which something is shown."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], shown, [False]]).astype(np.int8)))
    return [(first + int(start), first + int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def add(scene: Scene, a: Review, b: Review, step: InStep, levels: Floats, *, place: Place, look: str, frame_start: int) -> None:
    """Show take B in the scene of take A, in the place of an earlier second take. levels (F, S): of B, for the frames of A."""
    remove(scene)
    root = next((item for item in scene.collection.children if item.get(MARK) is not None), scene.collection)
    collection = bpy.data.collections.new("Second take")
    collection[MARK] = HOLDS
    root.children.link(collection)
    rest = rest_of(b.movement)
    motion = at_samples(motion_of(b.movement, rest), step.samples)
    figure = make_figure(f"Second {b.take.file}", rest, motion, levels, frame_start, collection, look)
    figure.body[SECOND] = True
    if place == "ghost":
        _follow(figure.armature, *standing_by_step(a, b.movement, step), frame_start)
    else:
        at = standing(a.movement, b.movement, step, place)
        figure.armature.rotation_euler[2] = at.turn_rad
        figure.armature.location = at.shift_m.tolist()
    seen = [figure.body]
    if place == "ghost":
        seen.append(_veil(figure, collection))
        _only_what_differs(figure.body)
    last = frame_start + a.movement.frames - 1
    for item in seen:
        show_during(item, _spans(step.shown, frame_start), frame_start, last)


def _follow(armature: bpy.types.Object, turn_rad: Floats, shift_m: Floats, frame_start: int) -> None:
    """Key where an armature stands, beside the keys of its bones."""
    data: Any = armature.animation_data  # whose layers Blender's types leave open
    curves = data.action.layers[0].strips[0].channelbag(data.action_slot).fcurves
    keys = Keys(curves, frame_start + np.arange(len(turn_rad), dtype=np.float64))
    keys.add("rotation_euler", 2, turn_rad)
    for axis in range(2):
        keys.add("location", axis, shift_m[:, axis])


def remove(scene: Scene) -> None:
    """Take the second take away; nothing happens without one."""
    collection = collection_in(scene)
    if collection is None:
        return
    for item in list(collection.objects):
        data, action = item.data, item.animation_data.action if item.animation_data else None
        bpy.data.objects.remove(item)
        bpy.data.batch_remove([one for one in (data, action) if one is not None and one.users == 0])
    bpy.data.collections.remove(collection)


def veil_of(figure: Figure, name: str, colour: palette.Colour, alpha: float, collection: Collection) -> bpy.types.Object:
    """The body of a figure once more, translucent and of one colour, in every engine."""
    veil = figure.body.copy()
    veil.name, veil.data = name, figure.body.data.copy()
    for mark in (LOOK, SECOND):
        veil.pop(mark, None)
    # Without colours of its points Workbench draws an object in its own colour, as translucent as that is.
    for attribute in [one for one in veil.data.color_attributes if one.name == COLOUR]:
        veil.data.color_attributes.remove(attribute)
    for modifier in [one for one in veil.modifiers if one.type == "NODES"]:
        veil.modifiers.remove(modifier)
    veil.data.materials.clear()
    veil.data.materials.append(translucent(own_material(name, colour), alpha))
    veil.color = (*colour, alpha)
    veil.visible_shadow = False
    veil.hide_select = True
    collection.objects.link(veil)
    return of_kind(veil, bpy.types.Object)


def _veil(figure: Figure, collection: Collection) -> bpy.types.Object:
    return veil_of(figure, "Ghost", palette.GHOST, _VEIL_ALPHA, collection)


def _only_what_differs(body: bpy.types.Object) -> None:
    """Let only the points of a body be seen whose body part is not calm."""
    nodes = Nodes(new_tree("Only what differs"))
    start = nodes.add("NodeGroupInput").outputs[0]
    calm = nodes.math("LESS_THAN", nodes.named(LEVEL, "FLOAT"), _CALM)
    kept = nodes.add("GeometryNodeDeleteGeometry", {"Geometry": start, "Selection": calm}, domain="POINT").outputs[0]
    nodes.tree.links.new(kept, nodes.add("NodeGroupOutput").inputs[0])
    add_nodes(body, "Only what differs", nodes.tree)
