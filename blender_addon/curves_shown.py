"""The curve of the chosen correction in the Graph Editor: made, chosen, fitted; it follows from correction to correction."""

from __future__ import annotations

from dataclasses import replace

import bpy

from . import measures, moments, room, saving
from . import state as states
from .analysis_core.errors import InTheRoundError
from .analysis_core.review import read_review
from .blender_types import there
from .properties import DanceReviewFinding, DanceReviewState, scene_of

#: What is seen before and after the moment, seconds, and of the height above and below the curves. Proposed defaults.
_AROUND_S, _AIR = 1.0, 0.12


def show(context: bpy.types.Context, state: DanceReviewState, item: DanceReviewFinding | None) -> bool:
    """Make the curves of a correction, or of all measures for None, and the object that carries them the active one.

    Returns whether the measure has a course of its own. Raises InTheRoundError where the review cannot be read.
    """
    scene, own = scene_of(state), True
    if item is None or item.own:
        carrier = measures.find(scene) or measures.add_all(scene, read_review(saving.folder_of(state)).movement, state)
    else:
        review = read_review(saving.folder_of(state))
        finding = next((one for one in review.findings if one.id == item.finding), None)
        if finding is None:
            raise InTheRoundError("This correction is not in the review any more. Open the review again.")
        own = measures.add_one(scene, review, replace(finding, band=states.band_of(item)), state)
        carrier = measures.find(scene, measures.ONE)
    # The Graph Editor shows what is selected.
    for other in context.selected_objects:
        other.select_set(False)
    carrier.select_set(True)
    there(context.view_layer).objects.active = carrier
    return own


def follow(context: bpy.types.Context, state: DanceReviewState, item: DanceReviewFinding | None) -> None:
    """Another correction was chosen: where curves are looked at, they are its own from now on."""
    active = there(context.view_layer).objects.active if context.view_layer is not None else None
    if active is None or active.get(measures.MARK) is None or scene_of(state) != context.scene or item is None:
        return
    try:
        show(context, state, item)
    except InTheRoundError:
        return  # the curve of another correction stays, under its name
    _fit(context, state)


def open_editor(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Open a Graph Editor below the 3D view, fitted; nothing happens without a window."""
    if bpy.app.background or context.window is None:
        return
    room.open_graph_editor(context.window)
    _fit(context, state)


def _fit(context: bpy.types.Context, state: DanceReviewState) -> None:
    """Fit the Graph Editors: the moment of the chosen correction, and the curves in it with their band."""
    if bpy.app.background or context.window is None:
        return
    carrier, item = there(there(context.view_layer).objects.active), states.chosen(state)
    first, last = float(state.frame_start), float(state.frame_start + state.frames - 1)
    if item is not None and measures.finding_of(carrier):
        first, last = (
            float(moments.frame_of(state, time)) for time in (item.start_s - _AROUND_S, item.end_s + _AROUND_S)
        )  # fmt: skip
    low, high = measures.extent(carrier, int(first), int(last))
    air = max(_AIR * (high - low), 1e-3)
    room.fit_graph_editors((first, last), (low - air, high + air))
