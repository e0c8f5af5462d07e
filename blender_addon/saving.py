"""Decisions go to the review file beside the take as soon as they are made, also after undo; never held by reference."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
from bpy.app.handlers import persistent

from . import state as states
from .analysis_core.errors import InTheRoundError
from .analysis_core.review import REVIEW_FILE, save_decisions
from .preferences import preferences

#: Review folder -> decisions as last written to it from this session. Text only, so that undo and file load cannot break it.
_written: dict[str, str] = {}


def folder_of(state: Any) -> Path:
    """The review folder of a scene's state, absolute."""
    return Path(bpy.path.abspath(state.folder))


def remember(state: Any) -> None:
    """What the state holds now is what the file holds."""
    _written[state.folder] = states.decisions_text(state)


def is_saved(state: Any) -> bool:
    """Whether the file holds what the state holds, as far as this session knows."""
    return _written.get(state.folder) == states.decisions_text(state)


def needs_saving(state: Any) -> bool:
    """Whether this session knows that the file holds other decisions."""
    return state.folder in _written and not is_saved(state)


def save(state: Any) -> None:
    """Write the decisions. Raises InTheRoundError with what to do when that fails; they stay in the Blender file then."""
    folder = folder_of(state)
    if not (folder / REVIEW_FILE).is_file():
        raise InTheRoundError(f"{folder} holds no review any more. Choose its new place under Take, or review the take again.")
    save_decisions(folder, states.decisions_of(state))
    remember(state)


def save_soon(context: Any, state: Any) -> str | None:
    """Write the decisions when the preferences say so; return what went wrong, in words, or None."""
    chosen = preferences(context)
    if (chosen is not None and not chosen.save_at_once) or not state.folder:
        return None
    try:
        save(state)
    except InTheRoundError as error:
        return f"{error} The decision is kept in the Blender file."
    return None


@persistent
def _after_undo(*_: Any) -> None:
    """The file follows undo and redo; a failure shows as "Not saved" in the panel."""
    for scene in bpy.data.scenes:
        state = scene.dance_review
        if needs_saving(state):
            save_soon(bpy.context, state)


@persistent
def _after_load(*_: Any) -> None:
    """Another file: what this session knows of folders was about the file before."""
    _written.clear()


_HANDLERS = (("undo_post", _after_undo), ("redo_post", _after_undo), ("load_post", _after_load))


def register() -> None:
    """Follow undo, redo and file load."""
    for name, handler in _HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)


def unregister() -> None:
    """Leave no handler behind."""
    for name, handler in _HANDLERS:
        handlers = getattr(bpy.app.handlers, name)
        if handler in handlers:
            handlers.remove(handler)
    _written.clear()
