"""What a teacher draws in the air: plumb line, support, turnout on the floor, the axis of a turn, the path of a hand or heel.

All of it is keyed once; nothing runs on any frame.
"""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from bpy.types import Collection, Scene
from numpy.typing import NDArray

from .. import compat
from ..analysis_core.body.anatomy import LEG_JOINTS, SIDE_SUFFIXES
from ..analysis_core.body.movement import FOOT_POINTS, JOINTS, SIDES, Movement
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.phrase.phase import Phrase
from ..analysis_core.review import Review
from ..analysis_core.take import Floats, Source
from ..blender_types import add_nodes, of_kind
from .build import MARK as BUILT
from .captions import without_shadow
from .curves import Keys
from .nodes import Nodes, new_tree
from .stage import mesh_object, own_material

MARK = "dance_review_aids"
#: Linear colours: blue upright lines, for light walls and dark themes; on the floor pale areas, a cream foot, a teal knee.
_LINE, _AREA, _PATH = (0.02, 0.14, 0.70), (0.62, 0.72, 0.80), (0.35, 0.16, 0.02)
_FOOT, _KNEE = (0.86, 0.80, 0.60), (0.08, 0.50, 0.50)
_MEASURED, _FILLED, _GUESSED = (0.90, 0.85, 0.72), (0.08, 0.45, 0.75), (0.03, 0.06, 0.30)
_THIN_M, _ABOVE_FLOOR_M, _MARKER_M = 0.004, 0.004, 0.009
#: Reach of the lines on the floor and of upright lines, metres.
_FLOOR_LINE_M, _UPRIGHT_M = 0.42, 1.9
#: A knee bent less than this does not tell where it points, degrees. Proposed default.
_BENT_DEG = 12.0
#: Sides of a path's tube, and samples a second that are kept.
_TUBE_SIDES, _PATH_HZ, _PATH_RADIUS_M = 5, 60.0, 0.004


class NoMarkersError(InTheRoundError):
    """A review that holds no markers."""


def collection_of(scene: Scene, kind: str) -> Any | None:
    """The collection of a kind of aid in a scene; None when it was not drawn."""
    return next((item for item in scene.collection.children_recursive if item.get(MARK) == kind), None)


def new_collection(scene: Scene, kind: str) -> Any:
    """An empty collection for a kind of aid, in the place of an earlier one."""
    old = collection_of(scene, kind)
    if old is not None:
        for item in list(old.objects):
            data = item.data
            bpy.data.objects.remove(item)
            if data is not None and data.users == 0:
                bpy.data.batch_remove([data])
        bpy.data.collections.remove(old)
    made = bpy.data.collections.new(kind.capitalize())
    made[MARK] = kind
    # Inside the review's own collection, so that all goes with it.
    parent = next((item for item in scene.collection.children if item.get(BUILT) is not None), scene.collection)
    made[BUILT] = True
    parent.children.link(made)
    return made


def _material(name: str, colour: tuple[float, float, float]) -> Any:
    return own_material(name, colour, glowing=True)


def _bar(name: str, length: float, thickness: float, along: str, material: Any, collection: Collection) -> Any:
    """A thin bar from its origin along X or Z."""
    half = thickness / 2
    low, high = {"x": ((0, -half, -half), (length, half, half)), "z": ((-half, -half, 0), (half, half, length))}[along]
    x, y, z = zip(low, high, strict=True)
    corners = [(x[i], y[j], z[k]) for i in (0, 1) for j in (0, 1) for k in (0, 1)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    made = mesh_object(name, corners, faces, material, collection)
    without_shadow(made)
    return made


def _held(values: Floats, known: NDArray[np.bool_]) -> Floats:
    """Values (F, …) with the last known row held; the first one before it; zeros without any."""
    if not known.any():
        return np.zeros_like(np.nan_to_num(values))
    place = np.maximum.accumulate(np.where(known, np.arange(known.size), -1))
    place[place < 0] = int(np.argmax(known))
    return np.asarray(values[place])


def _keyed(item: Any, frame_start: int, shown: NDArray[np.bool_], **courses: Floats) -> None:
    """Key location (F, 3), rotation_euler (F,) about Z, or rotation_quaternion (F, 4); scale 0 where not ``shown`` (F,)."""
    keys = Keys(compat.curves_of(item, item.name), frame_start + np.arange(shown.size, dtype=np.float64))
    for path, values in courses.items():
        if path == "rotation_quaternion":
            item.rotation_mode = "QUATERNION"
        held = _held(values, np.isfinite(values).reshape(shown.size, -1).all(axis=1))
        if path == "rotation_euler":
            keys.add(path, 2, np.unwrap(held))
            continue
        for axis in range(held.shape[1]):
            keys.add(path, axis, held[:, axis])
    for axis in range(3):
        keys.add("scale", axis, shown.astype(np.float64))


def loaded(movement: Movement, phrase: Phrase) -> NDArray[np.bool_]:
    """Which foot (F, 2: left, right) is on the ground, by the contacts of the phrase."""
    result = np.zeros((movement.frames, 2), dtype=bool)
    for contact in phrase.contacts:
        inside = (movement.time_s >= contact.start_s) & (movement.time_s <= contact.end_s)
        result[inside, SIDES.index(contact.foot)] = True
    return result


def support_points(movement: Movement, phrase: Phrase) -> Floats:
    """Middle of what carries the dancer on the floor (F, 3): the whole foot, or its ball where the heel is up; NaN in the air."""
    on = loaded(movement, phrase)
    heel = np.zeros_like(on)
    for contact in phrase.contacts:
        if contact.part == "heel":
            inside = (movement.time_s >= contact.start_s) & (movement.time_s <= contact.end_s)
            heel[inside, SIDES.index(contact.foot)] = True
    points = movement.foot_points_m
    ball = points[:, :, [FOOT_POINTS.index("ball_medial"), FOOT_POINTS.index("ball_lateral")]].mean(axis=2)
    middle = np.where(heel[..., None], points.mean(axis=2), ball)
    count = on.sum(axis=1)
    total = np.where(on[..., None], middle, 0.0).sum(axis=1)
    support = np.where(count[:, None] > 0, total / np.maximum(count, 1)[:, None], np.nan)
    support[:, 2] = np.where(count > 0, 0.0, np.nan)
    return np.asarray(support)


def plumb_line(scene: Scene, review: Review, frame_start: int) -> None:
    """An upright line from the middle of the support."""
    movement, phrase = review.movement, review.phrase
    collection = new_collection(scene, "plumb line")
    line = _bar("Plumb line", _UPRIGHT_M, _THIN_M, "z", _material("Aid line", _LINE), collection)
    support = support_points(movement, phrase)
    _keyed(line, frame_start, np.isfinite(support[:, 0]), location=support)


def support(scene: Scene, review: Review, frame_start: int) -> None:
    """The area that carries: the soles on the floor and what lies between them (convex hull)."""
    movement, phrase = review.movement, review.phrase
    collection = new_collection(scene, "support")
    on = loaded(movement, phrase)
    material = _material("Aid area", _AREA)
    soles = []
    points = movement.foot_points_m
    heel, toe = points[:, :, FOOT_POINTS.index("heel")], points[:, :, FOOT_POINTS.index("toe")]
    for side, name in enumerate(SIDES):
        long = toe[:, side] - heel[:, side]
        yaw = np.arctan2(long[:, 1], long[:, 0])
        place = heel[:, side].copy()
        place[:, 2] = _ABOVE_FLOOR_M
        # A foot in the air lies, shrunk to a point, where the other one stands: the hull is then that one's.
        other = heel[:, 1 - side].copy()
        other[:, 2] = _ABOVE_FLOOR_M
        place = np.where((on[:, side] | ~on[:, 1 - side])[:, None], place, other)
        sole = mesh_object(f"Sole {name}", _sole(points[:, side], yaw), [(0, 1, 2, 3, 4, 5)], material, collection)
        sole.hide_render = sole.hide_viewport = True
        _keyed(sole, frame_start, on[:, side], location=place, rotation_euler=yaw)
        soles.append(sole)
    area = mesh_object("Support area", [], [], material, collection)
    without_shadow(area)
    add_nodes(area, "Support", _hull_of(soles, material))


def _sole(points: Floats, yaw: Floats) -> list[tuple[float, float, float]]:
    """Outline of a sole from its heel, seen from above with the toes along X, by the usual places of its points (F, 4, 3)."""
    away = points - points[:, :1]
    cosine, sine = np.cos(-yaw), np.sin(-yaw)
    across, along = away[..., 0], away[..., 1]
    c, s = cosine[:, None], sine[:, None]
    x = c * across - s * along
    y = s * across + c * along
    usual = {name: (float(np.nanmedian(x[:, i])), float(np.nanmedian(y[:, i]))) for i, name in enumerate(FOOT_POINTS)}
    length = usual["toe"][0]
    narrow = 0.13 * length
    sides = [usual["ball_medial"], usual["ball_lateral"]]
    right, left = sorted(sides, key=lambda place: place[1])
    back = -0.06 * length
    outline = [(back, -narrow), right, (length, -narrow), (length, narrow), left, (back, narrow)]
    return [(a, b, 0.0) for a, b in outline]


def _hull_of(items: list[Any], material: Any) -> Any:
    tree = new_tree("Support area")
    join = tree.nodes.new("GeometryNodeJoinGeometry")
    for item in items:
        info = tree.nodes.new("GeometryNodeObjectInfo")
        info.transform_space = "RELATIVE"
        info.inputs["Object"].default_value = item
        tree.links.new(info.outputs["Geometry"], join.inputs[0])
    hull, painted = tree.nodes.new("GeometryNodeConvexHull"), tree.nodes.new("GeometryNodeSetMaterial")
    painted.inputs["Material"].default_value = material
    end = tree.nodes.new("NodeGroupOutput")
    tree.links.new(join.outputs[0], hull.inputs[0])
    tree.links.new(hull.outputs[0], painted.inputs[0])
    tree.links.new(painted.outputs[0], end.inputs[0])
    return tree


def turnout(scene: Scene, review: Review, frame_start: int) -> None:
    """On the floor, from each heel: where the foot points, and, thicker and shorter, where the bent knee points."""
    movement = review.movement
    collection = new_collection(scene, "turnout")
    points = movement.foot_points_m
    centres = movement.joint_centres_m
    for side, (name, suffix) in enumerate(zip(SIDES, SIDE_SUFFIXES, strict=True)):
        heel, toe = points[:, side, FOOT_POINTS.index("heel")], points[:, side, FOOT_POINTS.index("toe")]
        place = heel.copy()
        place[:, 2] = _ABOVE_FLOOR_M
        foot = _bar(f"Foot {name}", _FLOOR_LINE_M, 2 * _THIN_M, "x", _material("Aid foot", _FOOT), collection)
        along = toe - heel
        known = np.isfinite(along[:, 0])
        _keyed(foot, frame_start, known, location=place, rotation_euler=np.arctan2(along[:, 1], along[:, 0]))
        hip, knee, ankle = (centres[:, JOINTS.index(joint + suffix)] for joint in LEG_JOINTS)
        # The knee points where it stands off the line from hip to ankle (the definition that turnout of a bent leg is judged by).
        down = ankle - hip
        share = ((knee - hip) * down).sum(axis=1) / np.maximum((down**2).sum(axis=1), 1e-9)
        off = knee - (hip + share[:, None] * down)
        bent = np.degrees(movement.angle(f"knee_flexion{suffix}")) > _BENT_DEG
        bar = _bar(f"Knee {name}", 0.7 * _FLOOR_LINE_M, 4 * _THIN_M, "x", _material("Aid knee", _KNEE), collection)
        _keyed(bar, frame_start, bent & np.isfinite(off[:, 0]), location=place, rotation_euler=np.arctan2(off[:, 1], off[:, 0]))


def turn_axis(scene: Scene, review: Review, frame_start: int) -> None:
    """During turns, a line from the support through the centre of mass; beside the plumb line it shows how far it tips."""
    movement, phrase = review.movement, review.phrase
    collection = new_collection(scene, "turn axis")
    line = _bar("Turn axis", _UPRIGHT_M, 2 * _THIN_M, "z", _material("Aid line", _LINE), collection)
    support = support_points(movement, phrase)
    up = movement.centre_of_mass_m - support
    length = np.linalg.norm(up, axis=1)
    x, y, z = (up / np.maximum(length, 1e-9)[:, None]).T
    # The shortest turn from upright to the line: axis (−y, x, 0), half the angle.
    quaternion = np.stack([1.0 + z, -y, x, np.zeros_like(x)], axis=1)
    quaternion /= np.linalg.norm(quaternion, axis=1, keepdims=True)
    turning = np.zeros(movement.frames, dtype=bool)
    for turn in phrase.of_kind("turn"):
        turning |= (movement.time_s >= turn.start_s) & (movement.time_s <= turn.end_s)
    _keyed(line, frame_start, turning & np.isfinite(length), location=support, rotation_quaternion=quaternion)


def markers(scene: Scene, review: Review, frame_start: int) -> None:
    """Every marker where it is: a ball where it was measured, a cube where a gap was filled, a larger and darker one where only
    the pattern of the whole body says so, nothing where nothing holds. Raises NoMarkersError for a skeleton."""
    shown = review.markers
    if shown is None:
        raise NoMarkersError("This take is a skeleton or was reviewed by an earlier version: it holds no markers to show.")
    collection = new_collection(scene, "markers")
    frames, count = shown.source.shape
    table = bpy.data.meshes.new("Marker places")
    table.vertices.add(frames * count)
    table.vertices.foreach_set("co", np.nan_to_num(shown.positions_m).astype(np.float32).ravel())
    kind = of_kind(table.attributes.new("kind", "FLOAT", "POINT"), bpy.types.FloatAttribute)
    kind.data.foreach_set("value", shown.source.astype(np.float32).ravel())
    places = bpy.data.objects.new("Marker places", table)
    places.hide_render = places.hide_viewport = places.hide_select = True
    collection.objects.link(places)
    points = mesh_object("Markers", [(0.0, 0.0, 0.0)] * count, [], _material("Aid marker", _MEASURED), collection)
    without_shadow(points)
    add_nodes(points, "Markers", _marker_tree(places, frames, count, frame_start))


def _marker_tree(places: Any, frames: int, count: int, frame_start: int) -> Any:
    nodes = Nodes(new_tree("Markers"))
    tree = nodes.tree
    start = nodes.add("NodeGroupInput").outputs[0]
    row = nodes.row_of_frame(frame_start, frames)
    own = nodes.add("GeometryNodeInputIndex").outputs[0]
    index = nodes.math("ADD", nodes.math("MULTIPLY", row, float(count)), own)
    geometry = nodes.add("GeometryNodeObjectInfo", {"Object": places}).outputs["Geometry"]

    def looked_up(value: Any, kind: str) -> Any:
        sample = nodes.add("GeometryNodeSampleIndex", {0: geometry}, data_type=kind, domain="POINT")
        tree.links.new(value, sample.inputs["Value"])
        tree.links.new(index, sample.inputs["Index"])
        return sample.outputs[0]

    place = looked_up(nodes.add("GeometryNodeInputPosition").outputs[0], "FLOAT_VECTOR")
    source = looked_up(nodes.named("kind", "FLOAT"), "FLOAT")
    moved = nodes.add("GeometryNodeSetPosition", {"Geometry": start, "Position": place}).outputs[0]
    join = nodes.add("GeometryNodeJoinGeometry")
    ball = nodes.add("GeometryNodeMeshIcoSphere", {"Radius": _MARKER_M, "Subdivisions": 2}).outputs[0]
    sizes = (2.2 * _MARKER_M, 3.2 * _MARKER_M)
    cubes = [nodes.add("GeometryNodeMeshCube", {"Size": (size, size, size)}).outputs[0] for size in sizes]
    shapes = (
        (Source.MEASURED, Source.MEASURED, ball, _material("Aid marker", _MEASURED)),
        (Source.OWN_PATH, Source.BODY_PART, cubes[0], _material("Aid marker filled", _FILLED)),
        (Source.WHOLE_BODY, Source.WHOLE_BODY, cubes[1], _material("Aid marker guessed", _GUESSED)),
    )
    for low, high, shape, material in shapes:
        above = nodes.math("GREATER_THAN", source, low - 0.5)
        chosen = nodes.math("MULTIPLY", above, nodes.math("LESS_THAN", source, high + 0.5))
        painted = nodes.add("GeometryNodeSetMaterial", {"Geometry": shape, "Material": material}).outputs[0]
        put = nodes.add("GeometryNodeInstanceOnPoints", {"Points": moved, "Instance": painted, "Selection": chosen})
        tree.links.new(put.outputs[0], join.inputs[0])
    end = nodes.add("NodeGroupOutput")
    tree.links.new(join.outputs[0], end.inputs[0])
    return tree


DRAW = {"plumb line": plumb_line, "support": support, "turnout": turnout, "turn axis": turn_axis, "markers": markers}


def path_of(scene: Scene, movement: Movement, joint: str) -> None:
    """The path of a joint through the room over the whole phrase, with a bead every half second to show its speed."""
    collection = new_collection(scene, f"path of {joint}")
    step = max(1, round(movement.rate_hz / _PATH_HZ))
    course = movement.joint_centres_m[::step, JOINTS.index(joint)]
    course = course[np.isfinite(course).all(axis=1)]
    curve = bpy.data.curves.new(f"Path of {joint}", "CURVE")
    curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", _PATH_RADIUS_M, 1
    spline = curve.splines.new("POLY")
    spline.points.add(max(0, len(course) - 1))
    spline.points.foreach_set("co", np.concatenate([course, np.ones((len(course), 1))], axis=1).astype(np.float32).ravel())
    material = _material("Aid path", _PATH)
    curve.materials.append(material)
    made = bpy.data.objects.new(f"Path of {joint}", curve)
    made.color = material.diffuse_color
    made.hide_select = True
    without_shadow(made)
    collection.objects.link(made)
    every = max(1, round(0.5 * movement.rate_hz / step))
    _beads(course[::every], f"Beads of {joint}", material, collection)


def _beads(places: Floats, name: str, material: Any, collection: Collection) -> None:
    """Small octahedra."""
    radius = 2.5 * _PATH_RADIUS_M
    corners = radius * np.array([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], dtype=np.float64)
    faces = [(a, b, c) for a in (0, 1) for b in (2, 3) for c in (4, 5)]
    vertices = (places[:, None] + corners).reshape(-1, 3)
    all_faces = [tuple(6 * i + corner for corner in face) for i in range(len(places)) for face in faces]
    beads = mesh_object(name, vertices.tolist(), all_faces, material, collection)
    without_shadow(beads)
