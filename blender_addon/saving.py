"""Decisions go to the review file beside the take as soon as they are made, also after undo; never held by reference.

Several scenes, windows and machines may decide on one review. The file gets what each changed, never what each holds; what
others changed comes into the scene with the next decision. Undo brings back older states of the scene, which do not know what
others changed meanwhile: that is put in again (``state.seen`` says how much of it a state has). Panels ask what is in memory.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import reduce
from pathlib import Path
from typing import Any

import bpy

from . import moments
from . import state as states
from .analysis_core.errors import InTheRoundError
from .analysis_core.review import REVIEW_FILE, read_decisions, save_decisions
from .analysis_core.review.decisions import Changes, Decisions, changed, clash, decisions_from_json, difference
from .analysis_core.wording import reports
from .blender_types import persistent
from .preferences import preferences
from .properties import DanceReviewState, review_of, scene_of


@dataclass
class _Known:
    """What this session knows of a scene's review. own: the scene's decisions as the file last got them; foreign: what others
    changed, in the order in which it was met; unsaved: the scene holds what the file does not; differs: file and scene were
    changed apart in the same place, so that the teacher chooses; elsewhere: the take was reviewed again by another window."""

    own: Decisions
    foreign: list[Changes] = field(default_factory=list)
    unsaved: bool = False
    differs: bool = False
    elsewhere: bool = False


#: By the scene's session_uid, which survives undo and renaming.
_known: dict[int, _Known] = {}


def _place(absolute: str, relative: str) -> Path:
    """A path as remembered; when nothing is there any more, where it lies seen from the Blender file."""
    path = Path(bpy.path.abspath(absolute))
    if not path.exists() and relative and bpy.data.filepath:
        beside = Path(bpy.path.abspath(relative))
        return beside if beside.exists() else path
    return path


def folder_of(state: DanceReviewState) -> Path:
    """The review folder of a scene's state, also after it moved together with the Blender file."""
    return _place(state.folder, state.folder_relative)


def take_of(state: DanceReviewState) -> Path:
    """The recording of a scene's state, also after it moved together with the Blender file."""
    return _place(state.take, state.take_relative)


def _in_file(state: DanceReviewState) -> Decisions | None:
    """What the review file held as far as the Blender file knows; None when it says nothing."""
    return decisions_from_json(json.loads(state.in_file)) if state.in_file else None


def _known_of(state: DanceReviewState) -> _Known:
    """What is known of a scene; one that is new to the session (a copy of another) knows what it brought."""
    known = _known.get(scene_of(state).session_uid)
    if known is None:
        known = _known[scene_of(state).session_uid] = _Known(_in_file(state) or Decisions())
    return known


def differs(state: DanceReviewState) -> bool:
    """Whether the review file and the Blender file were changed apart in the same place."""
    known = _known.get(scene_of(state).session_uid)
    return known is not None and known.differs


def needs_saving(state: DanceReviewState) -> bool:
    """Whether this session knows that the scene holds what the review file does not."""
    known = _known.get(scene_of(state).session_uid)
    return known is not None and known.unsaved


def reviewed_elsewhere(state: DanceReviewState) -> bool:
    """Whether the review file holds a newer analysis of the take than this scene shows."""
    known = _known.get(scene_of(state).session_uid)
    return known is not None and known.elsewhere


def remember(state: DanceReviewState) -> None:
    """What the state holds now is what the file holds."""
    known = _known[scene_of(state).session_uid] = _Known(states.decisions_of(state))
    state.seen, state.in_file = 0, states.text_of(known.own)


def _put(context: bpy.types.Context, state: DanceReviewState, decisions: Decisions) -> None:
    """Put decisions into a scene, own corrections with their markers and cameras."""
    gone, came = states.put(state, decisions)
    for name in gone:
        moments.unmark_own(state, name)
    for item in came:
        if moments.camera_of(scene_of(state), item.finding) is None:
            moments.mark_own(context, state, item)


def save(context: bpy.types.Context, state: DanceReviewState, *, replace: bool = False) -> None:
    """Put what was decided in this scene into the review file, and into the scene what others decided meanwhile.

    replace: the scene's decisions stand in place of all that the file holds. Raises InTheRoundError with what to do when that
    fails; the decisions stay in the Blender file then.
    """
    known, folder, mine = _known_of(state), folder_of(state), states.decisions_of(state)
    known.unsaved = True
    if not (folder / REVIEW_FILE).is_file():
        raise InTheRoundError(f"{folder} holds no review any more. Choose its place under Recording, or review the take again.")
    together = save_decisions(folder, read_decisions(folder) if replace and known.differs else known.own, mine)
    known.own, known.unsaved, known.differs = mine, False, False
    known.elsewhere = not states.marks_fit(state, together)
    theirs = difference(mine, together)
    if theirs and not known.elsewhere:
        known.foreign.append(theirs)
        _put(context, state, together)
        state.seen, known.own = len(known.foreign), together
    state.in_file = states.text_of(known.own)


def save_soon(context: bpy.types.Context, state: DanceReviewState) -> str | None:
    """Write the decisions when the preferences say so; return what went wrong, in words, or None."""
    if not state.folder:
        return None
    known = _known_of(state)
    if known.differs:
        return reports.OTHER_DECISIONS
    chosen = preferences(context)
    if chosen is not None and not chosen.save_at_once:
        known.unsaved = states.decisions_of(state) != known.own
        return None
    try:
        save(context, state)
    except InTheRoundError as error:
        return reports.kept_in_blender_file(error)
    return None


def take_from_file(context: bpy.types.Context, state: DanceReviewState) -> None:
    """The decisions of the review file in place of those of the scene. Raises InTheRoundError when it cannot be read."""
    held = read_decisions(folder_of(state))
    if not states.marks_fit(state, held):
        raise InTheRoundError("The take was reviewed again since: open the review again to see it.")
    _put(context, state, held)
    remember(state)


@persistent
def _after_undo(*_: Any) -> None:
    """The file follows undo and redo, and what others decided stays; a failure shows as "Not saved" in the panel."""
    for scene in bpy.data.scenes:
        state, known = review_of(scene), _known.get(scene.session_uid)
        if not state.take_name or known is None:
            continue
        if missing := known.foreign[state.seen :]:
            _put(bpy.context, state, reduce(changed, missing, states.decisions_of(state)))
            state.seen = len(known.foreign)
        if states.decisions_of(state) != known.own:
            save_soon(bpy.context, state)


def _meet(context: bpy.types.Context, state: DanceReviewState) -> None:
    """A Blender file was opened: bring together what it and the review file came to since both held the same."""
    mine = states.decisions_of(state)
    before = _in_file(state)
    state.seen = 0
    known = _known[scene_of(state).session_uid] = _Known(mine if before is None else before)
    if not state.folder or not (folder_of(state) / REVIEW_FILE).is_file():
        known.unsaved = mine != known.own
        return
    try:
        theirs = read_decisions(folder_of(state))
    except InTheRoundError:  # damaged: said when the teacher saves
        known.unsaved = True
        return
    if not states.marks_fit(state, theirs):
        known.elsewhere, known.unsaved = True, mine != known.own
    elif before is None:
        known.differs = theirs != mine
    elif clash(difference(before, mine), difference(before, theirs)):
        known.differs = True
    else:
        together = changed(theirs, difference(before, mine))
        known.own, known.unsaved = theirs, together != theirs
        if together != mine:
            _put(context, state, together)


@persistent
def _after_load(*_: Any) -> None:
    """Another file: its decisions meet those in the review files beside the takes, which may be newer or older."""
    _known.clear()
    for scene in bpy.data.scenes:
        if review_of(scene).take_name:
            _meet(bpy.context, review_of(scene))


@persistent
def _before_save(filepath: str = "", *_: Any) -> None:
    """Note what the review files hold, and where review and take lie seen from the Blender file, in case all of it moves to
    another machine."""
    if not filepath:
        return
    for scene in bpy.data.scenes:
        state = review_of(scene)
        if not state.take_name:
            continue
        state.in_file = states.text_of(_known_of(state).own)
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
    _known.clear()
