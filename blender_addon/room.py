"""The room to review in: the sidebar at its tab, and a workspace with the dancer, the timeline and nothing else."""

from __future__ import annotations

from typing import Any

import bpy

NAME = "Dance Review"
#: What marks the workspace; one of the user's own may have its name.
_MARK = "dance_review_workspace"
#: Editors that stay in the workspace.
_KEPT = {"VIEW_3D", "DOPESHEET_EDITOR"}
#: How much of the 3D view the curves get.
_GRAPH_SHARE = 0.35
#: The window follows a change of workspace or sidebar at its next redraw, seconds.
_SOON_S = 0.1


def _views() -> list[Any]:
    manager = bpy.context.window_manager
    return [area for window in manager.windows for area in window.screen.areas if area.type == "VIEW_3D"]


def _show_tab() -> None:
    for area in _views():
        for region in area.regions:
            # The tab can be chosen only once the sidebar was drawn, which gives it a width.
            if region.type == "UI" and region.width > 1 and area.spaces.active.show_region_ui:
                try:
                    region.active_panel_category = NAME
                except (AttributeError, TypeError):  # no tab yet: the teacher finds it under its name
                    continue
    _show_whole_phrase()


def _show_whole_phrase() -> None:
    """Let the timeline show the whole take with all its markers."""
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            region = next((region for region in area.regions if region.type == "WINDOW"), None)
            if area.type == "DOPESHEET_EDITOR" and region is not None:
                with bpy.context.temp_override(window=window, area=area, region=region):
                    if bpy.ops.action.view_all.poll():
                        bpy.ops.action.view_all()


def bring_panels() -> None:
    """Open the sidebar of the 3D views at the add-on's tab, so that the verdict is the first thing seen."""
    if bpy.app.background:
        return
    for area in _views():
        area.spaces.active.show_region_ui = True
    bpy.app.timers.register(_show_tab, first_interval=5 * _SOON_S)


def is_ours(workspace: Any) -> bool:
    """Whether a workspace is the one that ``enter`` makes."""
    return _MARK in workspace


def _close_others() -> float | None:
    manager = bpy.context.window_manager
    window = next((window for window in manager.windows if is_ours(window.workspace)), None)
    if window is None:
        return None
    largest = max((area for area in window.screen.areas if area.type == "VIEW_3D"), key=lambda area: area.width, default=None)
    for area in window.screen.areas:
        if area.type not in _KEPT or (area.type == "VIEW_3D" and area != largest):
            with bpy.context.temp_override(window=window, screen=window.screen, area=area):
                if bpy.ops.screen.area_close.poll() and bpy.ops.screen.area_close() == {"FINISHED"}:
                    return _SOON_S  # one at a time: closing changes the list
    bring_panels()
    return None


def enter(context: Any) -> None:
    """Go to the workspace; make it from the present one when the file has none."""
    window = context.window
    there = next((space for space in bpy.data.workspaces if is_ours(space)), None)
    if there is not None:
        window.workspace = there
        return
    before = set(bpy.data.workspaces.keys())
    bpy.ops.workspace.duplicate()
    made = next(space for space in bpy.data.workspaces if space.name not in before)
    made.name, made[_MARK] = NAME, True
    window.workspace = made
    bpy.app.timers.register(_close_others, first_interval=3 * _SOON_S)


def open_graph_editor(context: Any) -> None:
    """Open a Graph Editor below the 3D view, unless one is open already."""
    areas = context.screen.areas
    if any(area.type == "GRAPH_EDITOR" for area in areas):
        return
    view = max((area for area in areas if area.type == "VIEW_3D"), key=lambda area: area.height, default=None)
    if view is None:
        return
    before = {area.as_pointer() for area in areas}
    with context.temp_override(area=view, region=next(region for region in view.regions if region.type == "WINDOW")):
        bpy.ops.screen.area_split(direction="HORIZONTAL", factor=_GRAPH_SHARE)
    made = [area for area in context.screen.areas if area.as_pointer() not in before]
    pair = [*made, view]
    lower = min(pair, key=lambda area: area.y)
    lower.ui_type = "FCURVES"
    lower.spaces.active.show_region_ui = False


def register() -> None:
    """Nothing happens until the teacher asks for it."""


def unregister() -> None:
    """Leave no timer behind. The workspace belongs to the file and can be deleted like any other."""
    for timer in (_show_tab, _close_others):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
