"""Going from correction to correction: camera, caption, isolated body part, speed, what a window sees. No operators."""

from __future__ import annotations

from typing import Any

import bpy
from mathutils import Matrix, Vector

from . import curves_shown, moments, redraw, room
from . import state as states
from .blender_types import of_kind, there
from .properties import DanceReviewState, scene_of
from .scene import beside, measure_drawn
from .scene.build import CAPTIONS, MARK, drawings_in
from .scene.figure import is_figure
from .scene.hiding import hide
from .scene.severity import isolate

#: Dancers further apart than this, metres, stand beside each other; and the air around them in a view, for jumps and arms.
_BESIDE_M, _AIR = 0.5, 1.2


def _areas_3d(context: bpy.types.Context, scene: bpy.types.Scene) -> list[tuple[Any, Any]]:
    """The windows and areas in which a scene is seen."""
    manager = context.window_manager
    windows = [window for window in manager.windows if window.scene == scene] if manager else []
    return [(window, area) for window in windows for area in window.screen.areas if area.type == "VIEW_3D"]


def _views_3d(context: bpy.types.Context, scene: bpy.types.Scene) -> list[Any]:
    """The 3D views that show a scene."""
    return [area.spaces.active for _, area in _areas_3d(context, scene)]


def show_chosen(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Go to the chosen correction: its frame, its camera, its body parts."""
    item = states.chosen(state)
    if item is None:
        apply_display(context, state)
        return
    scene = scene_of(state)
    scene.frame_set(moments.frame_of_correction(state, item))
    if state.use_camera and (camera := moments.camera_of(scene, item.finding)) is not None:
        scene.camera = camera
        for window, area in _areas_3d(context, scene):
            space = area.spaces.active
            draw_as_rendered(space, scene)
            space.region_3d.view_perspective = "CAMERA"
            room.frame_camera(window, area)
    place_film(context, state)
    apply_display(context, state)
    curves_shown.follow(context, state, item)


def apply_display(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Show what the display options ask for: captions or none, the measure drawn or not, the whole body or the parts of the
    chosen correction alone."""
    scene = scene_of(state)
    for collection in scene.collection.children_recursive:
        if collection.get(MARK) == CAPTIONS:
            hide(collection, hidden=not state.show_caption)
    item = states.chosen(state)
    if item is not None:
        redraw.follow_band(state, item)
    measure_drawn.show(drawings_in(scene), None if item is None else item.finding, on=state.show_measure)
    parts = tuple(item.parts.split()) if state.isolate and item is not None else None
    for body in scene.objects:
        if is_figure(body):
            isolate(body, parts)


def apply_speed(state: DanceReviewState) -> None:
    """Slow playback down without moving a single key: fps stays the take's own, its base grows. Nothing without a take."""
    if not state.rate_hz:
        return
    scene = scene_of(state)
    rate = scene.render.fps
    scene.render.fps_base = rate / state.rate_hz * 100.0 / state.speed
    beside.sounding(scene, on=state.speed >= 100.0)
    # Slowed down, Blender's ruler would count the seconds that pass, not those of the take: frames are the same at every speed.
    room.count_seconds(scene, on=state.speed == 100.0)


def set_range(state: DanceReviewState, start_s: float, end_s: float) -> None:
    """Play only a part of the take."""
    scene = scene_of(state)
    scene.use_preview_range = True
    scene.frame_preview_start = moments.frame_of(state, start_s)
    scene.frame_preview_end = max(moments.frame_of(state, end_s), scene.frame_preview_start + 1)


def windows_scene(context: bpy.types.Context, scene: bpy.types.Scene) -> None:
    """Make a scene the one that is looked at, from where the whole dancer is seen, in the colours of severity."""
    window = context.window or (
        there(bpy.context.window_manager).windows[0] if there(bpy.context.window_manager).windows else None
    )
    if window is None:
        return
    window.scene = scene
    for space in _views_3d(context, scene):
        draw_as_rendered(space, scene)
        if scene.camera is not None:
            _stand_at(space, scene.camera)


def draw_as_rendered(space: bpy.types.SpaceView3D, scene: bpy.types.Scene) -> None:
    """Solid view as the scene is rendered: severity lies in the colours of the skin, which a view does not draw by itself."""
    shading, plan = space.shading, there(scene.display).shading
    for name in ("light", "color_type", "background_type", "show_cavity", "cavity_type", "show_specular_highlight"):
        setattr(shading, name, getattr(plan, name))
    # The beams of the studio's lamps would cross the picture; a film is one of the extras.
    has_film = beside.film_in(scene) is not None
    space.overlay.show_extras = has_film
    space.show_object_viewport_light = not has_film


def _stand_at(space: bpy.types.SpaceView3D, camera: bpy.types.Object) -> None:
    """Look from where a camera stands, free to orbit."""
    region = there(space.region_3d)
    # Not matrix_world: that of a camera which is not shown is not worked out.
    region.view_matrix = Matrix.LocRotScale(camera.location, camera.rotation_quaternion, None).inverted()
    region.view_perspective = "PERSP"


def show_both(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Look at all dancers of the scene, across the line they stand on: a correction's camera sees one of them."""
    leave_camera(context, state)
    scene = scene_of(state)
    there(context.view_layer).update()
    armatures = [armature for item in scene.objects if is_figure(item) and (armature := item.find_armature()) is not None]
    posed = [item.evaluated_get(context.evaluated_depsgraph_get()) for item in armatures]
    bodies = [[item.matrix_world @ end for bone in there(item.pose).bones for end in (bone.head, bone.tail)] for item in posed]
    ends = [end for body in bodies for end in body]
    if not ends:
        return
    low, high = (Vector([pick(along) for along in zip(*ends, strict=True)]) for pick in (min, max))
    first, *others = (sum(body[1:], body[0]) / len(body) for body in bodies)
    apart = max((other - first for other in others), key=lambda way: way.length, default=Vector())
    for _, area in _areas_3d(context, scene):
        if apart.length > _BESIDE_M:
            room.look_across(area, apart)
        room.frame_sphere(area, (low + high) / 2, _AIR * (high - low).length / 2)


def leave_correction(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Where the camera of a correction is looked through, which is about another moment, look at all dancers instead."""
    if any(space.region_3d.view_perspective == "CAMERA" for space in _views_3d(context, scene_of(state))):
        show_both(context, state)


def leave_camera(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Look on from where the camera stands, without it: from here on the dancer can be orbited."""
    scene = scene_of(state)
    for space in _views_3d(context, scene):
        if space.region_3d.view_perspective == "CAMERA" and scene.camera is not None:
            _stand_at(space, scene.camera)
    place_film(context, state)


def place_film(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Show the reference film where it can be seen: in the picture of the chosen correction's camera, else beside the dancer."""
    scene = scene_of(state)
    spaces = _views_3d(context, scene)
    for space in spaces:
        draw_as_rendered(space, scene)
    if beside.film_in(scene) is None:
        return
    item = states.chosen(state)
    camera = moments.camera_of(scene, item.finding) if item is not None and state.use_camera else None
    if camera is not None and (not spaces or any(space.region_3d.view_perspective == "CAMERA" for space in spaces)):
        beside.show_in_picture(scene, camera)
    else:
        eye = spaces[0].region_3d.view_matrix.inverted().translation if spaces else there(scene.camera).location
        beside.show_in_room(scene, place_of(context, state, ()), eye)
    # What was moved shows its first frame until the scene's frame is set anew.
    there(context.view_layer).update()
    scene.frame_set(scene.frame_current)


def place_of(context: bpy.types.Context, state: DanceReviewState, parts: tuple[str, ...]) -> tuple[float, float, float]:
    """Where body parts are at the current frame, in the laboratory; the middle of the body when none of them is known."""
    scene = scene_of(state)
    built = [item for item in scene.collection.children_recursive if item.get(MARK) is not None]
    for item in dict.fromkeys(thing for collection in built for thing in collection.objects):
        if item.type == "ARMATURE":
            posed = item.evaluated_get(context.evaluated_depsgraph_get())
            by_name = dict(there(posed.pose).bones.items())
            bones = [by_name[name] for name in parts if name in by_name] or list(by_name.values())
            if bones:
                places = [posed.matrix_world @ ((bone.head + bone.tail) / 2) for bone in bones]
                x, y, z = of_kind(sum(places[1:], places[0]) / len(places), Vector).to_tuple()
                return (x, y, z)
    return (0.0, 0.0, 1.0)
