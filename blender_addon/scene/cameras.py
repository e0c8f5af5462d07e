"""Cameras: one for each correction, from where it is best seen, and one for the whole."""

from __future__ import annotations

import math

import bpy
import numpy as np
from bpy.types import Collection
from mathutils import Euler, Vector

from ..analysis_core.body.movement import JOINTS, Movement, frame_at
from ..analysis_core.findings.finding import Finding
from ..blender_types import optics

#: Limits perspective error (catalogue section 8).
LENS_MM = 50.0
_SENSOR_MM = 36.0
#: Frame heights: the whole body with room, and never less than this. Proposed defaults.
_WHOLE_BODY = 1.25
_LEAST_HEIGHT_M = 0.9
_BEYOND_JOINTS_M = 0.15
#: Share of the picture's width that the caption has to itself.
WORDS_SHARE = 0.26


def make_camera(name: str, place: Vector, aim: Vector, collection: Collection) -> bpy.types.Object:
    """A camera that looks at a point, upright."""
    data = bpy.data.cameras.new(name)
    data.lens, data.sensor_width = LENS_MM, _SENSOR_MM
    data.clip_start, data.clip_end = 0.02, 200.0
    camera = bpy.data.objects.new(name, data)
    # Many cameras stand round the dancer: they can be looked through without being seen.
    camera.hide_viewport = True
    camera.rotation_mode = "QUATERNION"
    camera.location = place
    camera.rotation_quaternion = (aim - place).to_track_quat("-Z", "Y")
    collection.objects.link(camera)
    return camera


def distance_for(width_m: float, height_m: float, aspect: float) -> float:
    """How far away a camera must stand for an area to be in the picture (aspect = width / height of the picture)."""
    half_width = _SENSOR_MM / 2.0 / LENS_MM * min(aspect, 1.0)
    half_height = _SENSOR_MM / 2.0 / LENS_MM / max(aspect, 1.0)
    return max(width_m / 2.0 / half_width, height_m / 2.0 / half_height)


def _body_box(movement: Movement, frame: int) -> tuple[Vector, Vector]:
    points = movement.joint_centres_m[frame]
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        return Vector((-0.5, -0.5, 0.0)), Vector((0.5, 0.5, 1.8))
    low, high = Vector(known.min(axis=0).tolist()), Vector(known.max(axis=0).tolist())
    # Crown and fingertips lie beyond the joints.
    return low, high + Vector((0.0, 0.0, _BEYOND_JOINTS_M))


def _finding_camera(finding: Finding, movement: Movement, collection: Collection) -> bpy.types.Object:
    """From the side that the finding names, far enough for the whole dancer, aimed between the body's middle and the place."""
    low, high = _body_box(movement, frame_at(movement, finding.peak_s))
    place, aim = Vector(finding.view.position_m), Vector(finding.view.aim_m)
    direction = place - aim
    if direction.length < 1e-6 or not all(math.isfinite(value) for value in (*place.to_tuple(), *aim.to_tuple())):
        direction, aim = Vector((1.0, 0.0, 0.0)), (low + high) / 2.0
    middle = (low + high) / 2.0
    aim = aim.lerp(middle, 0.7)
    # The whole dancer is in the picture, head and feet.
    aim.z = middle.z
    height = max((high.z - low.z) * _WHOLE_BODY, _LEAST_HEIGHT_M)
    side = Vector((high.x - low.x, high.y - low.y)).length
    distance = distance_for(side * 1.15 / (1.0 - WORDS_SHARE), height * 1.12, 16 / 9)
    camera = make_camera(finding.id, aim + direction.normalized() * distance, aim, collection)
    camera["finding"] = finding.id
    # The words have the left of the picture, the dancer the rest.
    optics(camera).shift_x = -WORDS_SHARE / 2.0
    return camera


def correction_cameras(findings: tuple[Finding, ...], movement: Movement, collection: Collection) -> dict[str, bpy.types.Object]:
    """A camera for each finding, named and marked with its id."""
    return {finding.id: _finding_camera(finding, movement, collection) for finding in findings}


def overview_camera(movement: Movement, collection: Collection, aspect: float = 16 / 9) -> bpy.types.Object:
    """A camera that has the whole phrase in the picture, from where the dancer faces at the start."""
    hips = movement.joint("pelvis")[:, :2]
    known = hips[np.isfinite(hips).all(axis=1)]
    low, high = (known.min(axis=0), known.max(axis=0)) if len(known) else (np.zeros(2), np.zeros(2))
    forward = movement.segment("pelvis")[:, :2, 0]
    facing = forward[np.isfinite(forward).all(axis=1)]
    direction = Vector((*facing[0], 0.0)).normalized() if len(facing) else Vector((1.0, 0.0, 0.0))
    aim = Vector((*((low + high) / 2.0), 0.9))
    spread = float(np.linalg.norm(high - low))
    distance = distance_for(spread + 1.6, 2.3, aspect) + spread / 2.0
    # A little from the side and above: depth shows.
    away = Vector((direction.x, direction.y, 0.0))
    away.rotate(Euler((0.0, 0.0, math.radians(-20.0))))
    return make_camera("Overview", aim + away * distance + Vector((0.0, 0.0, 0.35)), aim, collection)


def span_m(movement: Movement) -> tuple[tuple[float, float], tuple[float, float]]:
    """The floor that the phrase needs: lower and upper corner, metres, with two metres around."""
    points = movement.joint_centres_m[:, [JOINTS.index(name) for name in ("toe.L", "toe.R", "pelvis")], :2].reshape(-1, 2)
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        return (-3.0, -3.0), (3.0, 3.0)
    low, high = known.min(axis=0) - 2.0, known.max(axis=0) + 2.0
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))
