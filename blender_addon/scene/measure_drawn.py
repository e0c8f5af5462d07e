"""The measure of every correction drawn on the body in the review's scene, each seen in its own time only.

All stands in its own place in the room, so that one can walk round it. Nothing hides it: the Solid view draws it in front;
Material Preview brings it nearer along the line of sight (displacement of its material); renders bring it nearer to the active
camera (nodes). Times are keyed: what is hidden costs a frame nothing. Nothing runs on any frame.
"""

from __future__ import annotations

import json
import math
from typing import Any

import bpy
import numpy as np
from bpy.types import Collection
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.findings.evidence import Evidence
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from ..analysis_core.views import Drawing, drawing_of
from ..analysis_core.views.inside import inside_of
from ..analysis_core.wording.pictures import INSIDE
from ..blender_types import add_nodes, mesh_of, of_kind, optics, there
from . import drawing as drawings
from .captions import DEPTH_M, extent, text_object, turns_to_speak
from .curves import CONSTANT, key
from .drawing_nodes import IN_PLACE, Trees
from .figure import figure_skin
from .hiding import hide
from .inside_drawn import Surface, draw_inside, surfaces_of
from .nodes import Nodes
from .number_card import number_card, paper_behind
from .stage import OWN, own_material

#: What the collection of a drawing says it is: the value of the mark that every collection of the review has.
HOLDS = "drawing"
_FINDING, _WINDOW, _TURN, _BAND = "finding", "window", "turn", "band"
#: Brought nearer it lies at this share of the way from the eye: before the dancer, behind the captions.
_NEARER = 0.35
#: Rims lie so much further away than their lines, as a share of the way.
_RIM_FURTHER = 1.006
#: Words below the number are so much smaller than its card is high.
_SMALLER = 0.55
#: Height of the card with them, in lines of the number: its paper is 1.45 lines high, theirs 1.5 of the smaller ones.
_LINE_BELOW = 1.45 * _SMALLER * 1.5
#: Before and after the decisive moment at least so long is shown, seconds. Proposed default.
_AROUND_S = 0.15
#: The number lies so much nearer to its camera than its place, as a share of the way, that no line crosses it.
_NUMBER_NEARER = 0.97
#: Pictures for which the place of the number is chosen.
_ASPECT = 16 / 9


def _window(finding: Finding, drawing: Drawing, rate_hz: float, frames: tuple[int, int]) -> tuple[int, int]:
    """First and last frame in which a drawing is seen: the finding's own time, the moment that is drawn within it."""
    span = min(finding.start_s, drawing.time_s - _AROUND_S), max(finding.end_s, drawing.time_s + _AROUND_S)
    first, last = (min(max(frames[0] + round(time * rate_hz), frames[0]), frames[1]) for time in span)
    return first, last


def _rgb(material: bpy.types.Material) -> tuple[float, float, float]:
    red, green, blue, _ = material.diffuse_color
    return red, green, blue


def _seen_through(material: bpy.types.Material, nearer: float) -> bpy.types.Material:
    """A material of the same colour that Material Preview draws before the body, from wherever one looks."""
    made = own_material(f"{material[OWN]} on the body", _rgb(material), glowing=True)
    tree: Any = made.node_tree  # what its nodes and sockets have hangs on their kind
    if made.displacement_method == "DISPLACEMENT":
        return made
    made.displacement_method = "DISPLACEMENT"
    nodes = Nodes(tree)
    shader = next(node for node in tree.nodes if node.type == "BSDF_PRINCIPLED")
    # No brighter than white, which would eat the words on it away.
    shader.inputs["Emission Color"].default_value = (*(min(value, 1.0) for value in material.diffuse_color[:3]), 1.0)
    in_place = nodes.add("ShaderNodeAttribute", attribute_name=IN_PLACE).outputs["Fac"]
    distance = nodes.add("ShaderNodeCameraData").outputs["View Distance"]
    length = nodes.math("MULTIPLY", nodes.math("MULTIPLY", distance, in_place), 1.0 - nearer)
    towards = nodes.add("ShaderNodeNewGeometry").outputs["Incoming"]
    moved = nodes.add("ShaderNodeVectorMath", {0: towards, "Scale": length}, operation="SCALE").outputs[0]
    surface = next(node for node in tree.nodes if node.type == "OUTPUT_MATERIAL")
    # Cycles knows no line of sight when it displaces, and gets what nodes brought nearer.
    surface.target = "CYCLES"
    shown = nodes.add("ShaderNodeOutputMaterial", target="EEVEE")
    tree.links.new(surface.inputs["Surface"].links[0].from_socket, shown.inputs["Surface"])
    tree.links.new(moved, shown.inputs["Displacement"])
    return made


def _thickness(drawing: Drawing, camera: bpy.types.Object) -> float:
    """Of a measured line, metres: fine in the picture of the correction's camera, and no blob beside a short length."""
    away = (np.array(camera.location) - drawing.number_at).tolist()
    usual = drawings.thickness_for(optics(camera).sensor_width / optics(camera).lens / _ASPECT * float(np.linalg.norm(away)))
    return drawings.fine_for(drawing, usual)


def _in_the_room(item: Any, camera: Any, times: float) -> None:
    """Move what hangs before a camera to so many times as far, as large as it looked, and take it off the camera."""
    place = item.location * times
    item.parent = None
    item.matrix_basis = camera.matrix_basis @ Matrix.Translation(place)
    if item.type == "FONT":
        item.data.size *= times
    else:
        item.data.transform(Matrix.Scale(times, 4))
    item.show_in_front = True


def _number(drawing: Drawing, camera: bpy.types.Object, collection: Collection, line_below: float) -> list[Any]:
    """The number, facing the correction's camera, as large as captions are. line_below: of the card that will hang below it."""
    depth = -float((camera.matrix_basis.inverted() @ Matrix.Translation(drawing.number_at.tolist())).translation.z)
    text, paper = number_card(drawing, camera, _ASPECT, _thickness(drawing, camera), collection, line_below)
    middle = paper.location.x + max(vertex.co.x for vertex in mesh_of(paper).vertices) / 2
    # The same words on the back of the card, for who walks round it.
    back = text.copy()
    back.data = of_kind(there(text.data).copy(), bpy.types.TextCurve)
    collection.objects.link(back)
    back.location = (2 * middle - text.location.x, text.location.y, 2 * paper.location.z - text.location.z)
    for item in (text, paper, back):
        _in_the_room(item, camera, _NUMBER_NEARER * depth / DEPTH_M)
    back.matrix_basis = back.matrix_basis @ Matrix.Rotation(math.pi, 4, "Y")
    return [text, paper, back]


def _turn_about(item: Any, place: Any) -> float:
    """Move the origin of words or of a card to a place in the room; they stay where they are, but for what is returned: by so
    much words have to be lifted along their own Z axis, metres."""
    inside = item.matrix_basis.inverted() @ place
    item.matrix_basis = item.matrix_basis @ Matrix.Translation(inside)
    if item.type == "FONT":
        item.data.offset_x -= inside.x
        item.data.offset_y -= inside.y
        return float(-inside.z)
    item.data.transform(Matrix.Translation(-inside))
    return 0.0


def _said_below(paper: Any, words: str, camera: Any, collection: Collection) -> list[Any]:
    """Smaller words on a card of their own below another card."""
    size = _SMALLER * (max(vertex.co.y for vertex in paper.data.vertices) - min(vertex.co.y for vertex in paper.data.vertices))
    width = extent(words) * size + size
    text = text_object("Inside words", words, size, collection)
    below = paper_behind("Still card", width, 1.5 * size, collection)
    low = min(vertex.co.y for vertex in paper.data.vertices)
    for item, x, y, z in ((below, 0.0, low, 0.0), (text, 0.5 * size, low - 0.25 * size, 0.004)):
        item.matrix_basis = paper.matrix_basis @ Matrix.Translation((x, y, z))
        item.show_in_front = True
    return [text, below]


def draw_measure(
    finding: Finding,
    drawing: Drawing,
    camera: Any,
    rate_hz: float,
    frames: tuple[int, int],
    turn: tuple[int, int],
    into: Any,
    trees: Trees,
    inside: Surface | None = None,
) -> None:
    """Draw one measure into an empty collection. turn: frames [first, after] in which it is seen while none is chosen. trees: of
    all drawings that are made together. inside: the body at the edge of the band, where there is one."""
    eye = drawings.eye_of(camera)
    items = drawings.draw(drawing, eye, _thickness(drawing, camera), into)
    _, paper, back = words = _number(drawing, camera, into, 0.0 if inside is None else _LINE_BELOW)
    if inside is not None:
        words += _said_below(paper, INSIDE, camera, into)
    middle = paper.matrix_basis @ (sum((vertex.co for vertex in paper.data.vertices), Vector()) / len(paper.data.vertices))
    # From another correction's camera or from the overview a number would else be seen from its edge.
    facing = {
        item: trees.make(f"{finding.id} number", _NEARER, (_turn_about(item, middle), math.pi if item == back else 0.0))
        for item in words
    }
    shares = {True: _NEARER, False: _NEARER * _RIM_FURTHER}
    still = {in_front: trees.make(f"{finding.id} drawing", nearer) for in_front, nearer in shares.items()}
    for item in [*items, *words]:
        item[_FINDING] = finding.id
        item.data.materials[0] = _seen_through(item.data.materials[0], shares[item.show_in_front])
        tree = facing[item] if item in facing else still[item.show_in_front]
        add_nodes(item, "Drawing", tree)
    if inside is not None:
        veil = draw_inside(inside, into)
        veil[_FINDING] = finding.id
        # In its own place in every picture: the dancer's own limbs may lie before it.
        add_nodes(veil, "Drawing", trees.make(f"{finding.id} inside", 1.0))
    into[_FINDING], into[_BAND] = finding.id, json.dumps(finding.band)
    into[_WINDOW] = _window(finding, drawing, rate_hz, frames)
    into[_TURN] = (turn[0], max(turn[1] - 1, turn[0]))
    _set_frames(into, into[_TURN])


def insides_of(review: Review, findings: tuple[Finding, ...], evidence: Evidence, look: str) -> dict[str, Surface]:
    """The bodies at the edge of their bands, of the findings that have one."""
    shown = tuple(item for finding in findings if (item := inside_of(finding, review, evidence)) is not None)
    if not shown:
        return {}
    rest = rest_of(review.movement)
    return surfaces_of(review, shown, rest, figure_skin(rest, look))


def draw_all(review: Review, cameras: dict[str, Any], frames: tuple[int, int], look: str, new_collection: Any) -> None:
    """Draw the measure of every finding that has one, and the body inside its band. look: of the figure. new_collection: makes a
    drawing's collection, given its name."""
    evidence = Evidence(review.movement, review.phrase)
    rate_hz = review.movement.rate_hz
    turns = turns_to_speak(review.findings, rate_hz, frames)
    insides = insides_of(review, review.findings, evidence, look)
    trees = Trees()
    for finding, turn in zip(review.findings, turns, strict=True):
        drawing = drawing_of(finding, review, evidence)
        if drawing is not None:
            into = new_collection(f"{finding.id} drawing")
            draw_measure(finding, drawing, cameras[finding.id], rate_hz, frames, turn, into, trees, insides.get(finding.id))


def _trees(collection: Collection) -> set[bpy.types.NodeTree | None]:
    """The nodes that move what is drawn."""
    return {m.node_group for item in collection.objects for m in item.modifiers if isinstance(m, bpy.types.NodesModifier)}


def _actions(collection: Collection) -> set[bpy.types.Action]:
    """What keys the objects of a drawing."""
    found = (item.animation_data.action for item in collection.objects if item.animation_data is not None)
    return {action for action in found if action is not None}


def _set_frames(collection: Collection, frames: Any) -> None:
    """Key the objects of a drawing to be seen from one frame to another, both included: all by one action."""
    first, last = (float(frame) for frame in frames)
    items = list(collection.objects)
    before = _actions(collection)
    curves = compat.curves_of(items[0], collection.name)
    for path in ("hide_viewport", "hide_render"):
        key(curves, path, 0, np.array([first - 1.0, first, last + 1.0]), np.array([1.0, 0.0, 1.0]), kind=CONSTANT)
    own = there(items[0].animation_data)
    for item in items[1:]:
        data = there(item.animation_data_create())
        data.action, data.action_slot = own.action, own.action_slot
    bpy.data.batch_remove([action for action in before if action.users == 0])


def band_drawn(collection: Collection) -> tuple[float | None, float | None]:
    """The band that a drawing shows."""
    low, high = json.loads(collection[_BAND])
    return low, high


def finding_of(collection: Collection) -> str:
    """The id of the finding whose measure a collection holds."""
    return str(collection[_FINDING])


def turn_of(collection: Collection) -> tuple[int, int]:
    """Frames [first, after] in which a drawing is seen while no correction is chosen."""
    first, last = collection[_TURN]
    return int(first), int(last) + 1


def empty(collection: Collection) -> None:
    """Take a drawing away; its collection stays."""
    made = {*_trees(collection), *_actions(collection)}
    drawings.remove(list(collection.objects))
    bpy.data.batch_remove([one for one in made if one is not None and one.users == 0])


def show(collections: list[Any], chosen: str | None, *, on: bool) -> None:
    """Show the drawing of the chosen correction in that finding's whole time; without one, each in its turn. on: any at all."""
    for collection in collections:
        own = finding_of(collection) == chosen
        hide(collection, hidden=not (on and (own or chosen is None)))
        if collection.objects:
            _set_frames(collection, collection[_WINDOW] if own else collection[_TURN])
