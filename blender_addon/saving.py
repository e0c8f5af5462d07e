"""Decisions go to the review file beside the take as soon as they are made, also after undo; never held by reference."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
from bpy.app.handlers import persistent

from . import state as states
from .analysis_core.errors import InTheRoundError
from .analysis_core.review import REVIEW_FILE, read_decisions, save_decisions
from .preferences import preferences

#: Review folder -> decisions as last written to it from this session. Text only, so that undo and file load cannot break it.
_written: dict[str, str] = {}


#: Folders whose file holds other decisions than the Blender file that was opened (a crash, another machine).
_differing: set[str] = set()


def _place(absolute: str, relative: str) -> Path:
    """A path as remembered; when nothing is there any more, where it lies seen from the Blender file."""
    path = Path(bpy.path.abspath(absolute))
    if not path.exists() and relative and bpy.data.filepath:
        beside = Path(bpy.path.abspath(relative))
        return beside if beside.exists() else path
    return path


def folder_of(state: Any) -> Path:
    """The review folder of a scene's state, also after it moved together with the Blender file."""
    return _place(state.folder, state.folder_relative)


def take_of(state: Any) -> Path:
    """The recording of a scene's state, also after it moved together with the Blender file."""
    return _place(state.take, state.take_relative)


def _key(state: Any) -> str:
    return str(folder_of(state))


def differs(state: Any) -> bool:
    """Whether the review file holds other decisions than the Blender file did when it was opened."""
    return _key(state) in _differing


def remember(state: Any) -> None:
    """What the state holds now is what the file holds."""
    _differing.discard(_key(state))
    _written[_key(state)] = states.decisions_text(state)


def is_saved(state: Any) -> bool:
    """Whether the file holds what the state holds, as far as this session knows."""
    return _written.get(_key(state)) == states.decisions_text(state)


def needs_saving(state: Any) -> bool:
    """Whether this session knows that the file holds other decisions."""
    return _key(state) in _written and not is_saved(state)


def save(state: Any) -> None:
    """Write the decisions. Raises InTheRoundError with what to do when that fails; they stay in the Blender file then."""
    folder = folder_of(state)
    if not (folder / REVIEW_FILE).is_file():
        raise InTheRoundError(f"{folder} holds no review any more. Choose its new place under Take, or review the take again.")
    save_decisions(folder, read_decisions(folder), states.decisions_of(state))
    remember(state)


def save_soon(context: Any, state: Any) -> str | None:
    """Write the decisions when the preferences say so; return what went wrong, in words, or None."""
    chosen = preferences(context)
    if (chosen is not None and not chosen.save_at_once) or not state.folder:
        return None
    if differs(state):
        return "The review file holds other decisions: choose under Decision which to keep. Nothing was overwritten."
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
    """Another file: compare its decisions with the review files beside the takes, which may be newer or older."""
    _written.clear()
    _differing.clear()
    for scene in bpy.data.scenes:
        state = scene.dance_review
        if not state.folder or not (folder_of(state) / REVIEW_FILE).is_file():
            continue
        try:
            same = states.text_of(read_decisions(folder_of(state))) == states.decisions_text(state)
        except InTheRoundError:  # damaged: said when the teacher saves
            same = False
        if same:
            remember(state)
        else:
            _differing.add(_key(state))


@persistent
def _before_save(filepath: str = "", *_: Any) -> None:
    """Note where review and take lie seen from the Blender file, in case all of it moves to another machine."""
    if not filepath:
        return
    for scene in bpy.data.scenes:
        state = scene.dance_review
        if not state.take_name:
            continue
        try:
            start = str(Path(filepath).parent)
            state.folder_relative = bpy.path.relpath(str(folder_of(state)), start=start)
            state.take_relative = bpy.path.relpath(str(take_of(state)), start=start) if state.take else ""
        except ValueError:  # another drive: nothing moves together
            state.folder_relative = state.take_relative = ""


_HANDLERS = (
    ("save_pre", _before_save),
    ("undo_post", _after_undo),
    ("redo_post", _after_undo),
    ("load_post", _after_load),
)


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
    _differing.clear()
