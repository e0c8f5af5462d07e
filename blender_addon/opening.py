"""From a review to a scene that shows it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import bpy

from . import beside, measures, moments, room, saving, walk
from . import state as states
from .analysis_core.review import Review, write_again
from .analysis_core.settings import Settings
from .analysis_core.take import Take
from .analysis_core.views.beside import KINDS
from .preferences import preferences
from .properties import TakeSettings, review_of


def review_now(take: Path, folder: Path, settings: Settings) -> Review:
    """Review a take in this process and write the review beside it, earlier decisions carried over.

    Raises InTheRoundError with what to do.
    """
    # The analysis needs scipy: loaded with the first take, not when Blender starts.
    from .analysis_core.analyse import analyse

    return write_again(analyse(take, settings), folder)


def review_take_now(take: Take, folder: Path, settings: Settings) -> Review:
    """The same of a take that is in memory already."""
    from .analysis_core.analyse import analyse_take

    return write_again(analyse_take(take, settings), folder)


def settings_values(source: Any) -> dict[str, Any]:
    """What an operator or a scene says about a take, as values of their own: undo and file load cannot break them."""
    return {name: getattr(source, name) for name in TakeSettings.__annotations__ if hasattr(source, name)}


def show(
    context: bpy.types.Context, review: Review, take: Path | None, folder: Path, settings: Mapping[str, Any] | None
) -> bpy.types.Scene:
    """Show a review in a scene of its own and make it the scene that is looked at; return the scene."""
    from .scene import build_scene

    own = preferences(context)
    scene = build_scene(review) if own is None else build_scene(review, own.figure)
    state = review_of(scene)
    state.frame_start = scene.frame_start
    states.fill(state, review, take, folder)
    for name, value in (settings or {}).items():
        setattr(state.settings, name, value)
    for item in state.findings:
        if item.own:
            moments.mark_own(context, state, item)
    saving.remember(state)
    beside.bring(state)
    walk.windows_scene(context, scene)
    walk.place_film(context, state)
    room.bring_panels()
    return scene


def replace_scene(old: Any, new: Any) -> None:
    """A take was reviewed again: its new scene takes the name and the place of the old one.

    Objects that the user put into the old scene move to the new one; what belonged to the old review goes.
    """
    from .scene import remove_review
    from .scene.beside import remove as remove_clip

    name = old.name
    for kind in KINDS:
        remove_clip(old, kind)
    measures.remove(old)
    remove_review(old)
    for item in list(old.collection.objects):
        new.collection.objects.link(item)
    for child in list(old.collection.children):
        new.collection.children.link(child)
    for marker in old.timeline_markers:
        copy = new.timeline_markers.new(marker.name, frame=marker.frame)
        copy.camera = marker.camera
    bpy.data.scenes.remove(old)
    new.name = name
