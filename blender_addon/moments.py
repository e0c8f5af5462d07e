"""Where the corrections of a review are in its scene: their frames and spans, their markers on the timeline, their cameras."""

from __future__ import annotations

import bpy
from mathutils import Vector

from .blender_types import of_kind
from .properties import DanceReviewFinding, DanceReviewState, scene_of
from .scene.build import is_marker_of

#: How much is played before and after a correction. Proposed default, no published norm.
MOMENT_S = 0.6


def frame_of(state: DanceReviewState, time_s: float) -> int:
    """The frame of a time of the take: sample i lies on frame_start + i."""
    return int(state.frame_start + min(max(round(time_s * state.rate_hz), 0), max(state.frames - 1, 0)))


def frame_of_correction(state: DanceReviewState, item: DanceReviewFinding) -> int:
    """The frame of a correction: where its marker stands, unless it was moved or taken away."""
    peak, scene = frame_of(state, item.peak_s), scene_of(state)
    near = (marker.frame for marker in scene.timeline_markers if is_marker_of(scene, marker, item.finding))
    return next((frame for frame in near if abs(frame - peak) <= len(state.findings)), peak)


def time_of(state: DanceReviewState, frame: int) -> float:
    """The time of the take at a frame, within the take."""
    return float(min(max(frame - state.frame_start, 0), max(state.frames - 1, 0)) / state.rate_hz)


def camera_of(scene: bpy.types.Scene, finding: str) -> bpy.types.Object | None:
    """The camera made for a correction; None when there is none (any more)."""
    return next((item for item in scene.objects if item.type == "CAMERA" and item.get("finding") == finding), None)


def moment_of(item: DanceReviewFinding) -> tuple[float, float]:
    """The span in seconds that shows a correction, with what leads in and out."""
    return item.start_s - MOMENT_S, item.end_s + MOMENT_S


def step_of(state: DanceReviewState, item: DanceReviewFinding) -> tuple[float, float]:
    """The span in seconds of the step that a correction belongs to; of the moment when it belongs to none."""
    phase = state.phases.get(item.phase)
    return moment_of(item) if phase is None else (phase.start_s, phase.end_s)


def mark_own(context: bpy.types.Context, state: DanceReviewState, item: DanceReviewFinding) -> None:
    """Give a correction of the teacher's own its marker on the timeline and its camera, as the others have."""
    scene = scene_of(state)
    camera = bpy.data.objects.new(item.finding, bpy.data.cameras.new(item.finding))
    camera["finding"] = item.finding
    camera.location = item.view_from
    direction = Vector(item.view_at) - Vector(item.view_from)
    camera.rotation_mode = "QUATERNION"
    camera.rotation_quaternion = direction.to_track_quat("-Z", "Y")
    camera.hide_viewport = True
    scene.collection.objects.link(camera)
    marker = scene.timeline_markers.new(item.finding, frame=frame_of(state, item.peak_s))
    marker.camera = camera


def unmark_own(state: DanceReviewState, finding: str) -> None:
    """Take marker and camera of a correction of the teacher's own away."""
    scene = scene_of(state)
    camera = camera_of(scene, finding)
    for marker in list(scene.timeline_markers):
        if camera is not None and marker.camera == camera:
            scene.timeline_markers.remove(marker)
    if camera is not None:
        bpy.data.cameras.remove(of_kind(camera.data, bpy.types.Camera))
