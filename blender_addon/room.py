"""The room to review in: the sidebar at its tab, and a workspace with the dancer, the timeline and nothing else."""

from __future__ import annotations

from typing import Any

import bpy
from mathutils import Vector

from .blender_types import can_run, of_kind, there

NAME = "Dance Review"
#: What marks the workspace; one of the user's own may have its name.
_MARK = "dance_review_workspace"
#: How much of the 3D view the curves get.
_GRAPH_SHARE = 0.40
#: Height of the timeline at an interface scale of 1: header, ruler, markers with their names, and air between. Pixels.
_TIMELINE_HEIGHT = 150
#: Heights in a Graph Editor at an interface scale of 1, pixels: the ruler above, the markers with their names below.
_RULER_HEIGHT, _MARKERS_HEIGHT = 26, 34
#: How far above level two dancers are looked at, as a slope.
_FROM_ABOVE = 0.08
#: Width of what a view without a camera looks through, millimetres.
_SENSOR_MM = 72.0
#: How much of the 3D view the picture of a camera fills.
_FILLED = 0.97
#: A timeline that has to be made gets this share of the 3D view at first.
_TIMELINE_SHARE = 0.2
#: The window follows a change of workspace or sidebar at its next redraw, seconds; a slow machine needs several.
_SOON_S = 0.1
_MOST_TRIES = 60
_tries = 0
#: The frames and the values that Graph Editors are to show.
_wanted = ((0.0, 1.0), (0.0, 1.0))


def _views() -> list[Any]:
    manager = there(bpy.context.window_manager)
    return [area for window in manager.windows for area in window.screen.areas if area.type == "VIEW_3D"]


def _view_in(area: bpy.types.Area) -> bpy.types.SpaceView3D:
    return of_kind(area.spaces.active, bpy.types.SpaceView3D)


def _sidebar_at_tab(area: bpy.types.Area) -> bool:
    """Bring a 3D view's sidebar to our tab; False while it was not drawn yet, which gives it its width and its tabs."""
    sidebar: Any = next((region for region in area.regions if region.type == "UI"), None)
    if sidebar is None or not _view_in(area).show_region_ui:
        return True
    if sidebar.width > 1 and sidebar.active_panel_category != NAME:
        try:
            sidebar.active_panel_category = NAME
        except (AttributeError, TypeError):  # no tab yet
            return False
    # Nothing else may ask for a redraw: the tab would come with the first move of the mouse.
    area.tag_redraw()
    return bool(sidebar.width > 1 and sidebar.active_panel_category == NAME)


def _show_tab() -> float | None:
    """Bring all sidebars to our tab as soon as they were drawn."""
    global _tries
    _tries += 1
    there = [_sidebar_at_tab(area) for area in _views()]
    if not all(there) and _tries < _MOST_TRIES:
        return _SOON_S
    _show_whole_phrase()
    return None


def _show_whole_phrase() -> None:
    """Let the timeline show the whole take with all its markers."""
    for window in there(bpy.context.window_manager).windows:
        for area in window.screen.areas:
            region = next((region for region in area.regions if region.type == "WINDOW"), None)
            if area.type == "DOPESHEET_EDITOR" and region is not None:
                with bpy.context.temp_override(window=window, area=area, region=region):
                    if can_run(bpy.ops.action.view_all):
                        bpy.ops.action.view_all()


def bring_panels() -> None:
    """Open the sidebar of the 3D views at the add-on's tab, so that the verdict is the first thing seen."""
    global _tries
    if bpy.app.background:
        return
    for area in _views():
        area.spaces.active.show_region_ui = True
        area.tag_redraw()
    _tries = 0
    if not bpy.app.timers.is_registered(_show_tab):
        bpy.app.timers.register(_show_tab, first_interval=_SOON_S)


def is_ours(workspace: Any) -> bool:
    """Whether a workspace is the one that ``enter`` makes."""
    return _MARK in workspace


def _largest(areas: Any, kind: str | None = None) -> Any | None:
    return max((area for area in areas if kind in (None, area.type)), key=lambda area: area.width * area.height, default=None)


def _arrange() -> float | None:
    """Close what is not needed, one area at a time, then give view and timeline their place."""
    manager = there(bpy.context.window_manager)
    window = next((window for window in manager.windows if is_ours(window.workspace)), None)
    if window is None:
        return None
    screen = window.screen
    view = _largest(screen.areas, "VIEW_3D")
    if view is None:  # the present workspace had none
        there(_largest(screen.areas)).type = "VIEW_3D"
        return _SOON_S
    timeline = _largest(screen.areas, "DOPESHEET_EDITOR")
    if _close_one(window, {view, timeline}):
        # One at a time: the window has to take a closed area away before the next goes.
        return 0.0
    if timeline is None:
        split_below(window, view, "TIMELINE", _TIMELINE_SHARE)
        return _SOON_S
    _furnish(window, view, timeline)
    bring_panels()
    return None


def _close_one(window: bpy.types.Window, kept: set[Any]) -> bool:
    """Close an area that is not kept; False when none can be closed any more. Curves that were opened meanwhile stay."""
    for area in window.screen.areas:
        if area not in kept and area.type != "GRAPH_EDITOR":
            with bpy.context.temp_override(window=window, screen=window.screen, area=area):
                if can_run(bpy.ops.screen.area_close) and bpy.ops.screen.area_close() == {"FINISHED"}:
                    return True
    return False


def _furnish(window: bpy.types.Window, view: Any, timeline: Any) -> None:
    """A timeline in which markers with their names can be seen, in seconds; a view without what only a builder needs."""
    timeline.ui_type = "TIMELINE"
    space = timeline.spaces.active
    space.show_seconds, space.show_markers = True, True
    height = round(_TIMELINE_HEIGHT * there(bpy.context.preferences).system.ui_scale)
    _raise_edge_to(window, timeline, height)
    space = view.spaces.active
    # Frame numbers and names of data, cursor, axes and grid; the studio has a floor of its own.
    overlay = space.overlay
    overlay.show_text = overlay.show_cursor = overlay.show_floor = overlay.show_axis_x = overlay.show_axis_y = False
    space.show_region_toolbar = space.show_region_tool_header = False


def count_seconds(scene: bpy.types.Scene, *, on: bool) -> None:
    """Let the rulers of our workspace count seconds, or frames, where a scene is seen."""
    for window in there(bpy.context.window_manager).windows:
        if window.scene == scene and is_ours(window.workspace):
            spaces: list[Any] = [area.spaces.active for area in window.screen.areas]
            for space in spaces:
                if space.type in ("DOPESHEET_EDITOR", "GRAPH_EDITOR"):
                    space.show_seconds = on


def _raise_edge_to(window: bpy.types.Window, area: bpy.types.Area, height: int) -> None:
    """Move the upper edge of an area so that it is as high as said."""
    # The edge lies between two areas, a pixel above the lower one.
    place = {"x": area.x + area.width // 2, "y": area.y + area.height + 1}
    with bpy.context.temp_override(window=window, screen=window.screen, area=area):
        if height != area.height and can_run(bpy.ops.screen.area_move):
            bpy.ops.screen.area_move(**place, delta=height - area.height)


def enter(context: bpy.types.Context) -> None:
    """Go to the workspace; make it from the present one when the file has none."""
    window, ours = there(context.window), next((space for space in bpy.data.workspaces if is_ours(space)), None)
    if ours is not None:
        window.workspace = ours
        return
    before = set(bpy.data.workspaces.keys())
    bpy.ops.workspace.duplicate()
    made = next(space for space in bpy.data.workspaces if space.name not in before)
    made.name, made[_MARK] = NAME, True
    window.workspace = made
    bpy.app.timers.register(_arrange, first_interval=3 * _SOON_S)


def split_below(window: bpy.types.Window, view: Any, kind: str, share: float) -> Any:
    """A new area of a kind (``ui_type``) below another, which gives it a share of its height; return it."""
    before = {area.as_pointer() for area in window.screen.areas}
    region = next(region for region in view.regions if region.type == "WINDOW")
    with bpy.context.temp_override(window=window, area=view, region=region):
        bpy.ops.screen.area_split(direction="HORIZONTAL", factor=share)
    made = [area for area in window.screen.areas if area.as_pointer() not in before]
    lower = min([*made, view], key=lambda area: area.y)
    lower.ui_type = kind
    return lower


def open_graph_editor(window: bpy.types.Window) -> None:
    """Open a Graph Editor between the 3D view and what is below it, unless one is open already."""
    areas = window.screen.areas
    view = _largest(areas, "VIEW_3D")
    if view is None or any(area.type == "GRAPH_EDITOR" for area in areas):
        return
    space = split_below(window, view, "FCURVES", _GRAPH_SHARE).spaces.active
    space.show_region_ui = False
    space.show_seconds = space.dopesheet.show_only_selected = True
    space.show_cursor = space.use_normalization = False


def fit_graph_editors(frames: tuple[float, float], values: tuple[float, float]) -> None:
    """Let all Graph Editors show a span of frames and of values, as soon as they were drawn."""
    global _wanted, _tries
    _wanted, _tries = (frames, values), 0
    if not bpy.app.timers.is_registered(_fit):
        bpy.app.timers.register(_fit, first_interval=2 * _SOON_S)


def _fit() -> float | None:
    global _tries
    _tries += 1
    manager = there(bpy.context.window_manager)
    found = [
        (window, area, region)
        for window in manager.windows
        for area in window.screen.areas
        for region in area.regions
        if area.type == "GRAPH_EDITOR" and region.type == "WINDOW"
    ]
    if any(region.width <= 1 for _, _, region in found) and _tries < _MOST_TRIES:
        return _SOON_S
    for window, area, region in found:
        _fit_one(window, area, region)
    return None


def _fit_one(window: bpy.types.Window, area: bpy.types.Area, region: Any) -> None:
    """Show a span, in the region's own pixels, since what a view shows cannot be set: clear of the ruler and of the markers."""
    (first, last), (low, high) = _wanted
    scale = there(bpy.context.preferences).system.ui_scale
    above, below = (share * scale / region.height for share in (_RULER_HEIGHT, _MARKERS_HEIGHT))
    span = (high - low) / max(1.0 - above - below, 0.2)
    low, high = low - below * span, high + above * span
    smooth, there(bpy.context.preferences).view.smooth_view = there(bpy.context.preferences).view.smooth_view, 0
    try:
        with bpy.context.temp_override(window=window, area=area, region=region):
            # From far away the pixels of a small span are few: the second time they tell it exactly.
            for _ in range(2):
                left, bottom = region.view2d.view_to_region(first, low, clip=False)
                right, top = region.view2d.view_to_region(last, high, clip=False)
                bpy.ops.view2d.zoom_border(xmin=left, xmax=right, ymin=bottom, ymax=top, wait_for_input=False, zoom_out=False)
        channels = next((other for other in area.regions if other.type == "CHANNELS"), None)
        if channels is not None:
            with bpy.context.temp_override(window=window, area=area, region=channels):
                if can_run(bpy.ops.anim.channels_expand):
                    bpy.ops.anim.channels_expand(all=True)
    finally:
        there(bpy.context.preferences).view.smooth_view = smooth
    area.tag_redraw()


def _covered(area: bpy.types.Area) -> tuple[int, int]:
    """Pixels of a 3D view that the sidebar covers at its right and the header at its top."""
    covered = {region.type: region for region in area.regions if region.width > 1 and region.height > 1}
    side = covered["UI"].width if "UI" in covered and _view_in(area).show_region_ui else 0
    return side, covered["HEADER"].height if "HEADER" in covered else 0


def frame_camera(window: bpy.types.Window, area: bpy.types.Area) -> None:
    """In our workspace, let the picture of the camera fill the 3D view beside the sidebar and below the header."""
    if not is_ours(window.workspace):
        return
    whole = next((region for region in area.regions if region.type == "WINDOW"), None)
    if whole is None or whole.width <= 1 or whole.height <= 1:
        return
    side, top = _covered(area)
    render = window.scene.render
    aspect = render.resolution_x / render.resolution_y
    # At a factor of 1 the longer side of the picture is as long as that of the view.
    longer, (wide, high) = max(whole.width, whole.height), ((1.0, 1.0 / aspect) if aspect >= 1.0 else (aspect, 1.0))
    room_for = (whole.width - side) * _FILLED / wide, (whole.height - top) * _FILLED / high
    factor = min(room_for) / longer
    space = there(_view_in(area).region_3d)
    # Blender's own scale of the zoom of a camera's view.
    space.view_camera_zoom = min(max((2.0 * factor**0.5 - 2.0**0.5) * 50.0, -30.0), 600.0)
    space.view_camera_offset = (side / 4.0 / factor / whole.width, top / 4.0 / factor / whole.height)


def look_across(area: bpy.types.Area, line: Vector) -> None:
    """Turn a 3D view so that it looks levelly across a line on the floor, from the side that is seen now."""
    region = there(_view_in(area).region_3d)
    towards_eye = region.view_rotation @ Vector((0.0, 0.0, 1.0))
    across = Vector((line.y, -line.x, 0.0)).normalized()
    across *= 1.0 if across.dot(towards_eye) >= 0.0 else -1.0
    region.view_rotation = (across + Vector((0.0, 0.0, _FROM_ABOVE))).to_track_quat("Z", "Y")


def frame_sphere(area: bpy.types.Area, middle: Vector, radius: float) -> None:
    """Let a ball fill the 3D view beside the sidebar and below the header, seen from the side that is seen now."""
    whole = next((region for region in area.regions if region.type == "WINDOW"), None)
    space = _view_in(area)
    if whole is None or whole.width <= 1 or whole.height <= 1:
        return
    side, top = _covered(area)
    longer = max(whole.width, whole.height)
    # A view without a camera sees this share of its distance along its longer side.
    wide = _SENSOR_MM / space.lens
    region = there(space.region_3d)
    region.view_distance = 2.0 * radius / _FILLED * longer / (min(whole.width - side, whole.height - top) * wide)
    metres_a_pixel = region.view_distance * wide / longer
    aside = Vector((side / 2.0, top / 2.0, 0.0)) * metres_a_pixel
    region.view_location = middle + region.view_rotation @ aside


def register() -> None:
    """Nothing happens until the teacher asks for it."""


def unregister() -> None:
    """Leave no timer behind. The workspace belongs to the file and can be deleted like any other."""
    for timer in (_show_tab, _arrange, _fit):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
